"""The fitter's rules of a parts list, with their passports."""

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
    """A rule: a length [m], a count or a share."""

    id: str
    title: str
    value: float
    passport: Passport


def rule(word: str) -> Rule:
    """Return a rule; raises UnknownWordError with the nearest words."""
    block = reading.find("parts_list", "rule", word)
    return Rule(block["id"], block["title"], float(block["value"]), passport_of(block))


@cache
def all_rules() -> tuple[Rule, ...]:
    """Return every rule in the catalogue's order."""
    return tuple(map(rule, reading.by_id("parts_list", "rule")))
