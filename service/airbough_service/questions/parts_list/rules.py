"""The fitter's rules of one parts list: the caller's, else the catalogue's with their sources."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from airbough.wire.parts_list import (
    PartsListRequest,
    PartsListRule,
)
from airbough_service.catalogue import Passport
from airbough_service.catalogue.fitter_rules import all_rules

_COUNTS: Final = ("least_screws", "least_bolts", "hangers_at_elbow", "hangers_at_junction", "tape_overlap")


@dataclass(frozen=True, slots=True)
class Rules:
    """The rules in use: lengths in m."""

    values: dict[str, float]
    seal: Literal["sealant", "tape", "none"]
    told: tuple[PartsListRule, ...]
    passports: tuple[Passport, ...]

    def of(self, word: str) -> float:
        """Return a rule's value."""
        return self.values[word]

    def number(self, word: str) -> int:
        """Return a rule that counts."""
        return int(self.values[word])


def rules(request: PartsListRequest) -> Rules:
    """Return the rules of a request in SI."""
    values, told, passports = {}, [], []
    for rule in all_rules():
        own = request.kerf if rule.id == "kerf" else getattr(request.rules, rule.id)
        value = rule.value if own is None else float(own)
        values[rule.id] = value
        length, number = (None, value) if rule.id in _COUNTS else (value, None)
        if own is not None:
            told.append(PartsListRule(rule=rule.id, source="caller", length=length, number=number))
            continue
        passport = rule.passport
        passports.append(passport)
        told.append(
            PartsListRule(
                rule=rule.id,
                source=passport.source,
                length=length,
                number=number,
                place=passport.place,
                how=passport.how,
            )
        )
    return Rules(values, request.rules.seal, tuple(told), tuple(passports))
