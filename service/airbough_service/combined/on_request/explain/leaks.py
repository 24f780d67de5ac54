"""The terms of a leaking run: its two halves, the leak between them, and what the entering air costs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from airbough_service.catalogue import Passport
from airbough_service.combined.on_request.explain import run as explain_run
from airbough_service.combined.on_request.explain.run import Stretch
from airbough_service.combined.on_request.explain.sheet import (
    Input,
    Sheet,
)
from airbough_service.core.network import columns
from airbough_service.core.network.losses import Losses
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
)
from airbough_service.terms.units import (
    TABLE,
    unit,
)

Floats = NDArray[np.float64]


def halves(sheet: Sheet, shop: Shop, run: ShopRun, flow: Floats, parts: Losses, gate: Floats) -> None:
    """Write a leaking run; flow, losses and gates are by packed row, each half with its own."""
    assert shop.leaks is not None
    rows = (shop.hood_row(run.index), shop.end_row(run.index))
    lost: dict[str, Input] = {}
    for name, row in zip(("upper", "lower"), rows, strict=True):
        one = _half(shop, run, row, float(flow[row]), upper=name == "upper")
        if one.flow > 0.0:
            explain_run.speed(sheet, one)
            explain_run.friction(sheet, shop, one, float(parts.friction[row]))
            explain_run.pieces(sheet, one)
        explain_run.inside(sheet, shop, run, one, parts, gate)
        lost[f"{name}_half"] = ("pressure", float(parts.friction[row]))
    at = f"runs[{run.index}]"
    whole = sum(float(parts.friction[row]) for row in rows)
    sheet.write("friction-losses", "upper_half + lower_half", ("pressure", whole), run.id, at, **lost)
    _leak(sheet, shop, run, flow, parts, rows)


def _half(shop: Shop, run: ShopRun, row: int, flow: float, *, upper: bool) -> Stretch:
    """Return one half: half the length and half of each fitting; entry and port stand in the upper one."""
    own = ("entry", "port") if upper else ("change",)
    pieces = [
        replace(piece, coefficient=0.5 * piece.coefficient) if piece.part == "fitting" else piece
        for piece in run.pieces
        if piece.part == "fitting" or piece.part in own
    ]
    length = 0.5 * float(run.run.length)
    return Stretch(run.id, f"runs[{run.index}]", row, flow, run.start, length, run.wall, tuple(pieces))


def _leak(sheet: Sheet, shop: Shop, run: ShopRun, flow: Floats, parts: Losses, rows: tuple[int, int]) -> None:
    """Write the leak by the suction that drives it, and the pressure that its air costs where it enters."""
    assert shop.leaks is not None
    upper, lower = rows
    leak = shop.leak_row(run.index)
    coefficient, exponent = shop.leaking.coefficients[run.index], shop.leaking.exponent
    q = float(flow[leak])
    if q <= 0.0:
        return
    at = f"runs[{run.index}].leakage_class"
    pressure_unit, flow_unit = (TABLE[kind][unit(kind, sheet.preset)][0] for kind in ("pressure", "flow"))
    sheet.write(
        "leak-flow", "coefficient * suction^exponent", ("flow", q), run.id, at, _passport(shop),
        coefficient=coefficient * pressure_unit**exponent / flow_unit,
        suction=("pressure", (q / coefficient) ** (1.0 / exponent)), exponent=exponent,
    )  # fmt: skip
    before = float(shop.tree.table[upper, columns.VP_END]) * float(flow[upper]) ** 2
    after = float(shop.tree.table[lower, columns.VP_START]) * float(flow[lower]) ** 2
    sheet.write(
        "leak-loss", "before - min(after, before * flow_upstream / flow)",
        ("pressure", float(parts.join[upper])), run.id, at,
        before=("pressure", before), after=("pressure", after),
        flow_upstream=("flow", float(flow[upper])), flow=("flow", float(flow[lower])),
    )  # fmt: skip


def _passport(shop: Shop) -> Passport | None:
    """Return where the law of the leaks comes from; none where the caller gave it."""
    return shop.leaking.passports[0] if shop.leaking.passports else None
