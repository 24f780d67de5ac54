"""A piece in its place: what it is, where it lies, and the run that asks for it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from airbough_service.catalogue import Duct

ALIKE: Final = 1.0e-6


@dataclass(frozen=True, slots=True)
class Need:
    """A piece of one kind, size and make; bores in m, inlets first, outlet last; angle in degrees; length in m."""

    type: str
    bores: tuple[float, ...]
    angle: float | None = None
    radius_ratio: float | None = None
    construction: str | None = None
    duct: str | None = None
    length: float | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """One piece in its place: a fitting or gate, or a straight of duct (its `straight` says how long).

    The second elbow of a pair is `paired`.
    """

    need: Need
    at: str
    run: str
    upstream_bore: float
    downstream_bore: float
    straight: float | None = None
    stretch: float = 1.0
    hose: bool = False
    wall: float | None = None
    loose: bool = False
    paired: bool = False

    @property
    def elbow(self) -> bool:
        """Whether it turns the air and so asks for a hanger of its own."""
        return self.need.type == "elbow"


@dataclass(frozen=True, slots=True)
class Spot:
    """Who asks: the run or discharge piece and the duct that its fittings are made of."""

    id: str
    at: str
    duct: Duct | None
    wall: float | None = None
    stretch: float = 1.0
    assumed: bool = False

    @property
    def word(self) -> str | None:
        """The duct's word, where it is no hose: fittings are not made of hose."""
        return None if self.duct is None or self.duct.kind == "hose" else self.duct.id

    @property
    def hose(self) -> bool:
        """Whether the run is a hose."""
        return self.duct is not None and self.duct.kind == "hose"

    def part(self, need: Need, at: str, before: float, after: float) -> Part:
        """Return a part of this run."""
        return Part(need, at, self.id, before, after)

    def straight(self, length: float, bore: float) -> Part:
        """Return a straight of this run's duct."""
        word = None if self.duct is None else self.duct.id
        need = Need("hose" if self.hose else "duct", (bore,), duct=word)
        return Part(need, self.at, self.id, bore, bore, length, self.stretch, self.hose, self.wall)
