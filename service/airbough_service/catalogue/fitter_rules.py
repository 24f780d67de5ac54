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
def room(word: str) -> Rule:
    """Return what decides room: `hole_clearance` round a duct in a wall, or the `collar` of a wye [m]."""
    block = reading.by_id("parts_list", "room")[word]
    return Rule(block["id"], block["title"], float(block["value"]), passport_of(block))


@cache
def workaround(piece: str) -> tuple[str, Passport] | None:
    """Return what serves in place of a piece that nobody sells, and where that is from; None where nothing does."""
    block = reading.by_id("parts_list", "workaround").get(piece)
    return None if block is None else (block["text"], passport_of(block))


@cache
def all_rules() -> tuple[Rule, ...]:
    """Return every rule in the catalogue's order."""
    return tuple(map(rule, reading.by_id("parts_list", "rule")))
