"""Why: each term of an answer, run by run, so that a person can redo it with a pocket calculator."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from airbough.wire.answer import Term
from airbough_service.combined.on_request.explain import (
    collector,
    parted_run,
)
from airbough_service.combined.on_request.explain import (
    run as explain_run,
)
from airbough_service.combined.on_request.explain.junctions import Junctions
from airbough_service.combined.on_request.explain.run import Stretch
from airbough_service.combined.on_request.explain.sheet import (
    Input,
    Sheet,
)
from airbough_service.core import deadline
from airbough_service.core.network.losses import Losses
from airbough_service.core.network.parted_runs import whole_runs
from airbough_service.shop.shop import (
    ShopRun,
)
from airbough_service.solving.told_state import ToldState

Floats = NDArray[np.float64]


def explanation(state: ToldState) -> tuple[Term, ...]:
    """Return every term: the runs in document order, then what stands behind the fan, then the collector."""
    shop = state.shop
    sheet = Sheet(shop.request.units, shop.density, float(shop.air.viscosity))
    joins = Junctions(sheet, shop, state.flow, state.losses)
    parts, flow = state.losses, state.flow
    if shop.parted is not None:
        parts, flow, _ = whole_runs(shop.tree, shop.parted, parts, flow)
    behind = _behind(sheet, state)
    for run in shop.runs:
        deadline.check()
        _run(sheet, state, joins, run, parts, flow, behind)
    at_fan = float(state.flow[0])
    if state.fan is not None and state.fan_given is not None:
        collector.left(sheet, shop, state.fan_given, state.fan, at_fan)
    elif state.fan is None:
        collector.required(sheet, shop, state.at_fan, at_fan)
    return tuple(sheet.terms)


def _run(
    sheet: Sheet, state: ToldState, joins: Junctions, run: ShopRun, parts: Losses, flow: Floats, behind: float
) -> None:
    """Write one run; one of several rows row by row."""
    shop = state.shop
    one = explain_run.stretch_of(shop, run, flow)
    if shop.parted is not None and len(shop.parted.rows[run.index]) > 1:
        parted_run.rows(sheet, shop, run, state.flow, state.losses, state.gate)
    elif one.flow > 0.0:
        explain_run.speed(sheet, one)
        explain_run.friction(sheet, shop, one, float(parts.friction[one.row]))
        explain_run.pieces(sheet, one)
        explain_run.inside(sheet, shop, run, one, parts, state.gate)
    elif np.isinf(state.gate[one.row]):
        explain_run.inside(sheet, shop, run, one, parts, state.gate)
    joins.arm(run)
    explain_run.sums(sheet, run, one, parts, float(state.flow[one.row]))
    _pressures(sheet, state, run, one, parts, behind)


def _pressures(sheet: Sheet, state: ToldState, run: ShopRun, one: Stretch, parts: Losses, behind: float) -> None:
    """Write total and static pressure at the run's downstream end."""
    shop = state.shop
    parent = shop.shape.parents[run.index]
    total = float(parts.total_pressure[one.row])
    join = ("pressure", float(parts.join[one.row]))
    if parent < 0:
        sheet.write(
            "total-pressure", "behind_inlet + join_loss - at_fan", ("pressure", total), run.id, one.at,
            behind_inlet=("pressure", behind), join_loss=join, at_fan=("pressure", state.at_fan),
        )  # fmt: skip
    else:
        into = shop.hood_row(parent)
        if np.isinf(state.gate[into]):
            inputs: dict[str, Input] = {"total_pressure_upstream_of_gate": 0.0, "join_loss": join}
        else:
            inputs = {
                "total_pressure_into": ("pressure", float(parts.total_pressure[into])),
                "own_loss_into": ("pressure", float(parts.total[into] - parts.join[into])),
                "join_loss": join,
            }
        sheet.write("total-pressure", " + ".join(inputs), ("pressure", total), run.id, one.at, **inputs)
    static = float(parts.static_pressure[one.row])
    if abs(run.end - one.start) > 1.0e-12 and one.flow > 0.0:
        sheet.pressure_in_bore(one.flow, run.end, total - static, run.id, one.at)
    sheet.write(
        "static-pressure", "total_pressure - velocity_pressure", ("pressure", static), run.id, one.at,
        total_pressure=("pressure", total), velocity_pressure=("pressure", total - static),
    )  # fmt: skip


def _behind(sheet: Sheet, state: ToldState) -> float:
    """Write the pieces after the fan; return their losses together, Pa."""
    shop = state.shop
    whole: dict[str, Input] = {}
    value = 0.0
    for index, piece in enumerate(shop.discharge):
        row = int(shop.tree.place[len(shop.runs) + 1 + index])
        at, flow = f"collector.discharge[{index}]", float(state.flow[row])
        one = Stretch(None, at, row, flow, piece.bore, piece.length, piece.wall, piece.pieces)
        if flow > 0.0:
            explain_run.speed(sheet, one)
            explain_run.friction(sheet, shop, one, float(state.losses.friction[row]))
            explain_run.pieces(sheet, one)
        whole[f"piece_{index + 1}"] = ("pressure", float(state.losses.total[row]))
        value += float(state.losses.total[row])
    if whole:
        sheet.write("behind-inlet", " + ".join(whole), ("pressure", value), None, "collector.discharge", **whole)
    return value
