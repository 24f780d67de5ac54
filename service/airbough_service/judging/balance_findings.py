"""Findings of a balance: velocities, suction, shape, and branches that cannot be balanced as they are."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from airbough.wire.answer import (
    Finding,
    Suggestion,
)
from airbough.wire.balance import (
    BranchBalance,
)
from airbough_service.judging import checks, retrial, shape
from airbough_service.shop.shop import (
    Shop,
)
from airbough_service.solving.balanced_tree import Balanced
from airbough_service.solving.design import limits
from airbough_service.terms.finding import (
    finding,
    ordered,
    show,
)

Floats = NDArray[np.float64]


def findings(found: Balanced, named: frozenset[int] = frozenset()) -> tuple[Finding, ...]:
    """Return every finding of a balance, in order; `named`: the machines that a state names as open, by number."""
    shop, runs = found.shop, found.runs
    items = checks.velocities(shop, runs) + checks.suction(shop, runs) + checks.without_dust(shop)
    items += checks.cut_off(shop, {}, named)
    items += checks.transitional(shop, runs) + shape.shape(retrial.Bench(shop, runs))
    return ordered(items + _branch_findings(shop, found))


def _branch_findings(shop: Shop, found: Balanced) -> list[Finding]:
    """Return the findings of branches that cannot be balanced as they are."""
    out, preset = [], shop.request.units
    numbers = {name: index for index, name in enumerate(shop.machines.ids)}
    for branch in found.branches:
        run = shop.runs[numbers[branch.gate_run or branch.run]]
        if branch.action == "gate" and run.run.gate is None:
            assert branch.gate_loss is not None
            out.append(
                finding(
                    preset,
                    "gate-needed",
                    f"{run.id} must absorb {show(preset, 'pressure', branch.gate_loss)} and has no gate; "
                    "without one it takes more than its share of the air",
                    at=f"runs[{run.index}].gate",
                    run=run.id,
                    quantity="gate_loss",
                    kind="pressure",
                    value=branch.gate_loss,
                    suggestion=Suggestion(text=_gate(branch.gate_opening)),
                )
            )
        elif branch.action == "resize":
            out.append(_resized(found, branch, run.index))
    return out


def _gate(opening: float | None) -> str:
    """Return the advice on a gate."""
    return (
        "a narrower duct; no opening of a gate loses so much"
        if opening is None
        else (f"a gate here, about {100.0 * opening:.0f} % open")
    )


def _resized(found: Balanced, branch: BranchBalance, index: int) -> Finding:
    """Return the finding of a branch that wants another diameter."""
    preset, ratio = found.shop.request.units, limits()
    text = (
        "a narrower duct" if branch.diameter is None else f"a diameter of {show(preset, 'diameter', branch.diameter)}"
    )
    if branch.listed_diameter is not None and branch.listed_ratio is not None:
        listed = show(preset, "diameter", branch.listed_diameter)
        text += f"; of the nominal ones {listed}, which leaves a ratio of {branch.listed_ratio:.2f}"
    why, most = f"above {ratio.raised:g} times as much one changes its diameter, not its flow", ratio.raised
    if found.by == "gates":
        why, most = "it leads to several hoods and no gate stands in it, so its diameter is to be changed", ratio.left
        text += "; or name it in gates_may_stand and put a gate there"
    return finding(
        preset,
        "resize-branch",
        f"{branch.run} is too easy a way: it would have to lose {_times(branch.ratio)} to meet the governing run; "
        f"{why}",
        at=f"runs[{index}].diameter",
        run=branch.run,
        quantity="ratio",
        value=branch.ratio,
        maximum=most,
        suggestion=Suggestion(text=text),
    )


def _times(ratio: float | None) -> str:
    """Return a ratio as words."""
    return "far more" if ratio is None else f"{ratio:.2f} times as much"
