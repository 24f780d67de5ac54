"""The request with each word of the catalogue that bears on a flow replaced by its numbers.

Sent back, it gives the same flows under any later catalogue. What the caller wrote as numbers stays as written. The
words `dust` and `machine` bear on what is judged, not on what flows, and stay. A gate keeps its coefficient at every
opening that some state of the request gives it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any, TypeVar

from msgspec import structs

from airbough.wire.air import Air
from airbough.wire.collector import (
    Collector,
    CollectorLoss,
    DischargePiece,
    Fan,
    NamedFan,
    PowerLaw,
)
from airbough.wire.entry import KnownEntry
from airbough.wire.fitting import (
    AbruptChange,
    FreeDischarge,
    KnownCoefficient,
    Taper,
)
from airbough.wire.problem import Fault
from airbough.wire.quantity import Preset
from airbough.wire.tree import (
    MOST_KNOWN,
    Branch,
    BranchFactor,
    Gate,
    GatePoint,
    Hood,
    Join,
    Leak,
    Run,
    Straight,
    StraightTerms,
    Tree,
)
from airbough.wire.working_day import WorkingDayRequest
from airbough_service.drafting.following import DRAWN
from airbough_service.shop.air import air_of
from airbough_service.shop.opening import is_shut, passing
from airbough_service.shop.pieces import (
    Piece,
    Wall,
    tag,
)
from airbough_service.shop.shop import (
    Discharge,
    Shop,
    ShopRun,
    gate_coefficient,
)
from airbough_service.terms import units
from airbough_service.terms.refusal import Refusal

AnyTree = TypeVar("AnyTree", bound=Tree)


def resolved(written: AnyTree, shop: Shop) -> AnyTree:
    """Return the request as written, words replaced by numbers in its preset.

    Args:
        written: as decoded, quantities as the caller wrote them.
        shop: the same request made ready.

    Raises:
        Refusal: states that give a gate more openings than a document can say coefficients of.
    """
    asked = _openings(shop)
    rows = zip(written.runs, shop.runs, strict=True)
    runs = tuple(_run(shop, run, told, asked.get(told.id, ())) for run, told in rows)
    changes: dict[str, Any] = {
        "runs": runs,
        "air": Air(
            density=exact("density", float(shop.air.density), written.units),
            viscosity=exact("viscosity", float(shop.air.viscosity), written.units),
        ),
        "resolved": False,
        "explain": False,
        "uncertainty": None,
    }
    if written.collector is not None and shop.request.collector is not None:
        changes["collector"] = _collector(shop, written.collector, shop.request.collector)
    fans: tuple[NamedFan, ...] = getattr(written, "fans", ())
    if fans:
        in_si: tuple[NamedFan, ...] = shop.request.fans  # type: ignore[attr-defined]  # the same struct in SI
        pairs = zip(fans, in_si, strict=True)
        changes["fans"] = tuple(structs.replace(fan, fan=_fan(fan.fan, si.fan, written.units)) for fan, si in pairs)
    return structs.replace(written, **changes)


def _openings(shop: Shop) -> dict[str, set[float]]:
    """Return, by run id, the openings that the request's states, or the machines of a day, give its gate."""
    request: Any = shop.request
    settings = [request, *getattr(request, "states", ()), getattr(request, "state", None)]
    out: dict[str, set[float]] = {}
    for setting in settings:
        for run, share in (getattr(setting, "openings", None) or {}).items():
            out.setdefault(run, set()).add(float(share))
    for day in request.machines if isinstance(request, WorkingDayRequest) else ():
        if day.opening is not None:
            for gate in shop.machines.gates_named(day.machine, "", []):
                out.setdefault(shop.runs[gate].id, set()).add(float(day.opening))
    return out


def exact(kind: str, si: float, preset: Preset) -> float:
    """Return the number in the preset's unit that is read back as just this SI value, or the nearest there is."""
    told = units.value(kind, si, preset)
    factor, offset = units.TABLE[kind][units.unit(kind, preset)]
    near = (told, math.nextafter(told, math.inf), math.nextafter(told, -math.inf))
    return min(near, key=lambda number: abs(number * factor + offset - si))


