"""Fittings of a run, in the direction of flow, told apart by `type`."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from msgspec import Meta

from airbough.wire.base import (
    Asked,
    Coefficient,
    Count,
    Ratio,
    Word,
)
from airbough.wire.quantity import (
    Angle,
    Diameter,
    FittingLength,
    Length,
    Share,
)

Construction: TypeAlias = Annotated[
    Word | None,
    Meta(description="How the turn is made, a word of the catalogue. Left out: its usual one, and a note says so."),
]
RadiusRatio: TypeAlias = Annotated[
    Ratio | None,
    Meta(description="Centreline radius over diameter, not of mitered turns. Left out: the catalogue's usual one."),
]

OwnCoefficient: TypeAlias = Annotated[
    Coefficient | None, Meta(description="The caller's own, in place of the catalogue's.")
]

Along: TypeAlias = Annotated[
    Length | None,
    Meta(
        description="Length of the run's duct before it. Left out: none where it is the run's first fitting, all where "
        "it is the last; between others it is needed."
    ),
]


class Elbow(Asked, tag_field="type", tag="elbow", kw_only=True):
    """A round elbow."""

    angle: Angle
    radius_ratio: RadiusRatio = None
    construction: Construction = None
    count: Count = 1


class ElbowPair(Asked, tag_field="type", tag="elbow-pair", kw_only=True):
    """Two equal elbows with a straight spacer that turn the same way: `angle` is the whole turn."""

    angle: Angle
    radius_ratio: RadiusRatio = None
    construction: Construction = None
    spacer_ratio: Annotated[Ratio, Meta(description="Length of the spacer over diameter.")] = 0.0
    count: Count = 1


class Offset(Asked, tag_field="type", tag="offset", kw_only=True):
    """Two equal elbows that turn opposite ways; `angle` is that of each."""

    angle: Angle
    radius_ratio: RadiusRatio = None
    construction: Construction = None
    spacer_ratio: Annotated[Ratio, Meta(description="Length of the straight between them over diameter.")] = 0.0
    count: Count = 1


class Taper(Asked, tag_field="type", tag="taper", kw_only=True):
    """A gradual change of diameter; the coefficient refers to the smaller one."""

    upstream_diameter: Diameter
    downstream_diameter: Diameter
    length: FittingLength
    coefficient: OwnCoefficient = None
    at: Along = None


class AbruptChange(Asked, tag_field="type", tag="abrupt-change", kw_only=True):
    """A sudden change of diameter; the coefficient refers to the smaller one."""

    upstream_diameter: Diameter
    downstream_diameter: Diameter
    coefficient: OwnCoefficient = None
    at: Along = None


class HoseBend(Asked, tag_field="type", tag="hose-bend", kw_only=True):
    """A bend of the flexible hose itself."""

    angle: Angle
    radius_ratio: Ratio
    count: Count = 1


class TeeAsElbow(Asked, tag_field="type", tag="tee-as-elbow", kw_only=True):
    """A square tee used as a turn, its third opening capped."""

    direction: Annotated[
        Literal["enters-by-side", "leaves-by-side"] | None, Meta(description="Left out: `enters-by-side`.")
    ] = None
    count: Count = 1


class SlideGateFitting(Asked, tag_field="type", tag="slide-gate", kw_only=True):
    """A slide gate that stays as it is set (a balancing gate); `opening` is the open share of the duct's area."""

    opening: Share


class KnownCoefficient(Asked, tag_field="type", tag="known-coefficient", kw_only=True):
    """A loss coefficient of the caller's own, on the run's velocity pressure (at an entry: the port's)."""

    coefficient: Coefficient
    count: Count = 1


class FreeDischarge(Asked, tag_field="type", tag="free-discharge", kw_only=True):
    """The open end of a discharge duct: its velocity pressure is lost."""

    coefficient: OwnCoefficient = None


class StackHead(Asked, tag_field="type", tag="stack-head", kw_only=True):
    """A vertical discharge stack head that keeps rain out without a cap."""

    outlet_ratio: Annotated[Ratio | None, Meta(description="Outlet's diameter over the run's. Left out: 1.")] = None


class WeatherCap(Asked, tag_field="type", tag="weather-cap", kw_only=True):
    """A cap over a vertical discharge; `clearance_ratio` is its height over the end divided by the diameter."""

    clearance_ratio: Ratio


RunFitting: TypeAlias = (
    Elbow | ElbowPair | Offset | Taper | AbruptChange | HoseBend | TeeAsElbow | SlideGateFitting | KnownCoefficient
)
"""A fitting that may stand in a run."""

DischargeFitting: TypeAlias = RunFitting | FreeDischarge | StackHead | WeatherCap
"""A fitting that may stand in a piece after the fan."""
