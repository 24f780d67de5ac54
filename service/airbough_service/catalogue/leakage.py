"""Leakage classes of duct walls."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from airbough_service.catalogue import reading
from airbough_service.catalogue.passports import (
    Passport,
    passport_of,
)


@dataclass(frozen=True, slots=True)
class LeakageClass:
    """A class of tightness: flow for each area = class * class_one * pressure^exponent, SI.

    Attributes:
        id: the word.
        title: what it is.
        leakage_class: the number of the class.
        coefficient: class * class_one [m3/s for each m2 at 1 Pa].
        exponent: of the pressure.
        passport: of the class.
        law: where the law comes from.
    """

    id: str
    title: str
    leakage_class: float
    coefficient: float
    exponent: float
    passport: Passport
    law: Passport


def leakage_class(word: str) -> LeakageClass:
    """Return a class; raises UnknownWordError with the nearest words."""
    block, law = reading.find("leakage", "class", word), reading.read("leakage")["law"]
    number = float(block["leakage_class"])
    return LeakageClass(
        id=word,
        title=block["title"],
        leakage_class=number,
        coefficient=number * law["coefficient_of_class_one"],
        exponent=law["exponent"],
        passport=passport_of(block),
        law=passport_of(law),
    )


@cache
def all_leakage_classes() -> tuple[LeakageClass, ...]:
    """Return every class in the catalogue's order."""
    return tuple(map(leakage_class, reading.by_id("leakage", "class")))
