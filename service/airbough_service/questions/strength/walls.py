"""The wall of each run: material, thickness and rings, from the document and the catalogue."""

from __future__ import annotations

from dataclasses import dataclass, replace

from airbough.wire.problem import Fault
from airbough.wire.strength import StrengthRequest
from airbough_service.catalogue import (
    Passport,
    UnknownWordError,
)
from airbough_service.catalogue.gauges import (
    Material,
    buckling,
    has_material,
    material,
    sheet,
)
from airbough_service.core.laws.buckling import (
    Shell,
    buckling_pressure,
)
from airbough_service.shop.pieces import nearest_fault
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
)
from airbough_service.terms.finding import plain
from airbough_service.terms.refusal import Refusal, no_run

CLOSEST = 0.1  # ring spacing over the bore below which the law between rings is not asked
THINNEST = 1.0e-5  # m
THICKEST = 0.05  # wall over the bore above which the wall is not thin


@dataclass(frozen=True, slots=True)
class Allowance:
    """What is left of an ideal shell's buckling pressure: times the knockdown, over the safety factor."""

    safety_factor: float
    knockdown: float

    @property
    def share(self) -> float:
        """Allowable suction over the ideal shell's buckling pressure."""
        return self.knockdown / self.safety_factor


@dataclass(frozen=True, slots=True)
class KnownWall:
    """A run whose wall can be judged.

    Attributes:
        material: of the wall.
        thickness: as judged [m].
        bore: the widest of the run [m].
        gauge: where the thickness is that of a gauge.
        spacing: of the rings [m]; None without.
        passport: of the thickness; None where the caller gave it.
    """

    material: Material
    thickness: float
    bore: float
    gauge: int | None
    spacing: float | None
    passport: Passport | None

    @property
    def shell(self) -> Shell:
        """The wall as a thin cylinder."""
        return Shell(self.material.elastic_modulus, self.material.poisson_ratio, self.thickness, self.bore)

    @property
    def buckling(self) -> float:
        """Buckling pressure of the ideal shell [Pa]."""
        return buckling_pressure(self.shell, self.spacing)

    def with_gauge(self, gauge: int, thickness: float) -> KnownWall:
        """Return the wall in another gauge."""
        return replace(self, gauge=gauge, thickness=thickness)


@dataclass(frozen=True, slots=True)
class UnknownWall:
    """Why a run's strength is not judged."""

    reason: str


def allowance(request: StrengthRequest) -> Allowance:
    """Return the caller's allowances, else the catalogue's."""
    own = buckling()
    return Allowance(request.safety_factor or own.safety_factor, request.knockdown or own.knockdown)


def walls(shop: Shop, request: StrengthRequest) -> list[KnownWall | UnknownWall]:
    """Return every run's wall, or why it is not known, in document order.

    Raises:
        Refusal: both gauge and wall thickness on a run, rings on a run that does not exist, an unknown material.
    """
    faults = _faults(shop, request)
    if faults:
        words_only = all(fault.code == "unknown-word" for fault in faults)
        raise Refusal("unknown-word" if words_only else "not-a-duct-tree", faults)
    rings = {item.run: float(item.spacing) for item in request.stiffening}
    return [_wall(run, request, rings.get(run.id)) for run in shop.runs]


def _faults(shop: Shop, request: StrengthRequest) -> list[Fault]:
    """Return what is wrong with walls and rings."""
    faults, bores, seen = [], {run.id: _widest(run) for run in shop.runs}, set()
    if request.material is not None:
        try:
            material(request.material)
        except UnknownWordError as error:
            faults.append(nearest_fault("material", error))
    for run in shop.runs:
        if run.run.gauge is not None and run.run.wall_thickness is not None:
            detail = "give gauge or wall_thickness, not both"
            faults.append(Fault(path=f"runs[{run.index}].wall_thickness", code="gauge-and-thickness", detail=detail))
    for index, item in enumerate(request.stiffening):
        path = f"stiffening[{index}]"
        if item.run not in bores:
            faults.append(no_run(f"{path}.run", "unknown-run", item.run, bores))
        elif float(item.spacing) < CLOSEST * bores[item.run]:
            detail = f"at least {CLOSEST:g} of the diameter"
            faults.append(Fault(path=f"{path}.spacing", code="outside-range", detail=detail))
        if item.run in seen:
            faults.append(Fault(path=f"{path}.run", code="duplicate-id", detail=f"{item.run!r} already stands here"))
        seen.add(item.run)
    return faults


def _widest(run: ShopRun) -> float:
    """Return the widest bore anywhere in a run, m: the weakest."""
    return max(run.start, run.end, run.widest.bore)


def _wall(run: ShopRun, request: StrengthRequest, spacing: float | None) -> KnownWall | UnknownWall:
    """Return one run's wall, or why it is not known."""
    asked, bore = run.run, _widest(run)
    if run.wall.duct is not None and run.wall.duct.kind == "hose":
        return UnknownWall("a hose; its maker's limit under suction decides")
    word = run.wall.duct.material if run.wall.duct is not None and has_material(run.wall.duct.material) else None
    word = word or request.material
    if asked.gauge is None and asked.wall_thickness is None:
        return UnknownWall("give its gauge or wall thickness to have it judged")
    if word is None:
        return UnknownWall("its material is not known and none is named")
    if asked.wall_thickness is not None:
        return _of_thickness(material(word), float(asked.wall_thickness), bore, spacing)
    assert asked.gauge is not None
    found = sheet(word, asked.gauge)
    if found is None:
        return UnknownWall(f"no thickness is held for gauge {asked.gauge} of {plain(word)}; give the wall's thickness")
    if found.judged > THICKEST * bore:
        return UnknownWall("its wall is too thick for its diameter to be judged as a thin shell")
    return KnownWall(material(word), found.judged, bore, asked.gauge, spacing, found.passport)


def _of_thickness(of: Material, thickness: float, bore: float, spacing: float | None) -> KnownWall | UnknownWall:
    """Return a wall of the caller's own thickness."""
    if thickness < THINNEST:
        return UnknownWall("a wall of next to no thickness is none")
    if thickness > THICKEST * bore:
        return UnknownWall("its wall is too thick for its diameter to be judged as a thin shell")
    return KnownWall(of, thickness, bore, None, spacing, None)
