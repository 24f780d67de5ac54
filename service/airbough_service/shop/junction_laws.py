"""How each run enters its junction, and the change of size of a straight run there."""

from __future__ import annotations

import math
from functools import cache, lru_cache
from typing import Final

from airbough.wire.problem import Fault
from airbough.wire.tree import (
    Branch,
    Model,
    Straight,
    Tree,
)
from airbough_service import catalogue
from airbough_service.catalogue import Arrangement, Edition
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.network.tree import Arm
from airbough_service.shop.pieces import (
    MOST_KEPT,
    Beside,
    Found,
    Junction,
    Piece,
    add,
    ask,
)
from airbough_service.shop.topology import Topology
from airbough_service.terms.out_of_range import must_be


def arrangement(request: Tree, arms: tuple[int, ...]) -> Arrangement:
    """Return the catalogue's word for a junction of these runs."""
    straights = sum([isinstance(request.runs[index].join, Straight) for index in arms])
    if len(arms) == 2:
        return "wye" if straights == 1 else "symmetrical"
    return "double"


def charges_change(model: Model, *, alone: bool) -> bool:
    """Return whether a model's law charges a straight run's change of size as the caller states it."""
    law = model.junctions
    return law in catalogue.EDITIONS or (law == "entry-angle" and alone)


def faults(request: Tree, shape: Topology) -> list[Fault]:
    """Return what joins state that the laws of their junctions do not use."""
    found = Found(preset=request.units)
    for index in range(len(request.runs)):
        unused(found, request, shape, index)
    return found.faults


def unused(found: Found, request: Tree, shape: Topology, index: int) -> None:
    """Note what a run's join states that the law of its junction does not use."""
    join, law, parent = request.runs[index].join, request.model.junctions, shape.parents[index]
    alone = parent >= 0 and len(shape.children[parent]) == 1
    names: tuple[str, ...]
    if isinstance(join, Straight) and not charges_change(request.model, alone=alone):
        names = ("taper_length", "coefficient")
        charges = "nothing at a junction" if law == "none" else "no change of size where runs meet"
    elif isinstance(join, Branch):
        names = _foreign(law)
        charges = "no such number"
    else:
        return
    for name in names:
        if getattr(join, name) is not None:
            found.fault(f"runs[{index}].join.{name}", "not-for-this-law", f"`{law}` knows {charges}; leave it out")


@cache
def _foreign(law: str) -> tuple[str, ...]:
    """Return the numbers of a branch that a law does not know."""
    return tuple(name for name, laws in _LAWS_OF.items() if law not in laws)


_LAWS_OF: Final = {"factor": catalogue.EDITIONS, "straight": catalogue.EDITIONS, "entry_factor": ("entry-angle",)}


def change(found: Found, request: Tree, index: int, end: float, into: float, *, alone: bool) -> None:
    """Add a straight run's change of size, where its bore differs from that of the run it flows into.

    Under entry-angle a run alone pays what its law says of a junction where no other flows, unless the caller says how
    it changes; where runs meet, static pressures do, and that holds all.
    """
    join, law = request.runs[index].join, request.model.junctions
    if not charges_change(request.model, alone=alone) or isinstance(join, Branch) or abs(end - into) <= 1.0e-9 * into:
        return
    path = f"runs[{index}].join"
    length = None if join is None or join.taper_length is None else float(join.taper_length)
    if law == "entry-angle" and length is None and (join is None or join.coefficient is None):
        if end < into:
            add(found, "change", path, "entry-angle", end, catalogue.entry_angle_alone(end, into))
        return
    if join is not None and join.coefficient is not None:
        found.pieces.append(Piece("change", path, "known-coefficient", join.coefficient, min(end, into)))
        return
    loss = ask(found, path, lambda: catalogue.change_of_size(end, into, length))
    if loss is not None:
        add(found, "change", path, "taper" if length else "abrupt-change", min(end, into), loss)


def arm(found: Found, request: Tree, shape: Topology, index: int, end: float, into: float) -> Arm:
    """Return how a run enters its junction under the laws of the request's model."""
    arms, law = shape.children[shape.parents[index]], request.model.junctions
    join = request.runs[index].join
    path = f"runs[{index}].join"
    if len(arms) < 2 or law == "none":
        return Arm()
    if law == "entry-angle":
        return _entry_angle(found, path, join)
    if isinstance(join, Branch):
        return _branch(found, path, join, (end / into) ** 2, arrangement(request, arms), law)
    return _straight()


@cache
def _straight() -> Arm:
    """Return the arm of a straight run under a flow-ratio law."""
    return Arm(constants=catalogue.flow_ratio_constants())


def _branch(found: Found, path: str, join: Branch, ratio: float, word: Arrangement, law: Edition) -> Arm:
    """Return the arm of a branch under a flow-ratio law; the caller's own numbers stand in for the catalogue's."""
    angle = float(join.angle)
    out = plain_branch(angle, ratio)
    beside_straight = word != "symmetrical"
    if join.factor is None or (join.straight is None and beside_straight):
        try:
            out, known = catalogued_branch(angle, ratio, word, law)
        except OutsideTableError as error:
            at = f"{path}.{error.name}" if hasattr(join, error.name) else path
            found.fault(at, "outside-range", f"{error.name} {must_be(error, found.preset)}")
            return Arm()
        if join.factor is None:
            found.junctions.append(Junction(path, known.entry, known.passport, known.outside))
        if join.straight is None and beside_straight:
            found.beside.append(Beside(path, *known.straight))
    if join.factor is not None:
        own = join.factor
        out = out._replace(factor=(own.low, own.slope, own.high, own.step), lift=own.lift)
    if join.straight is not None:
        out = out._replace(linear=join.straight.linear, drag=join.straight.drag)
    return out


@lru_cache(MOST_KEPT)
def plain_branch(angle: float, ratio: float) -> Arm:
    """Return the arm of a branch at an angle [deg] with this area over that of `into`, its law's numbers left out."""
    return Arm(
        is_branch=True,
        cosine=math.cos(math.radians(angle)) if angle != 90.0 else 0.0,
        area_ratio=1.0 / ratio,
        constants=catalogue.flow_ratio_constants(),
    )


@lru_cache(MOST_KEPT)
def catalogued_branch(angle: float, ratio: float, word: Arrangement, law: Edition) -> tuple[Arm, catalogue.BranchLaw]:
    """Return the arm of a branch by the catalogue's law, and that law; equal branches are asked for once.

    Raises:
        OutsideTableError: an angle or area ratio that no law answers.
    """
    known = catalogue.branch_law(angle, ratio, word, law)
    out = plain_branch(angle, ratio)
    return out._replace(factor=known.factor, lift=known.lift, linear=known.linear, drag=known.drag), known


def _entry_angle(found: Found, path: str, join: object) -> Arm:
    """Return the arm of the velocity-pressure method."""
    if not isinstance(join, Branch):
        return Arm()
    angle = float(join.angle)
    cosine = math.cos(math.radians(angle))
    if join.entry_factor is not None:
        return Arm(is_branch=True, cosine=cosine, entry_factor=join.entry_factor)
    loss = ask(found, path, lambda: catalogue.entry_factor(angle), join)
    factor = 0.0 if loss is None else loss.coefficient
    if loss is not None:
        found.junctions.append(Junction(path, loss.entry, loss.passport, loss.outside, factor))
    return Arm(is_branch=True, cosine=cosine, entry_factor=factor)
