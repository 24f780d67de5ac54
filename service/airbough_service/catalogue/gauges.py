"""Walls of ducts: sheet thickness by gauge, elastic constants, and the allowances for buckling under suction."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from airbough_service.catalogue import reading
from airbough_service.catalogue.passports import (
    Passport,
    passport_of,
)

COATED = "galvanized"
UNCOATED = "uncoated-steel"
GALVANIZED = "galvanized-steel"


@dataclass(frozen=True, slots=True)
class Material:
    """An elastic material: modulus [Pa], Poisson's ratio, density [kg/m3]."""

    id: str
    title: str
    elastic_modulus: float
    poisson_ratio: float
    density: float
    passport: Passport


@dataclass(frozen=True, slots=True)
class Sheet:
    """Sheet of one gauge: nominal thickness, and the least that the tolerance allows where it is published [m].

    Attributes:
        gauge: its number.
        nominal, minimum: with the coating.
        passport: of both.
        coating: thickness of the zinc on both sides together [m]; 0 where there is none.
    """

    gauge: int
    nominal: float
    minimum: float | None
    passport: Passport
    coating: float = 0.0

    @property
    def judged(self) -> float:
        """Thickness that strength is judged with: the least where it is known, less the zinc [m]."""
        return (self.nominal if self.minimum is None else self.minimum) - self.coating


@dataclass(frozen=True, slots=True)
class Buckling:
    """Allowances on the buckling pressure of an ideal shell, and where the laws come from."""

    safety_factor: float
    knockdown: float
    passport: Passport
    reserve: Passport
    long: Passport
    short: Passport


def material(word: str) -> Material:
    """Return a material; raises UnknownWordError with the nearest words."""
    block = reading.find("gauges", "material", word)
    return Material(
        id=word,
        title=block["title"],
        elastic_modulus=block["elastic_modulus"],
        poisson_ratio=block["poisson_ratio"],
        density=block["density"],
        passport=passport_of(block),
    )


def has_material(word: str) -> bool:
    """Return whether elastic constants of this material are held."""
    return word in reading.by_id("gauges", "material")


@cache
def sheets(word: str) -> tuple[Sheet, ...]:
    """Return every gauge of a material's sheet, thinnest first; empty where no gauge table is held for it."""
    table = {GALVANIZED: COATED, "carbon-steel": UNCOATED}.get(word)
    if table is None:
        return ()
    block = reading.find("gauges", "sheet", table)
    passport = passport_of(block)
    zinc = coating()[0] if table == COATED else 0.0
    found = (Sheet(row["gauge"], row["nominal"], row.get("minimum"), passport, zinc) for row in block["thicknesses"])
    return tuple(sorted(found, key=lambda sheet: sheet.nominal))


def sheet(word: str, gauge: int) -> Sheet | None:
    """Return one gauge of a material's sheet, or None where it is not held."""
    return next((row for row in sheets(word) if row.gauge == gauge), None)


@cache
def coating() -> tuple[float, Passport]:
    """Return the thickness of the zinc on galvanized sheet, both sides together [m], and where it comes from."""
    block = reading.read("gauges")["coating"]
    return block["thickness"], passport_of(block)


@cache
def buckling() -> Buckling:
    """Return the allowances on an ideal shell's buckling pressure."""
    block = reading.read("gauges")["buckling"]
    return Buckling(
        block["safety_factor"],
        block["reserve"]["knockdown"],
        passport_of(block),
        passport_of(block["reserve"]),
        passport_of(block["long"]),
        passport_of(block["short"]),
    )