def _run(shop: Shop, run: Run, told: ShopRun, openings: Iterable[float]) -> Run:
    """Return one run without words."""
    preset = shop.request.units
    run = _drawn(run, told.run, preset)
    fittings = tuple(_fitting(piece, run.fittings[k]) for k, piece in enumerate(_listed(told.pieces)))
    leak = run.leak
    if run.leakage_class is not None and leak is None:
        leak = Leak(coefficient=shop.leaking.coefficients[told.index], exponent=shop.leaking.exponent)
    return structs.replace(
        run,
        **_wall(told.wall, run, preset),
        leakage_class=None,
        leak=leak,
        power_law=_power_law(shop, told.wall, run),
        fittings=fittings,
        join=_join(shop, run, told),
        hood=None if run.hood is None or told.run.hood is None else _hood(run.hood, told, preset),
        gate=None if run.gate is None or told.run.gate is None else _gate(run.gate, told, openings),
    )


def _drawn(run: Run, in_si: Run, preset: Preset) -> Run:
    """Return a run as written, with what followed from its path: length, rise and turns."""
    if run.path is None:
        return run
    written = iter(run.fittings)
    kept = len(run.fittings) == len(in_si.fittings)
    fittings = tuple(
        fitting if not kept and isinstance(fitting, DRAWN) else next(written) for fitting in in_si.fittings
    )
    length, rise = (exact("length", float(value or 0.0), preset) for value in (in_si.length, in_si.rise))
    return structs.replace(
        run,
        length=length if run.length is None else run.length,
        rise=rise if run.rise is None else run.rise,
        fittings=fittings,
    )


def _wall(wall: Wall, run: Run | DischargePiece, preset: Preset) -> dict[str, Any]:
    """Return the fields of a wall known by its numbers."""
    if run.duct is None:
        return {}
    roughness = run.roughness if run.roughness is not None else exact("roughness", wall.roughness, preset)
    factor = wall.multiplier if wall.multiplier != 1.0 else run.friction_multiplier
    return {"duct": None, "stretch": None, "roughness": roughness, "friction_multiplier": factor}


def _power_law(shop: Shop, wall: Wall, written: Run | DischargePiece) -> PowerLaw | None:
    law = wall.power_law
    if shop.request.model.friction != "power-law" or law is None:
        return written.power_law
    return PowerLaw(scale=law.scale, velocity_exponent=law.velocity_exponent, flow_exponent=law.flow_exponent)


def _listed(pieces: tuple[Piece, ...]) -> list[Piece]:
    """Return the pieces that stand in the document's list of fittings, in its order."""
    return [piece for piece in pieces if piece.part == "fitting" and _is_listed(piece)]


def _is_listed(piece: Piece) -> bool:
    """Return whether a piece stands in the document's list of fittings."""
    return piece.at.startswith("fittings[")


def _fitting(piece: Piece, fitting: Any) -> Any:
    """Return a fitting known by its coefficient; one that changes the bore still does."""
    if isinstance(fitting, Taper | AbruptChange):
        return structs.replace(fitting, coefficient=piece.coefficient)
    if tag(fitting) in ("free-discharge", "stack-head", "weather-cap"):
        return FreeDischarge(coefficient=piece.coefficient)
    return KnownCoefficient(coefficient=piece.coefficient, count=piece.count)


def _hood(hood: Hood, told: ShopRun, preset: Preset) -> Hood:
    """Return a hood whose entry and port are known by their coefficients, its resistance with its rated air."""
    entry = next(piece for piece in told.pieces if piece.part == "entry")
    port = next((piece.coefficient for piece in told.pieces if piece.part == "port"), hood.port_coefficient)
    inside = hood.resistance
    if inside is not None and told.run.hood is not None and told.run.hood.resistance is not None:
        inside = structs.replace(inside, rated_air=_air(told.run.hood.resistance.rated_air, preset))
    known = KnownEntry(coefficient=entry.coefficient)
    filled = told.run.hood
    flow, dust = hood.flow, hood.dust
    if flow is None and filled is not None and filled.flow is not None:
        flow = exact("flow", float(filled.flow), preset)
    if dust is None and filled is not None:
        dust = filled.dust
    return structs.replace(hood, entry=known, port_coefficient=port, resistance=inside, flow=flow, dust=dust)


def _gate(gate: Gate, told: ShopRun, openings: Iterable[float]) -> Gate:
    """Return a gate whose coefficient is known as it is set, in each state, wide open and at its leakage."""
    in_si = told.run.gate
    assert in_si is not None
    shares = {passing(in_si, share) for share in (float(in_si.opening), 0.0, 1.0, *openings)}
    known = {float(point.opening): point.coefficient for point in in_si.known}
    known |= {share: gate_coefficient(in_si, share) for share in sorted(shares) if not is_shut(share)}
    if len(known) > MOST_KNOWN:
        detail = f"the gate of {told.id!r} has {len(known)} openings in these states; {MOST_KNOWN} at most are resolved"
        raise Refusal("not-computable", [Fault(path="resolved", code="too-many-states", detail=detail)])
    points = tuple(GatePoint(opening=share, coefficient=value) for share, value in known.items())
    return structs.replace(gate, known=points)


