"""POST /v1/trees/balance: design flows given, what the fan must do and what each branch must absorb or take."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from airbough.wire.answer import (
    Finding,
    Suggestion,
)
from airbough.wire.balance import (
    BalanceAnswer,
    BalanceRequest,
    BalanceSystem,
    BranchBalance,
    Duty,
    Required,
)
from airbough.wire.collector import Collector
from airbough.wire.problem import Fault
from airbough_service import catalogue
from airbough_service.catalogue.capture import resizing_exponent
from airbough_service.catalogue.checks import check
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.network import balance as core
from airbough_service.core.network.losses import (
    Losses,
    losses,
)
from airbough_service.core.network.tree import dynamic
from airbough_service.judging import (
    checks,
    shape,
)
from airbough_service.shop import collector as fans
from airbough_service.shop.air import standard
from airbough_service.shop.shop import (
    Shop,
    build,
)
from airbough_service.solving import tree_answer
from airbough_service.terms import sources
from airbough_service.terms.finding import (
    finding,
    ordered,
    show,
)
from airbough_service.terms.refusal import Refusal

Floats = NDArray[np.float64]


def answer(request: BalanceRequest) -> BalanceAnswer:
    """Answer the question in SI.

    Raises:
        Refusal: with every fault of the tree, and a fault for each open hood without a design flow; suction that one
            density cannot answer.
    """
    shop, found = reckoned(request)
    checks.refuse_deep_suction(shop, found.runs)
    return found


def reckoned(request: BalanceRequest) -> tuple[Shop, BalanceAnswer]:
    """Return the tree and its balance, however deep the suction.

    Raises:
        Refusal: as `answer`, but for the suction.
    """
    shop = build(request)
    design = design_flows(shop)
    result = core.balance(shop.tree, shop.gates(), design, request.by, request.correction, limits())
    parts = losses(shop.tree, result.gate, result.flow, result.at_fan)
    runs = tree_answer.runs(shop, parts, result.flow)
    hoods = tree_answer.hoods(shop, parts, result.flow)
    rows = {shop.row(run.index): run.index for run in shop.runs}
    arms = {rows[arm.row]: arm for arm in result.arms if arm.row in rows}
    branches = tuple(_branch(shop, arms[index], index, result, request.by) for index in sorted(arms))
    items = checks.velocities(shop, runs) + checks.suction(shop, runs) + checks.without_dust(shop)
    items += checks.transitional(shop, runs) + shape.shape(shape.Bench(shop, runs))
    items += _branch_findings(shop, branches)
    return shop, BalanceAnswer(
        engine=tree_answer.engine(request),
        units={},
        preset=request.units,
        air=shop.air,
        name=request.name,
        runs=runs,
        hoods=hoods,
        system=_system(shop, result, parts, [rows[row] for row in result.governing if row in rows]),
        branches=branches,
        findings=ordered(items),
        sources=sources.told((passport.source, passport.how) for passport in tree_answer.used(shop)),
        cautions=tree_answer.cautions(shop),
    )


def limits() -> core.Limits:
    """Return up to which ratio of pressures a branch is left, and up to which its flow is raised."""
    return core.Limits(check("balance-left").value, check("balance-raised").value)


def design_flows(shop: Shop) -> Floats:
    """Return the design flow of every packed row: the open hoods' own, 0 elsewhere.

    Raises:
        Refusal: an open hood has no design flow, or every hood is shut.
    """
    live = tree_answer.served(shop)
    flow = np.zeros(shop.tree.table.shape[0])
    faults = []
    reached = _reached(shop, live)
    for run in shop.runs:
        if run.run.hood is None or not reached[run.index]:
            continue
        if run.run.hood.flow is None:
            path = f"runs[{run.index}].hood.flow"
            faults.append(
                Fault(path=path, code="design-flow-missing", detail="this question needs each open hood's flow")
            )
            continue
        flow[shop.row(run.index)] = float(run.run.hood.flow)
    if not faults and not flow.any():
        faults.append(
            Fault(path="runs", code="all-gates-shut", detail="every gate is shut; nothing is left to balance")
        )
    if faults:
        raise Refusal("not-a-duct-tree", faults)
    return flow


def _reached(shop: Shop, live: list[bool]) -> list[bool]:
    """Return, by run, whether it and every run downstream are open."""
    out = [False] * len(live)
    order: list[int] = list(shop.shape.roots)
    for index in order:
        parent = shop.shape.parents[index]
        out[index] = live[index] and (parent < 0 or out[parent])
        order.extend(shop.shape.children[index])
    return out


def _branch(shop: Shop, arm: core.ArmBalance, index: int, result: core.Balance, by: str) -> BranchBalance:
    """Return one run at its junction."""
    run, flow = shop.runs[index], float(result.flow[arm.row])
    action = arm.action
    base = {"run": run.id, "governs": arm.governs, "pressure": arm.pressure, "governing_pressure": arm.governing}
    ratio = arm.ratio if np.isfinite(arm.ratio) else None
    if action == "gate":
        coefficient = float(result.gate[arm.row]) / dynamic(shop.density, run.start)
        return BranchBalance(
            **base,  # type: ignore[arg-type]
            ratio=ratio,
            action=action,
            gate_loss=arm.added,
            gate_coefficient=coefficient,
            gate_opening=_opening(coefficient),
        )
    if action == "resize":
        bore = run.start * (arm.pressure / arm.governing) ** resizing_exponent() if arm.pressure > 0.0 else None
        return BranchBalance(**base, ratio=ratio, action=action, diameter=bore)  # type: ignore[arg-type]
    return BranchBalance(**base, ratio=ratio, action=action, flow=flow if by == "flow" else None)  # type: ignore[arg-type]


def _opening(coefficient: float) -> float | None:
    """Return a gate's opening with this coefficient; 1 where open it loses more, None where no opening loses it."""
    if coefficient <= catalogue.gate_loss(1.0).coefficient:
        return 1.0
    try:
        return float(catalogue.gate_opening(coefficient))
    except OutsideTableError:
        return None


