"""What the stock has for a layout and at what price, as sizing would buy it: one function for each kind of piece."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from airbough_service.questions.sizing.kits import Joining
from airbough_service.questions.sizing.stock import Kind, Shelf, Sought, nanometres

Numbers = dict[tuple[int, ...], float]


@dataclass(frozen=True, slots=True)
class Shopping:
    """Prices of pieces of one construction; infinite where the stock has none.

    Attributes:
        shelf: the stock.
        duct: construction of the stiff duct.
        radius_ratio: of elbows.
        wye: angle of branches, deg.
    """

    shelf: Shelf
    duct: str | None
    radius_ratio: float
    wye: float

    @property
    def sizes(self) -> list[float]:
        """Diameters of stiff duct, m, rising."""
        return self.shelf.sizes(self.duct)

    def length(self, size: float) -> float:
        """Return the price of a metre."""
        part = self.shelf.duct(self.duct, size, 1.0)
        return math.inf if part is None else part.cost

    def elbow(self, size: float, angle: float) -> float:
        """Return the price of an elbow of an angle, deg."""
        kind = Kind("elbow", (nanometres(size),), angle)
        part = self.shelf.fitting(Sought(kind, self.duct, self.radius_ratio))
        return math.inf if part is None else part.cost

    def gate(self, size: float) -> float:
        """Return the price of a gate."""
        part = self.shelf.gate(size)
        return math.inf if part is None else part.cost

    def change(self, size: float, into: float) -> float:
        """Return the price of what lies between a run and the one that goes on from it."""
        return self._meeting((True,), (size,), into, None)

    def meeting(self, ahead: float, branch: float, into: float) -> float:
        """Return the price of what two runs meet in, one going straight on."""
        return self._meeting((True, False), (ahead, branch), into, self.wye)

    def _meeting(self, straight: tuple[bool, ...], sizes: tuple[float, ...], into: float, angle: float | None) -> float:
        return self.cheapest(Joining(straight, angle, self.duct, None), sizes, into)

    def cheapest(self, joining: Joining, sizes: Sequence[float], into: float) -> float:
        """Return the price of what runs meet in."""
        ends = tuple((nanometres(size),) for size in sizes)
        ways = joining.ways(ends, (nanometres(into),), self.shelf)
        return min((float(price) for price in ways.costs), default=math.inf)
