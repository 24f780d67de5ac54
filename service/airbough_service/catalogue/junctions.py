"""Laws of converging junctions as the catalogue describes them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import Any, Final, Literal, TypeAlias, get_args

from airbough_service.catalogue import reading
from airbough_service.catalogue.families import (
    families,
    ranges_of,
    table_of,
)
from airbough_service.catalogue.passports import (
    Loss,
    Outside,
    Passport,
    beyond,
    passport_of,
)
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.laws.junction import FlowRatioConstants

Arrangement: TypeAlias = Literal["wye", "symmetrical", "double"]
Edition: TypeAlias = Literal["flow-ratio", "flow-ratio-third-edition"]

EDITIONS: Final[tuple[Edition, ...]] = get_args(Edition)
"""Laws by flow ratio, area ratio and angle, by their names under `model.junctions`."""

_FAMILIES: Final = {"symmetrical": "symmetrical-wye", "double": "double-wye"}
_NO_STEP: Final = 9.0
_BY_MEASUREMENT: Final = "flow-ratio"


@dataclass(frozen=True, slots=True)
class BranchLaw:
    """The flow-ratio law of one branch, and what the branch costs the straight run.

    Attributes:
        cosine: of the angle of entry.
        factor: (low, slope, high, step): low + slope * flow ratio below the step, high above; past 1 there is none.
        lift: 1 where the factor is on 1 + the momentum form, 0 where it is on that form itself.
        linear: the straight run's loss per flow ratio of this branch.
        drag: share of the branch's momentum that the straight run feels.
        constants: of the law, for all runs that meet.
        passport: where the branch's law comes from.
        straight: the uncertain term of the straight run, and where it comes from.
        entry: catalogue entry.
        outside: what lies beyond the published range.
    """

    cosine: float
    factor: tuple[float, float, float, float]
    lift: float
    linear: float
    drag: float
    constants: FlowRatioConstants
    passport: Passport
    straight: tuple[str, Passport]
    entry: str
    outside: tuple[Outside, ...]


def entry_factor(angle: float) -> Loss:
    """Return the velocity-pressure method's factor on the branch's own velocity pressure at this angle [deg].

    Raises:
        OutsideTableError: where the table ends.
    """
    of = families()["entry-angle"]
    part = of.tables["branch"]
    values = {"angle": angle}
    return Loss(part.table.at(angle), "entry-angle/branch", part.passport, beyond(part.published, values))


def entry_angle_alone(bore: float, into: float) -> Loss:
    """Return what a straight run alone loses into a wider one by the law of its junction, on its own velocity pressure.

    Static pressure does not rise in the velocity-pressure method, so that what the velocity pressure falls is lost.
    """
    block = reading.read("junctions")["entry-angle"]["alone"]
    return Loss(max(0.0, 1.0 - (bore / into) ** 4), "entry-angle/alone", passport_of(block))


@lru_cache(maxsize=4096)  # bounded: angles and bores are the caller's
def branch_law(
    angle: float, area_ratio: float, arrangement: Arrangement, edition: Edition = _BY_MEASUREMENT
) -> BranchLaw:
    """Return the flow-ratio law of a branch.

    Args:
        angle: between the branch and the common run [deg].
        area_ratio: branch area over common area.
        arrangement: straight and one branch, two equal branches, or straight and two branches.
        edition: by its name under `model`.

    Raises:
        OutsideTableError: an angle or area ratio that no law answers.
    """
    limits = families()[edition].parameters
    for name, value in (("angle", angle), ("area_ratio", area_ratio)):
        if not limits[name].minimum <= value <= limits[name].maximum:
            raise OutsideTableError(name, value, limits[name].minimum, limits[name].maximum)
    law = _measured(angle, area_ratio) if edition == _BY_MEASUREMENT else _third(angle, area_ratio, arrangement)
    return replace(
        law,
        passport=_carried_over(law.passport, arrangement),
        entry=_FAMILIES.get(arrangement, edition),
        outside=_outside(arrangement, angle, area_ratio, edition),
    )


@cache
def flow_ratio_constants() -> FlowRatioConstants:
    """Return the constants of the flow-ratio law, as printed."""
    block = reading.read("junctions")["flow-ratio"]
    return FlowRatioConstants(momentum=block["momentum"]["constant"], join=block["tee"]["join_half_width"])


@cache
def close_coupled_ratio() -> float:
    """Return the spacing, in diameters, below which fittings interact."""
    return float(reading.read("junctions")["close-coupling"]["spacing"]["diameters"])


def _measured(angle: float, area_ratio: float) -> BranchLaw:
    """Return the law by measurement: of a wye to its steepest angle, from there in a line to that of the tee."""
    block = reading.read("junctions")["flow-ratio"]
    wye, tee, beside = block["wye"], block["tee"], block["wye_straight"]
    steep = share_of_tee(angle)
    shallow = wye["shallow"]
    full = _part_of_way(angle, shallow["from_angle"], shallow["to_angle"])
    factor = 1.0 - full * (1.0 - table_of(wye).at(area_ratio))
    pieces = zip((factor, 0.0, factor), _pieces(tee, table_of(tee).at(area_ratio)), strict=True)
    narrow = tee["spread_narrow"]
    passports = passport_of(wye), passport_of(tee)
    if area_ratio < narrow["below_area_ratio"]:
        passports = passports[0], replace(passports[1], spread=narrow["spread"])
    return _law(
        angle,
        tuple((1.0 - steep) * one + steep * other for one, other in pieces),
        step=tee["flow_ratio_step"] if steep > 0.0 else _NO_STEP,
        lift=(1.0 - steep) * wye["lift"],
        linear=(1.0 - steep) * beside["linear"] + steep * block["tee_straight"]["linear"],
        drag=table_of(beside).at(angle),
        passport=_between(*passports, steep),
        straight=_straight("wye_straight", beside, steep),
    )


def _third(angle: float, area_ratio: float, arrangement: Arrangement) -> BranchLaw:
    """Return the law of the third edition; a symmetrical wye has the factor only towards the head-on tee."""
    block = reading.read("junctions")["flow-ratio-third-edition"]
    correction, beside = block["correction"], block["momentum_straight"]
    steep, share = share_of_tee(angle), table_of(correction).at(area_ratio)
    if arrangement == "symmetrical":
        head_on = reading.read("junctions")["symmetrical-wye"]["head_on_tee"]
        share *= _part_of_way(angle, head_on["from_angle"], head_on["at"]["angle"])
    tee_straight = reading.read("junctions")["flow-ratio"]["tee_straight"]
    return _law(
        angle,
        _pieces(correction, share),
        step=correction["flow_ratio_step"] if share > 0.0 else _NO_STEP,
        lift=0.0,
        linear=(1.0 - steep) * beside["linear"] + steep * tee_straight["linear"],
        drag=(1.0 - steep) * beside["drag"],
        passport=passport_of(correction),
        straight=_straight("momentum_straight", beside, steep),
    )


def _law(
    angle: float,
    pieces: tuple[float, ...],
    step: float,
    lift: float,
    linear: float,
    drag: float,
    passport: Passport,
    straight: tuple[str, Passport],
) -> BranchLaw:
    low, slope, high = pieces
    cosine = math.cos(math.radians(angle)) if angle != 90.0 else 0.0
    constants = flow_ratio_constants()
    return BranchLaw(cosine, (low, slope, high, step), lift, linear, drag, constants, passport, straight, "", ())


def _pieces(block: dict[str, Any], share: float) -> tuple[float, float, float]:
    """Return a share of Table 7-1's factor: at flow ratio 0, its slope, and above the step."""
    low, high = block["intercept"], block["value_above_step"]
    return 1.0 + share * (low - 1.0), share * block["slope"], 1.0 + share * (high - 1.0)


