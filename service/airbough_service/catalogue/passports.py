"""Where numbers come from, and how far they may be trusted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Passport:
    """Where a number comes from.

    Attributes:
        source: id in the bibliography; empty where the caller gave the number.
        place: table, page or section.
        how: `read`, `memory` or `common-practice`; `given` where the caller gave the number.
        spread: typical relative half-width of the central 90 % range.
        note: what else a reader should know.
    """

    source: str
    place: str
    how: str
    spread: float
    note: str | None = None


GIVEN = Passport(source="", place="given by the caller", how="given", spread=0.0)


@dataclass(frozen=True, slots=True)
class Outside:
    """A value beyond the published range of a law that still answers."""

    parameter: str
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Loss:
    """A loss coefficient with its origin.

    Attributes:
        coefficient: on the velocity pressure that the family refers to.
        entry: catalogue entry, such as `elbow/smooth`.
        passport: where the coefficient comes from.
        outside: what lies beyond the published range.
    """

    coefficient: float
    entry: str
    passport: Passport
    outside: tuple[Outside, ...] = ()


def passport_of(block: Mapping[str, Any]) -> Passport:
    """Return the passport of a block of the catalogue."""
    return Passport(**block["passport"])


def beyond(published: Mapping[str, tuple[float, float]], values: Mapping[str, Any]) -> tuple[Outside, ...]:
    """Return every value that lies beyond its published range, allowing for rounding."""
    found = []
    for name, (low, high) in published.items():
        value = values.get(name)
        if value is not None and not low - 1.0e-9 * abs(low) <= value <= high + 1.0e-9 * abs(high):
            found.append(Outside(name, value, low, high))
    return tuple(found)
