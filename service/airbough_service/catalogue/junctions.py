"""Laws of converging junctions as the catalogue describes them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Final, Literal, TypeAlias

from airbough_service.catalogue import reading
from airbough_service.catalogue.families import (
    families,
    ranges_of,
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

_FAMILIES: Final = {"wye": "flow-ratio", "symmetrical": "symmetrical-wye", "double": "double-wye"}
_NO_STEP: Final = 9.0


@dataclass(frozen=True, slots=True)
class BranchLaw:
    """The flow-ratio law of one branch: A(q) = factor_low + factor_slope q below factor_step, factor_high above.

    Attributes:
        cosine: of the angle of entry.
        factor_low: at flow ratio 0.
        factor_slope: below the step.
        factor_high: above the step.
        factor_step: flow ratio of the step; above 1 there is none.
        tee: share of the square tee's own law in the straight run's coefficient: 1 at 90 degrees, 0 for a wye.
        constants: of the law, for all runs that meet.
        passport: where the law comes from.
        entry: catalogue entry.
        outside: what lies beyond the published range.
    """

    cosine: float
    factor_low: float
    factor_slope: float
    factor_high: float
    factor_step: float
    tee: float
    constants: FlowRatioConstants
    passport: Passport
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


@lru_cache(maxsize=4096)  # bounded: angles and bores are the caller's
def branch_law(angle: float, area_ratio: float, arrangement: Arrangement) -> BranchLaw:
    """Return the flow-ratio law of a branch.

    Args:
        angle: between the branch and the common run [deg].
        area_ratio: branch area over common area.
        arrangement: straight and one branch, two equal branches, or straight and two branches.

    Raises:
        OutsideTableError: an angle or area ratio that no law answers.
    """
    type_ = _FAMILIES[arrangement]
    limits = families()["flow-ratio"].parameters
    for name, value in (("angle", angle), ("area_ratio", area_ratio)):
        if not limits[name].minimum <= value <= limits[name].maximum:
            raise OutsideTableError(name, value, limits[name].minimum, limits[name].maximum)
    block = reading.read("junctions")[type_]
    share = _share_of_correction(arrangement, angle) * _share_past_area_limit(area_ratio)
    correction = reading.read("junctions")["flow-ratio"]["correction"]
    return BranchLaw(
        cosine=math.cos(math.radians(angle)) if angle != 90.0 else 0.0,
        factor_low=1.0 + share * (correction["intercept"] - 1.0),
        factor_slope=share * correction["slope"],
        factor_high=1.0 + share * (correction["value_above_step"] - 1.0),
        factor_step=correction["flow_ratio_step"] if share else _NO_STEP,
        tee=_share_of_tee(angle) if arrangement == "wye" else 0.0,
        constants=flow_ratio_constants(arrangement),
        passport=_passport(arrangement, angle, block),
        entry=type_,
        outside=_outside(arrangement, angle, area_ratio, block),
    )


def flow_ratio_constants(arrangement: Arrangement) -> FlowRatioConstants:
    """Return the constants of the flow-ratio law for an arrangement, as printed."""
    blocks = reading.read("junctions")
    tee = blocks["flow-ratio"]["tee_straight"]
    return FlowRatioConstants(
        momentum=blocks[_FAMILIES[arrangement]]["momentum"]["constant"],
        tee_linear=tee["linear"],
        tee_quadratic=tee["quadratic"],
        join=blocks["flow-ratio"]["correction"]["join_half_width"],
    )


def straight_passport(tee: float) -> Passport:
    """Return where the straight run's coefficient comes from; `tee` as in the branch's law."""
    block = reading.read("junctions")["flow-ratio"]
    return passport_of(block["tee_straight" if tee > 0.0 else "momentum"])


def close_coupled_ratio() -> float:
    """Return the spacing, in diameters, below which fittings interact."""
    return float(reading.read("junctions")["close-coupling"]["spacing"]["diameters"])


def _share_of_tee(angle: float) -> float:
    """Return 0 up to the steepest wye, rising in a line to 1 at the square tee."""
    block = reading.read("junctions")["flow-ratio"]["tee_straight"]
    low: float = block["from_angle"]
    high: float = block["to_angle"]
    return min(max((angle - low) / (high - low), 0.0), 1.0)


def _share_past_area_limit(area_ratio: float) -> float:
    """Return how much of the correction applies: all between the join at its limit and the widest published branch.

    Past the published range it fades out: kept on, it would leave junctions of a branch much wider than the main
    without any distribution of the flow that meets both pressures.
    """
    block = reading.read("junctions")["flow-ratio"]
    half: float = block["area_step"]["join_half_width"]
    limit: float = block["area_step"]["area_ratio_limit"]
    widest: float = block["wider_branch"]["from_area_ratio"]
    gone: float = block["wider_branch"]["to_area_ratio"]
    rising = min(max((area_ratio - limit + half) / (2.0 * half), 0.0), 1.0)
    return rising * min(max((gone - area_ratio) / (gone - widest), 0.0), 1.0)


def _share_of_correction(arrangement: Arrangement, angle: float) -> float:
    """Return 1 for a wye, 0 for a double wye; a symmetrical one goes from 0 at its steepest angle to 1 head on."""
    if arrangement != "symmetrical":
        return 1.0 if arrangement == "wye" else 0.0
    block = reading.read("junctions")["symmetrical-wye"]
    steepest: float = block["momentum"]["published"]["angle"][1]
    tee: float = block["head_on_tee"]["at"]["angle"]
    return min(max((angle - steepest) / (tee - steepest), 0.0), 1.0)


def _passport(arrangement: Arrangement, angle: float, block: dict[str, Any]) -> Passport:
    if arrangement == "symmetrical" and angle == 90.0:
        return passport_of(block["head_on_tee"])
    if arrangement == "wye":
        return replace(passport_of(block["correction"]), place=passport_of(block["momentum"]).place)
    return passport_of(block["momentum"])


def _outside(arrangement: Arrangement, angle: float, area_ratio: float, block: dict[str, Any]) -> tuple[Outside, ...]:
    values = {"angle": angle, "area_ratio": area_ratio}
    if arrangement == "wye":
        ranges = ranges_of(block["correction"])
        low, high = block["parameters"]["angle"]["published"]
        ranges["angle"] = (low, high) if angle == high else (low, block["tee_straight"]["from_angle"])
    else:
        ranges = ranges_of(block["momentum"])
    if arrangement == "symmetrical" and angle == 90.0:
        ranges = ranges_of(block["head_on_tee"])
    return beyond(ranges, values)