def _straight(word: str, block: dict[str, Any], steep: float) -> tuple[str, Passport]:
    """Return the straight run's uncertain term and passport."""
    tee = reading.read("junctions")["flow-ratio"]["tee_straight"]
    if steep == 0.0:
        return word.replace("_", "-"), passport_of(block)
    return "tee-straight", _between(passport_of(block), passport_of(tee), steep)


def _between(one: Passport, other: Passport, share: float) -> Passport:
    """Return the passport of what goes in a line from one law to another."""
    if share in (0.0, 1.0):
        return other if share else one
    spread = max(one.spread, other.spread)
    note = f"in a line between this and {other.source}, {other.place}: unpublished"
    return replace(one, spread=spread, note=note)


def _part_of_way(value: float, low: float, high: float) -> float:
    """Return 0 to `low`, rising in a line to 1 from `high`."""
    return min(max((value - low) / (high - low), 0.0), 1.0)


def share_of_tee(angle: float) -> float:
    """Return 0 up to the steepest wye, rising in a line to 1 at the square tee."""
    block = reading.read("junctions")["flow-ratio"]["tee"]
    return _part_of_way(angle, block["from_angle"], block["to_angle"])


def _carried_over(passport: Passport, arrangement: Arrangement) -> Passport:
    """Return the passport of a branch's law where other runs arrive than it was measured with."""
    if arrangement == "wye":
        return passport
    own = passport_of(reading.read("junctions")[_FAMILIES[arrangement]]["momentum"])
    return replace(passport, spread=max(passport.spread, own.spread), note=f"{own.place}; {passport.note}")


def _outside(arrangement: Arrangement, angle: float, area_ratio: float, edition: Edition) -> tuple[Outside, ...]:
    blocks = reading.read("junctions")
    if arrangement == "wye":
        block = blocks["flow-ratio"]
        ranges = ranges_of(block["wye"])
        low, high = blocks[edition]["parameters"]["angle"]["published"]
        ranges["angle"] = (low, high) if angle == high else (low, block["tee"]["from_angle"])
    else:
        ranges = ranges_of(blocks[_FAMILIES[arrangement]]["momentum"])
    if arrangement == "symmetrical" and angle == 90.0:
        ranges = ranges_of(blocks["symmetrical-wye"]["head_on_tee"])
    return beyond(ranges, {"angle": angle, "area_ratio": area_ratio})
