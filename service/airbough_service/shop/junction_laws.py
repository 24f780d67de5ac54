"""How each run enters its junction, and the change of size of a straight run there."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache, cached_property, lru_cache
from typing import Final

from msgspec import Struct

from airbough.wire.problem import Fault
from airbough.wire.quantity import Preset
from airbough.wire.tree import (
    Branch,
    Join,
    JunctionModel,
    Model,
    Straight,
    Tree,
)
from airbough_service import catalogue
from airbough_service.catalogue import Arrangement, Edition
from airbough_service.core import deadline
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.network.tree import Arm
from airbough_service.shop.pieces import (
    MOST_KEPT,
    NO_PIECES,
    Beside,
    Found,
    Junction,
    Piece,
    Pieces,
    add,
    ask,
    placed,
)
from airbough_service.shop.topology import Topology
from airbough_service.terms import sources
from airbough_service.terms.out_of_range import must_be

_PATH: Final = "join"  # of what is looked at here, within its run


def arrangement(request: Tree, arms: tuple[int, ...]) -> Arrangement:
    """Return the catalogue's word for a junction of these runs."""
    if len(arms) != 2:
        return "double"
    one, two = request.runs[arms[0]].join, request.runs[arms[1]].join
    return "symmetrical" if (type(one) is Straight) is (type(two) is Straight) else "wye"


def charges_change(model: Model, *, alone: bool) -> bool:
    """Return whether a model's law charges a straight run's change of size as the caller states it."""
    return _charges_change(model.junctions, alone=alone)


def _charges_change(law: str, *, alone: bool) -> bool:
    return law in catalogue.EDITIONS or (law == "entry-angle" and alone)


class Joined(Struct, frozen=True, dict=True):
    """How a run enters its junction, whatever flows.

    Attributes:
        arm: for packing.
        change: the change of size at its downstream end, one piece where it is charged.
        junction: what its own law rests on.
        beside: what its share in the loss of the straight run rests on.
        unused: a fault for each thing that its join states and the law does not use, with paths within the run.
        faults: what else is wrong.
    """

    arm: Arm = Arm()
    change: Pieces = NO_PIECES
    junction: Junction | None = None
    beside: Beside | None = None
    unused: tuple[Fault, ...] = ()
    faults: tuple[Fault, ...] = ()

    @cached_property
    def origins(self) -> int:
        """Where its junction's own law comes from, as `sources.bits`."""
        return 0 if self.junction is None else sources.bits_of(self.junction.passport)


_AT_COLLECTOR: Final = Joined()


def each_joined(request: Tree, shape: Topology, bores: Sequence[tuple[float, float]]) -> list[Joined]:
    """Return how each run enters its junction; `bores`: by run, at its upstream and its downstream end, m."""
    out, law, preset = [_AT_COLLECTOR] * len(bores), request.model.junctions, request.units
    for parent, arms in enumerate(shape.children):
        word = arrangement(request, arms) if len(arms) > 1 else None
        for index in arms:
            out[index] = _joined(request.runs[index].join, law, word, bores[index][1], bores[parent][0], preset)
    return out


def word_of(request: Tree, shape: Topology, parent: int) -> Arrangement | None:
    """Return the catalogue's word for the junction at a run's upstream end; None where one run alone flows in."""
    arms = shape.children[parent]
    return arrangement(request, arms) if len(arms) > 1 else None


def joined(request: Tree, index: int, word: Arrangement | None, end: float, into: float) -> Joined:
    """Return how a run that ends in a bore [m] enters its junction, into a run that begins in another."""
    return _joined(request.runs[index].join, request.model.junctions, word, end, into, request.units)


@lru_cache(MOST_KEPT)
def _joined(
    join: Join | None, law: JunctionModel, word: Arrangement | None, end: float, into: float, preset: Preset
) -> Joined:
    """Return how a run enters its junction; equal ones are worked out once."""
    deadline.check()
    found = Found(preset=preset)
    _change(found, join, law, (end, into), alone=word is None)
    own = _arm(found, join, law, word, (end, into))
    return Joined(
        own,
        Pieces(found.pieces),
        next(iter(found.junctions), None),
        next(iter(found.beside), None),
        tuple(_unused(join, law, alone=word is None)),
        tuple(found.faults),
    )


def faults(request: Tree, shape: Topology) -> list[Fault]:
    """Return what joins state that the laws of their junctions do not use."""
    out, law = [], request.model.junctions
    for index, run in enumerate(request.runs):
        parent = shape.parents[index]
        alone = parent >= 0 and len(shape.children[parent]) == 1
        out += placed(_unused(run.join, law, alone=alone), f"runs[{index}]")
    return out