def _branch_findings(shop: Shop, branches: tuple[BranchBalance, ...]) -> list[Finding]:
    """Return the findings of branches that cannot be balanced as they are."""
    out, preset = [], shop.request.units
    numbers = {run.id: run.index for run in shop.runs}
    for branch in branches:
        run = shop.runs[numbers[branch.run]]
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
                    suggestion=Suggestion(text=f"a gate here, about {100.0 * (branch.gate_opening or 0.0):.0f} % open"),
                )
            )
        elif branch.action == "resize":
            text = "a narrower bore"
            if branch.diameter is not None:
                text = f"about {show(preset, 'diameter', branch.diameter)}, as friction goes by the bore"
            out.append(
                finding(
                    preset,
                    "resize-branch",
                    f"{run.id} is too easy a way: it would have to lose {_times(branch.ratio)} to meet the "
                    f"governing run; above {limits().raised:g} times the bore is changed, not the flow",
                    at=f"runs[{run.index}].diameter",
                    run=run.id,
                    quantity="ratio",
                    value=branch.ratio,
                    maximum=limits().raised,
                    suggestion=Suggestion(text=text),
                )
            )
    return out


def _times(ratio: float | None) -> str:
    """Return a ratio as words."""
    return "far more" if ratio is None else f"{ratio:.2f} times as much"


def _system(shop: Shop, result: core.Balance, parts: Losses, path: list[int]) -> BalanceSystem:
    """Return the system as a whole, and the duty to ask a seller for."""
    flow = float(result.flow[0])
    collector = shop.request.collector or Collector()
    lost = fans.collector_loss(shop, flow)
    outlet = dynamic(shop.density, fans.outlet_diameter(shop, collector.fan)) * flow * flow
    rows = len(shop.discharge)
    discharge = float(parts.total[:rows].sum()) - outlet if rows else 0.0
    static = result.at_fan + lost - (outlet if rows else 0.0)
    share = float(standard().density) / shop.density
    return BalanceSystem(
        flow=flow,
        inlet_static_pressure=min(float(parts.static_pressure[shop.row(root)]) for root in shop.shape.roots),
        inlet_total_pressure=-(result.at_fan - (float(parts.total[:rows].sum()) if rows else 0.0)),
        collector_loss=lost,
        discharge_loss=discharge,
        governing_path=tuple(shop.runs[index].id for index in path),
        required=Required(
            flow=flow,
            fan_static_pressure=static,
            fan_total_pressure=static + outlet,
            at_standard_air=Duty(
                flow=flow, fan_static_pressure=static * share, fan_total_pressure=(static + outlet) * share
            ),
        ),
    )
