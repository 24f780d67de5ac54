"""Make-up air: openings, the depressurisation that combustion appliances bear, heat."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from airbough_service.catalogue import reading
from airbough_service.catalogue.passports import (
    Passport,
    passport_of,
)


@dataclass(frozen=True, slots=True)
class RoomRules:
    """Numbers for make-up air, each with its origin.

    Attributes:
        discharge_coefficient: of an opening.
        opening: where it comes from.
        crack_exponent: of the flow through cracks.
        cracks: where it comes from.
        allowed: depressurisation where nobody names one [Pa].
        allowance: where it comes from.
        least_fall: share of the exhaust by which it must fall for that to be told.
        specific_heat: of air [J/(kg K)].
        heat: where it comes from.
    """

    discharge_coefficient: float
    opening: Passport
    crack_exponent: float
    cracks: Passport
    allowed: float
    allowance: Passport
    least_fall: float
    specific_heat: float
    heat: Passport


@dataclass(frozen=True, slots=True)
class Appliance:
    """A kind of combustion appliance and the depressurisation of its room that is taken as its limit [Pa]."""

    id: str
    title: str
    limit: float
    passport: Passport


@cache
def room_rules() -> RoomRules:
    """Return the numbers for make-up air."""
    blocks = reading.read("make_up_air")
    opening, cracks, allowed, heat = blocks["opening"], blocks["cracks"], blocks["allowed"], blocks["heat"]
    return RoomRules(
        opening["discharge_coefficient"],
        passport_of(opening),
        cracks["exponent"],
        passport_of(cracks),
        allowed["depressurization"],
        passport_of(allowed),
        blocks["fall"]["least"],
        heat["specific_heat"],
        passport_of(heat),
    )


def appliance(word: str) -> Appliance:
    """Return a kind of combustion appliance; raises UnknownWordError with the nearest words."""
    block = reading.find("make_up_air", "appliance", word)
    return Appliance(word, block["title"], block["limit"], passport_of(block))
