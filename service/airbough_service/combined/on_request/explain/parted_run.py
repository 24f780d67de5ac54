"""The terms of a run of several rows: each row, and the leak between two of them with what its air costs."""

from __future__ import annotations

import numpy as np
from msgspec import structs
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
from airbough_service.core.network.parted_runs import RunRow
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
)
from airbough_service.terms.units import (
    TABLE,
    unit,
)

Floats = NDArray[np.float64]


def rows(sheet: Sheet, shop: Shop, run: ShopRun, flow: Floats, parts: Losses, gate: Floats) -> None:
    """Write a run of several rows; flow, losses and gates are by packed row, each row with its own."""
    assert shop.parted is not None
    own = shop.parted.rows[run.index]
    placed = [int(shop.tree.place[one.row]) for one in own]
    leaks = shop.parted.leak[run.index] >= 0
    names = ("upper_half", "lower_half") if len(run.parts) == 1 else [f"part_{k + 1}" for k in range(len(own))]
    lost: dict[str, Input] = {}
    for k, (name, row) in enumerate(zip(names, placed, strict=True)):
        one = _stretch(shop, run, row, float(flow[row]), own, k)
        if one.flow > 0.0:
            explain_run.speed(sheet, one)
            explain_run.friction(sheet, shop, one, float(parts.friction[row]))
            explain_run.pieces(sheet, one)
        explain_run.inside(sheet, shop, run, one, parts, gate)
        lost[name] = ("pressure", float(parts.friction[row]))
    at = f"runs[{run.index}]"
    whole = sum(float(parts.friction[row]) for row in placed)
    sheet.write("friction-losses", " + ".join(lost), ("pressure", whole), run.id, at, **lost)
    if leaks:
        parted = next(k for k in range(len(own) - 1) if own[k].part == own[k + 1].part)
        _leak(sheet, shop, run, flow, parts, (placed[parted], placed[parted + 1]))


def _stretch(shop: Shop, run: ShopRun, row: int, flow: float, own: tuple[RunRow, ...], k: int) -> Stretch:
    """Return one row of a run: its length and fittings; entry and port stand in the first, a change at the end last."""
    here = own[k]
    halved = sum(one.part == here.part for one in own) > 1
    at_ends = {"entry": 0, "port": 0, "change": len(own) - 1}
    pieces = [
        structs.replace(piece, coefficient=0.5 * piece.coefficient) if piece.part == "fitting" and halved else piece
        for piece in run.pieces
        if (piece.duct_part == here.part if piece.part == "fitting" else at_ends.get(piece.part) == k)
    ]
    part = run.parts[here.part]
    length = 0.5 * part.length if halved else part.length
    return Stretch(run.id, f"runs[{run.index}]", row, flow, part.bore, length, run.wall, tuple(pieces))


def _leak(sheet: Sheet, shop: Shop, run: ShopRun, flow: Floats, parts: Losses, rows: tuple[int, int]) -> None:
    """Write the leak by the suction that drives it, and the pressure that its air costs where it enters."""
    assert shop.parted is not None
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
