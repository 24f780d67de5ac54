"""Rules of measuring: where the points of a traverse lie, and what makes a place fit for one."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from airbough_service.catalogue import reading
from airbough_service.catalogue.passports import (
    Passport,
    passport_of,
)


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule of points: number on a diameter -> shares of the bore from one wall, rising."""

    id: str
    title: str
    fractions: dict[int, tuple[float, ...]]
    passport: Passport


@dataclass(frozen=True, slots=True)
class Placing:
    """Straight duct before and after the plane, in diameters, and the least bore that the stack method covers [m]."""

    recommended_upstream: float
    recommended_downstream: float
    least_upstream: float
    least_downstream: float
    smallest_diameter: float
    passport: Passport


@dataclass(frozen=True, slots=True)
class Evenness:
    """A profile is even where `share` of the velocity pressures lie above `of_maximum` of the greatest."""

    share: float
    of_maximum: float
    passport: Passport


@dataclass(frozen=True, slots=True)
class Allowance:
    """One number with its origin."""

    value: float
    passport: Passport


@dataclass(frozen=True, slots=True)
class HoodTap:
    """Distance of the static tap from the hood, in diameters."""

    tapered: float
    plain: float
    passport: Passport


def rule(word: str) -> Rule:
    """Return a rule; raises UnknownWordError with the nearest words."""
    block = reading.find("traverse", "rule", word)
    fractions = {row["points"]: tuple(row["fractions"]) for row in block["per_diameter"]}
    return Rule(word, block["title"], fractions, passport_of(block))


@cache
def placing() -> Placing:
    """Return what straight duct a traverse wants."""
    block = reading.read("traverse")["placing"]
    return Placing(
        block["recommended_upstream"],
        block["recommended_downstream"],
        block["least_upstream"],
        block["least_downstream"],
        block["smallest_diameter"],
        passport_of(block),
    )


@cache
def evenness() -> Evenness:
    """Return when a profile is even enough."""
    block = reading.read("traverse")["uniformity"]
    return Evenness(block["share_of_readings"], block["of_maximum"], passport_of(block))


@cache
def disturbed_bias() -> Allowance:
    """Return the bias of a traverse too near a fitting, relative."""
    block = reading.read("traverse")["accuracy"]
    return Allowance(block["bias"], passport_of(block))


@cache
def depth_tolerance() -> Allowance:
    """Return how far a reading may stand from its point, as a share of the bore."""
    block = reading.read("traverse")["depth"]
    return Allowance(block["tolerance"], passport_of(block))


@cache
def instrument() -> Allowance:
    """Return the spread of a single good reading, relative, in velocity."""
    block = reading.read("traverse")["instrument"]
    return Allowance(block["spread"], passport_of(block))


@cache
def hood_tap() -> HoodTap:
    """Return where a hood's static pressure is read."""
    block = reading.read("traverse")["hood_tap"]
    return HoodTap(block["tapered"], block["plain"], passport_of(block))