def _unused(join: Join | None, law: str, *, alone: bool) -> list[Fault]:
    """Return a fault for each thing that a join states and the law of its junction does not use."""
    names: tuple[str, ...]
    if isinstance(join, Straight) and not _charges_change(law, alone=alone):
        names = ("taper_length", "coefficient")
        charges = "nothing at a junction" if law == "none" else "no change of size where runs meet"
    elif isinstance(join, Branch):
        names = _foreign(law)
        charges = "no such number"
    else:
        return []
    detail = f"`{law}` knows {charges}; leave it out"
    return [
        Fault(path=f"join.{name}", code="not-for-this-law", detail=detail)
        for name in names
        if getattr(join, name) is not None
    ]


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
    _change(found, request.runs[index].join, request.model.junctions, (end, into), alone=alone)


def _change(found: Found, join: Join | None, law: str, bores: tuple[float, float], *, alone: bool) -> None:
    end, into = bores
    if not _charges_change(law, alone=alone) or isinstance(join, Branch) or abs(end - into) <= 1.0e-9 * into:
        return
    length = None if join is None or join.taper_length is None else float(join.taper_length)
    if law == "entry-angle" and length is None and (join is None or join.coefficient is None):
        if end < into:
            add(found, "change", _PATH, "entry-angle", end, catalogue.entry_angle_alone(end, into))
        return
    if join is not None and join.coefficient is not None:
        found.pieces.append(Piece("change", _PATH, "known-coefficient", join.coefficient, min(end, into)))
        return
    loss = ask(found, _PATH, lambda: catalogue.change_of_size(end, into, length))
    if loss is not None:
        add(found, "change", _PATH, "taper" if length else "abrupt-change", min(end, into), loss)


def arm(found: Found, request: Tree, shape: Topology, index: int, end: float, into: float) -> Arm:
    """Return how a run enters its junction under the laws of the request's model."""
    word = word_of(request, shape, shape.parents[index])
    return _arm(found, request.runs[index].join, request.model.junctions, word, (end, into))


def arm_by(request: Tree, shape: Topology, index: int, join: Join, end: float, into: float) -> Arm:
    """Return how a run that ends in a bore [m] would enter its junction by a join, were that in place of its own."""
    word = word_of(request, shape, shape.parents[index])
    return _joined(join, request.model.junctions, word, end, into, request.units).arm


def _arm(
    found: Found, join: Join | None, law: JunctionModel, word: Arrangement | None, bores: tuple[float, float]
) -> Arm:
    if word is None or law == "none":
        return Arm()
    if law == "entry-angle":
        return _entry_angle(found, join)
    if isinstance(join, Branch):
        return _branch(found, join, (bores[0] / bores[1]) ** 2, word, law)
    return _straight()


@cache
def _straight() -> Arm:
    """Return the arm of a straight run under a flow-ratio law."""
    return Arm(constants=catalogue.flow_ratio_constants())


def _branch(found: Found, join: Branch, ratio: float, word: Arrangement, law: Edition) -> Arm:
    """Return the arm of a branch under a flow-ratio law; the caller's own numbers stand in for the catalogue's."""
    angle = float(join.angle)
    out = plain_branch(angle, ratio)
    beside_straight = word != "symmetrical"
    if join.factor is None or (join.straight is None and beside_straight):
        try:
            out, known = catalogued_branch(angle, ratio, word, law)
        except OutsideTableError as error:
            at = f"{_PATH}.{error.name}" if hasattr(join, error.name) else _PATH
            found.fault(at, "outside-range", f"{error.name} {must_be(error, found.preset)}")
            return Arm()
        if join.factor is None:
            found.junctions.append(Junction(known.entry, known.passport, known.outside))
        if join.straight is None and beside_straight:
            found.beside.append(Beside(*known.straight))
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


def _entry_angle(found: Found, join: object) -> Arm:
    """Return the arm of the velocity-pressure method."""
    if not isinstance(join, Branch):
        return Arm()
    angle = float(join.angle)
    cosine = math.cos(math.radians(angle))
    if join.entry_factor is not None:
        return Arm(is_branch=True, cosine=cosine, entry_factor=join.entry_factor)
    loss = ask(found, _PATH, lambda: catalogue.entry_factor(angle), join)
    factor = 0.0 if loss is None else loss.coefficient
    if loss is not None:
        found.junctions.append(Junction(loss.entry, loss.passport, loss.outside, factor))
    return Arm(is_branch=True, cosine=cosine, entry_factor=factor)
