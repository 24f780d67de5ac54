"""How air enters a hood or port, told apart by `type`; the coefficient refers to the port's velocity pressure."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from msgspec import Meta

from airbough.wire.base import (
    Asked,
    Coefficient,
    Ratio,
)
from airbough.wire.quantity import (
    Angle,
    Diameter,
    Share,
)


class PlainOpening(Asked, tag_field="type", tag="plain-opening", kw_only=True):
    """The open end of a duct, no flange."""


class FlangedOpening(Asked, tag_field="type", tag="flanged-opening", kw_only=True):
    """The end of a duct in a flange or a flat machine wall."""


class Bellmouth(Asked, tag_field="type", tag="bellmouth", kw_only=True):
    """A rounded inlet; `radius_ratio` is the rounding's radius over diameter."""

    radius_ratio: Ratio | None = None
    setting: Annotated[Literal["free", "in-panel"] | None, Meta(description="Left out: `free`.")] = None


class TaperedHood(Asked, tag_field="type", tag="tapered-hood", kw_only=True):
    """A hood that narrows to the port; `included_angle` is the whole angle between opposite sides."""

    included_angle: Angle
    shape: Literal["round", "rectangular"]


class SharpOrifice(Asked, tag_field="type", tag="sharp-orifice", kw_only=True):
    """A sharp-edged hole through which air enters the port."""

    orifice_diameter: Annotated[Diameter, Meta(description="At most the port's diameter.")]


class Slot(Asked, tag_field="type", tag="slot", kw_only=True):
    """A slot hood with a plenum; `area_share` is the slot's area over the port's."""

    area_share: Share
    duct_entry: Annotated[
        Coefficient | None, Meta(description="From the plenum into the port. Left out: the catalogue's.")
    ] = None


class WheelHoodStraight(Asked, tag_field="type", tag="wheel-hood-straight", kw_only=True):
    """A wheel or belt hood whose duct leaves without a taper."""


class WheelHoodTapered(Asked, tag_field="type", tag="wheel-hood-tapered", kw_only=True):
    """A wheel or belt hood whose duct leaves through a taper."""


class KnownEntry(Asked, tag_field="type", tag="known-coefficient", kw_only=True):
    """An entry coefficient of the caller's own, on the port's velocity pressure."""

    coefficient: Coefficient


Entry: TypeAlias = (
    PlainOpening
    | FlangedOpening
    | Bellmouth
    | TaperedHood
    | SharpOrifice
    | Slot
    | WheelHoodStraight
    | WheelHoodTapered
    | KnownEntry
)