def _join(shop: Shop, run: Run, told: ShopRun) -> Join | None:
    """Return how the run enters its junction, by numbers; a lone run whose bore changes there gets a join."""
    parent = shop.shape.parents[told.index]
    if parent < 0:
        return run.join
    change = next((piece.coefficient for piece in told.pieces if piece.part == "change"), None)
    several = len(shop.shape.children[parent]) > 1
    if isinstance(run.join, Branch):
        return _branch(shop, run.join, told) if several else run.join
    if run.join is None and change is None:
        return None
    return structs.replace(run.join or Straight(), coefficient=change)


def _branch(shop: Shop, join: Branch, told: ShopRun) -> Branch:
    """Return a branch with the numbers of the law that answers."""
    if shop.request.model.junctions == "entry-angle":
        return structs.replace(join, entry_factor=told.arm.entry_factor)
    if shop.request.model.junctions == "none":
        return join
    arm = told.arm
    low, slope, high, step = arm.factor
    factor = BranchFactor(low=low, slope=slope, high=high, step=step, lift=arm.lift + 0.0)  # told though it be default
    beside = shop.joined[told.index].beside is not None
    straight = StraightTerms(linear=arm.linear, drag=arm.drag) if beside else join.straight
    return structs.replace(join, factor=factor, straight=straight)


def _collector(shop: Shop, written: Collector, in_si: Collector) -> Collector:
    """Return the collector without words; the air of curve and losses is told even where it is standard."""
    preset = shop.request.units
    fan = None
    if in_si.fan is not None:
        fan = _fan(written.fan or units.document(in_si.fan, preset), in_si.fan, preset)
    losses = tuple(_rated(one, si, preset) for one, si in zip(written.losses, in_si.losses, strict=True))
    discharge = _discharge(shop, written.discharge)
    return structs.replace(written, fan=fan, known_by=None, losses=losses, discharge=discharge)


def _rated(loss: CollectorLoss, in_si: CollectorLoss, preset: Preset) -> CollectorLoss:
    return structs.replace(loss, rated_air=_air(in_si.rated_air, preset))


def _fan(fan: Fan, in_si: Fan, preset: Preset) -> Fan:
    return structs.replace(fan, rated_air=_air(in_si.rated_air, preset))


def _air(asked: Air | None, preset: Preset) -> Air:
    """Return an air by density and viscosity."""
    air, _ = air_of(asked, "air")
    return Air(
        density=exact("density", float(air.density), preset),
        viscosity=exact("viscosity", float(air.viscosity), preset),
    )


def _discharge(shop: Shop, written: tuple[DischargePiece, ...]) -> tuple[DischargePiece, ...]:
    """Return the pieces after the fan; changes between them and the open end stand in the list of fittings."""
    preset = shop.request.units
    out = []
    for index, (piece, told) in enumerate(zip(written, shop.discharge, strict=True)):
        fittings = [_fitting(own, piece.fittings[k]) for k, own in enumerate(_listed(told.pieces))]
        after = shop.discharge[index + 1] if index + 1 < len(written) else None
        fittings += _ending(told, after, preset)
        law = _power_law(shop, told.wall, piece)
        wall = _wall(told.wall, piece, preset)
        out.append(structs.replace(piece, **wall, power_law=law, fittings=tuple(fittings)))
    return tuple(out)


def _ending(told: Discharge, after: Discharge | None, preset: Preset) -> list[Any]:
    """Return what the service adds behind a piece: the change to the next bore, or the open end."""
    if after is None:
        own = [piece for piece in told.pieces if not _is_listed(piece) and piece.type == "free-discharge"]
        return [FreeDischarge(coefficient=piece.coefficient) for piece in own]
    bores = (exact("diameter", told.end, preset), exact("diameter", after.start, preset))
    at = exact("length", told.length, preset)
    changes = [piece for piece in after.pieces if not _is_listed(piece) and piece.type == "abrupt-change"]
    return [
        AbruptChange(upstream_diameter=bores[0], downstream_diameter=bores[1], coefficient=piece.coefficient, at=at)
        for piece in changes
    ]
