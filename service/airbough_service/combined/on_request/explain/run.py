"""The terms of one run: velocity, friction, each piece, sums and pressures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from airbough.wire.places import below
from airbough_service.combined.on_request.explain.sheet import (
    Input,
    Sheet,
)
from airbough_service.core.laws.friction import LAMINAR_END, TURBULENT_START, darcy
from airbough_service.core.network import columns
from airbough_service.core.network.losses import Losses
from airbough_service.core.network.tree import (
    area,
    dynamic,
)
from airbough_service.shop.pieces import (
    Piece,
    Wall,
)
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
)
from airbough_service.terms.units import (
    TABLE,
    unit,
)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Stretch:
    """One row of the packed tree as the explanation sees it: a run, or a piece after the fan."""

    run: str | None
    at: str
    row: int
    flow: float
    start: float
    length: float
    wall: Wall
    pieces: tuple[Piece, ...]


def stretch_of(shop: Shop, run: ShopRun, flow: Floats) -> Stretch:
    """Return a run as the explanation sees it."""
    row = shop.hood_row(run.index)
    at = f"runs[{run.index}]"
    return Stretch(run.id, at, row, float(flow[row]), run.widest.bore, run.length, run.wall, run.pieces)


def speed(sheet: Sheet, one: Stretch) -> None:
    """Write velocity and velocity pressure."""
    velocity = one.flow / area(one.start)
    sheet.write(
        "velocity", "velocity", ("velocity", velocity), one.run, one.at,
        flow=("flow", one.flow), diameter=("diameter", one.start),
    )  # fmt: skip
    sheet.write(
        "velocity-pressure", "velocity-pressure",
        ("pressure", dynamic(sheet.density, one.start) * one.flow**2), one.run, one.at,
        density=("density", sheet.density), velocity=("velocity", velocity),
    )  # fmt: skip


def friction(sheet: Sheet, shop: Shop, one: Stretch, lost: float) -> None:
    """Write Reynolds number, friction factor and friction loss."""
    if one.length == 0.0 or one.flow <= 0.0:
        return
    pressure = dynamic(sheet.density, one.start) * one.flow**2
    law = one.wall.power_law
    if shop.request.model.friction == "power-law" and law is not None:
        speed_unit, flow_unit = (TABLE[kind][unit(kind, sheet.preset)][0] for kind in ("velocity", "flow"))
        scale = law.scale * speed_unit**law.velocity_exponent / flow_unit**law.flow_exponent
        sheet.write(
            "friction-loss",
            "scale * velocity^velocity_exponent / flow^flow_exponent * length * multiplier * velocity_pressure",
            ("pressure", lost), one.run, one.at, one.wall.power_law_passport,
            scale=scale * TABLE["length"][unit("length", sheet.preset)][0],
            velocity=("velocity", one.flow / area(one.start)), velocity_exponent=law.velocity_exponent,
            flow=("flow", one.flow), flow_exponent=law.flow_exponent, length=("length", one.length),
            multiplier=one.wall.multiplier, velocity_pressure=("pressure", pressure),
        )  # fmt: skip
        return
    factor = _factor(sheet, shop, one)
    sheet.write(
        "friction-loss",
        f"friction_factor * {_over(sheet)} * multiplier * velocity_pressure",
        ("pressure", lost), one.run, one.at, one.wall.multiplier_passport,
        friction_factor=factor, length=("length", one.length), diameter=("diameter", one.start),
        multiplier=one.wall.multiplier, velocity_pressure=("pressure", pressure),
    )  # fmt: skip


def _over(sheet: Sheet) -> str:
    """Return length over diameter as arithmetic."""
    return "length * 12 / diameter" if sheet.preset == "us" else "length * 1000 / diameter"


def _factor(sheet: Sheet, shop: Shop, one: Stretch) -> float:
    """Write Reynolds number, relative roughness and friction factor; return the factor."""
    table = shop.tree.table[one.row]
    reynolds = float(table[columns.REYNOLDS]) * one.flow
    rough, start = float(table[columns.ROUGH]), float(table[columns.START])
    factor = float(darcy(rough, reynolds, start))
    sheet.write(
        "reynolds", "reynolds", reynolds, one.run, one.at,
        density=("density", sheet.density), velocity=("velocity", one.flow / area(one.start)),
        diameter=("diameter", one.start), viscosity=("viscosity", sheet.viscosity),
    )  # fmt: skip
    if reynolds <= LAMINAR_END:
        sheet.write("friction-factor", "64 / reynolds", factor, one.run, one.at, reynolds=reynolds)
        return factor
    sheet.write(
        "relative-roughness", "relative-roughness", 3.7 * rough, one.run, one.at, one.wall.passport,
        roughness=("roughness", one.wall.roughness), diameter=("diameter", one.start),
    )  # fmt: skip
    turbulent = factor if reynolds > TURBULENT_START else float(darcy(rough, TURBULENT_START * (1.0 + 1e-15), start))
    sheet.write(
        "friction-factor",
        "1 / (2 * log10(relative_roughness / 3.7 + 2.51 / (reynolds * sqrt(friction_factor))))^2",
        turbulent, one.run, one.at,
        relative_roughness=3.7 * rough, reynolds=max(reynolds, TURBULENT_START), friction_factor=turbulent,
    )  # fmt: skip
    if reynolds <= TURBULENT_START:
        sheet.write(
            "friction-factor-between", "0.032 + (turbulent - 0.032) * (reynolds - 2000) / 2000",
            factor, one.run, one.at, turbulent=turbulent, reynolds=reynolds,
        )  # fmt: skip
    return factor


def pieces(sheet: Sheet, one: Stretch) -> None:
    """Write each piece's loss, and before it the velocity pressure where its bore is not the run's."""
    told = {one.start}
    counted: list[float] = []
    for piece in one.pieces:
        pressure, at = dynamic(sheet.density, piece.bore) * one.flow**2, below(one.at, piece.at)
        if all(abs(piece.bore - bore) > 1.0e-12 for bore in told):
            sheet.pressure_in_bore(one.flow, piece.bore, pressure, one.run, at)
            told.add(piece.bore)
        lost = piece.coefficient * piece.count * pressure
        sheet.write(
            f"{piece.part}-loss", "coefficient * count * velocity_pressure", ("pressure", lost),
            one.run, at, piece.passport,
            coefficient=piece.coefficient, count=float(piece.count), velocity_pressure=("pressure", pressure),
        )  # fmt: skip
        if piece.part == "fitting":
            counted.append(lost)
    if len(counted) > 1:
        inputs: dict[str, Input] = {f"loss_{k + 1}": ("pressure", lost) for k, lost in enumerate(counted)}
        sheet.write(
            "fitting-losses", " + ".join(inputs), ("pressure", sum(counted)), one.run, one.at, **inputs
        )  # fmt: skip


def inside(sheet: Sheet, shop: Shop, run: ShopRun, one: Stretch, parts: Losses, gate: Floats) -> None:
    """Write the loss inside the machine and that of the gate."""
    hood = run.run.hood
    if hood is not None and hood.resistance is not None and float(parts.resistance[one.row]) != 0.0:
        solved = (float(parts.resistance[one.row]), one.flow)
        sheet.rated_loss("resistance-loss", hood.resistance, solved, one.run, f"{one.at}.hood.resistance")
    at, lost = f"{one.at}.gate", float(parts.gate[one.row])
    if np.isinf(gate[one.row]):
        sheet.write(
            "gate-loss", "0 - total_pressure", ("pressure", lost), one.run, at,
            total_pressure=("pressure", float(parts.total_pressure[one.row])),
        )  # fmt: skip
    elif lost != 0.0:
        own = dynamic(shop.density, run.start)
        if abs(run.start - one.start) > 1.0e-12:
            sheet.pressure_in_bore(one.flow, run.start, own * one.flow**2, one.run, at)
        sheet.write(
            "gate-loss", "coefficient * velocity_pressure", ("pressure", lost), one.run, at,
            coefficient=float(gate[one.row]) / own, velocity_pressure=("pressure", own * one.flow**2),
        )  # fmt: skip


def sums(sheet: Sheet, run: ShopRun, one: Stretch, parts: Losses, upstream: float) -> None:
    """Write the sum of the run's losses, and of a hood, by the flow at the upstream end, its static pressure."""
    names = ("entry", "port", "resistance", "gate", "friction", "fittings", "join")
    inputs: dict[str, Input] = {
        f"{name.removesuffix('s')}_loss": ("pressure", float(getattr(parts, name)[one.row])) for name in names
    }
    total = ("pressure", float(parts.total[one.row]))
    sheet.write("total-loss", " + ".join(inputs), total, one.run, one.at, **inputs)
    if run.run.hood is None:
        return
    own = {name: inputs[f"{name}_loss"] for name in ("entry", "port", "resistance")}
    sheet.write(
        "hood-static-pressure", "0 - entry - port - resistance - velocity_pressure",
        ("pressure", float(parts.at_hood[one.row])), one.run, f"{one.at}.hood",
        velocity_pressure=("pressure", dynamic(sheet.density, run.start) * upstream**2), **own,
    )  # fmt: skip
