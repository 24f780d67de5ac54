"""How each run enters its junction, and the change of size of a straight run there."""

from __future__ import annotations

import math

from airbough.wire.tree import (
    Branch,
    BranchFactor,
    Straight,
    Tree,
)
from airbough_service import catalogue
from airbough_service.catalogue import Arrangement
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.network.tree import Arm
from airbough_service.shop.pieces import (
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
    straights = sum(isinstance(request.runs[index].join, Straight) for index in arms)
    if len(arms) == 2:
        return "wye" if straights == 1 else "symmetrical"
    return "double"


def change(found: Found, request: Tree, index: int, end: float, into: float) -> None:
    """Add a straight run's change of size, where its bore differs from that of the run it flows into."""
    join = request.runs[index].join
    if request.model.junctions == "none" or isinstance(join, Branch) or abs(end - into) <= 1.0e-9 * into:
        return
    length = None if join is None or join.taper_length is None else float(join.taper_length)
    path = f"runs[{index}].join"
    if join is not None and join.coefficient is not None:
        found.pieces.append(Piece("change", path, "known-coefficient", join.coefficient, min(end, into)))
        return
    loss = ask(found, path, lambda: catalogue.change_of_size(end, into, length))
    if loss is not None:
        add(found, "change", path, "taper" if length else "abrupt-change", min(end, into), loss)


def arm(found: Found, request: Tree, shape: Topology, index: int, end: float, into: float) -> Arm:
    """Return how a run enters its junction under the laws of the request's model."""
    arms = shape.children[shape.parents[index]]
    join = request.runs[index].join
    path = f"runs[{index}].join"
    if len(arms) < 2 or request.model.junctions == "none":
        return Arm()
    if request.model.junctions == "entry-angle":
        return _entry_angle(found, path, join)
    word = arrangement(request, arms)
    if isinstance(join, Branch):
        ratio = (end / into) ** 2
        if join.factor is not None:
            return _own_law(join, join.factor, ratio, word)
        try:
            law = catalogue.branch_law(float(join.angle), ratio, word)
        except OutsideTableError as error:
            at = f"{path}.{error.name}" if hasattr(join, error.name) else path
            found.fault(at, "outside-range", f"{error.name} {must_be(error, found.preset)}")
            return Arm()
        found.junctions.append(Junction(path, law.entry, law.passport, law.outside))
        return Arm(
            is_branch=True,
            cosine=law.cosine,
            area_ratio=1.0 / ratio,
            factor=(law.factor_low, law.factor_slope, law.factor_high, law.factor_step),
            constants=law.constants,
        )
    own = None if join is None else join.tee_share
    tee = _tee_share(request, arms, word) if own is None else own
    return Arm(tee=tee, constants=catalogue.flow_ratio_constants(word))


def _own_law(join: Branch, factor: BranchFactor, ratio: float, word: Arrangement) -> Arm:
    """Return the arm of a branch whose factor is the caller's own."""
    angle = float(join.angle)
    return Arm(
        is_branch=True,
        cosine=math.cos(math.radians(angle)) if angle != 90.0 else 0.0,
        area_ratio=1.0 / ratio,
        factor=(factor.low, factor.slope, factor.high, factor.step),
        constants=catalogue.flow_ratio_constants(word),
    )


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


def _tee_share(request: Tree, arms: tuple[int, ...], word: Arrangement) -> float:
    """Return the share of the square tee's straight law in a straight run's coefficient."""
    if word != "wye":
        return 0.0
    joins = (request.runs[index].join for index in arms)
    branch = next(join for join in joins if isinstance(join, Branch))
    area_ratio = 1.0  # of no weight: the choice of the tee's law goes by the angle
    return float(catalogue.branch_law(float(branch.angle), area_ratio, word).tee)
