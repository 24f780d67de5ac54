"""Published tables: values over one to three axes, read linearly between the printed points."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

from airbough_service.core.errors import OutsideTableError

Nested: TypeAlias = "float | Sequence[Nested]"


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis of a table.

    Attributes:
        name: what varies along it.
        values: rising points.
        held: outside its ends the value at the end holds; else it is refused.
    """

    name: str
    values: tuple[float, ...]
    held: bool = False

    def place(self, value: float) -> tuple[int, float]:
        """Return the index of the point at or below the value, and the share of the way to the next.

        Raises:
            OutsideTableError: beyond the ends of an axis that is not held.
        """
        points = self.values
        if not points[0] <= value <= points[-1]:
            if not self.held or math.isnan(value):
                raise OutsideTableError(self.name, value, points[0], points[-1])
            value = min(max(value, points[0]), points[-1])
        if len(points) == 1:
            return 0, 0.0
        index = min(bisect_right(points, value) - 1, len(points) - 2)
        return index, (value - points[index]) / (points[index + 1] - points[index])


@dataclass(frozen=True, slots=True)
class Table:
    """A published table.

    Attributes:
        axes: none for a single value, up to three.
        values: nested tuples, the first axis outermost.
        logarithmic: read in the logarithms of a single axis and of the values.
    """

    axes: tuple[Axis, ...]
    values: Nested
    logarithmic: bool = False

    def at(self, *coordinates: float) -> float:
        """Return the value at these coordinates, one for each axis.

        Raises:
            OutsideTableError: where a coordinate lies beyond an axis that is not held.
        """
        if self.logarithmic:
            return self._logarithmic(*coordinates)
        return _read(self.axes, self.values, coordinates)

    def _logarithmic(self, coordinate: float) -> float:
        axis = self.axes[0]
        index, share = axis.place(coordinate)
        values = self.values
        assert not isinstance(values, int | float)
        low, high = values[index], values[index + 1]
        assert not isinstance(low, Sequence)
        assert not isinstance(high, Sequence)
        if share in (0.0, 1.0):
            return float(high if share else low)
        x0, x1 = axis.values[index], axis.values[index + 1]
        return float(low * (high / low) ** (math.log(coordinate / x0) / math.log(x1 / x0)))


def table(axes: Sequence[Axis], values: Nested, logarithmic: bool = False) -> Table:
    """Return a checked, frozen table.

    Raises:
        ValueError: where an axis does not rise, or the values do not fill the axes, or logarithms cannot be taken.
    """
    for axis in axes:
        if not axis.values or any(a >= b for a, b in zip(axis.values, axis.values[1:], strict=False)):
            raise ValueError(f"axis {axis.name} does not rise")
    frozen = _frozen(values, [len(axis.values) for axis in axes])
    if logarithmic and (len(axes) != 1 or min(_flat(frozen)) <= 0.0):
        raise ValueError("logarithms need one axis and values above zero")
    return Table(tuple(axes), frozen, logarithmic)


def _frozen(values: Nested, shape: list[int]) -> Nested:
    if not shape:
        if isinstance(values, Sequence) or not math.isfinite(values):
            raise ValueError("a value is missing, not finite, or nested too deep")
        return float(values)
    if not isinstance(values, Sequence) or len(values) != shape[0]:
        raise ValueError("the values do not fill the axes")
    return tuple(_frozen(value, shape[1:]) for value in values)


def _flat(values: Nested) -> list[float]:
    return [leaf for value in values for leaf in _flat(value)] if isinstance(values, Sequence) else [values]


def _read(axes: Sequence[Axis], values: Nested, coordinates: Sequence[float]) -> float:
    if not axes:
        assert not isinstance(values, Sequence)
        return values
    index, share = axes[0].place(coordinates[0])
    assert isinstance(values, Sequence)
    low = _read(axes[1:], values[index], coordinates[1:])
    if share == 0.0:
        return low
    return low + share * (_read(axes[1:], values[index + 1], coordinates[1:]) - low)
