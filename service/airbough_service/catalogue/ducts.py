"""Constructions of duct: roughness, power-law constants, what slack does to a hose."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

from airbough_service.catalogue import reading
from airbough_service.catalogue.families import (
    ranges_of,
    table_of,
)
from airbough_service.catalogue.passports import (
    Outside,
    Passport,
    beyond,
    passport_of,
)
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.laws.friction import (
    PowerLaw,
)
from airbough_service.core.laws.table import Table

_FOOT: Final = 0.3048  # the manuals' power law is printed for ft, ft/min and ft3/min
_MINUTE: Final = 60.0


@dataclass(frozen=True, slots=True)
class Duct:
    """A construction of duct.

    Attributes:
        id: the word.
        title: what it is.
        kind: `rigid` or `hose`.
        roughness: [m]; of a hose at full stretch.
        roughness_range: least and greatest published [m].
        material: word of the materials.
        conductive: whether it carries charge away.
        passport: of the roughness.
        power_law: constants of the velocity-pressure method, where published.
        power_law_passport: where they come from.
        power_law_published: the velocities that they were made for [m/s].
        typical_stretch: of a hose, where the caller says nothing.
        stretch_passport: where that comes from.
        others: what other sources say.
        default_because: why theirs is not taken.
    """

    id: str
    title: str
    kind: str
    roughness: float
    roughness_range: tuple[float, float]
    material: str
    conductive: bool
    passport: Passport
    power_law: PowerLaw | None
    power_law_passport: Passport | None
    power_law_published: dict[str, tuple[float, float]]
    typical_stretch: float | None
    stretch_passport: Passport | None
    others: tuple[OtherDuct, ...]
    default_because: str | None


@dataclass(frozen=True, slots=True)
class OtherDuct:
    """What another source says of a construction: its roughness [m], or a slack hose's factor on friction.

    Attributes:
        title: of what, where it differs.
        roughness: as printed [m].
        roughness_range: as printed [m].
        multiplier_range: least and greatest factor.
        passport: where it comes from.
    """

    title: str | None
    roughness: float | None
    roughness_range: tuple[float, float] | None
    multiplier_range: tuple[float, float] | None
    passport: Passport


@dataclass(frozen=True, slots=True)
class Slack:
    """What a hose's stretch does to its friction.

    Attributes:
        multiplier: on the friction of the fully stretched hose.
        entry: catalogue entry; empty for a hose at full stretch, which rests on no law of slack.
        passport: of the multiplier.
        outside: what lies beyond the published range.
    """

    multiplier: float
    entry: str
    passport: Passport
    outside: tuple[Outside, ...]


def duct(word: str) -> Duct:
    """Return a construction.

    Raises:
        UnknownWordError: with the nearest words.
    """
    found = _ducts().get(word)
    if found is None:
        reading.find("ducts", "duct", word)
        raise AssertionError(word)
    return found


def all_ducts() -> tuple[Duct, ...]:
    """Return every construction in the catalogue's order."""
    return tuple(_ducts().values())


def hose_slack(construction: Duct, stretch: float, bore: float) -> Slack:
    """Return what the stretch (share of full length) does to the friction of a hose of this bore [m].

    Raises:
        OutsideTableError: a stretch that the catalogue does not answer.
    """
    block = reading.by_id("ducts", "duct")[construction.id]
    law = block.get("stretch_law")
    part = block["stretch_table"] if law is None else law
    stretches = _stretch_table(construction.id).axes[0].values if law is None else law["stretch_range"]
    if not stretches[0] <= stretch <= stretches[-1]:
        raise OutsideTableError("stretch", stretch, stretches[0], stretches[-1])
    return Slack(
        multiplier=_multiplier(construction, law, stretch, bore),
        entry=f"stretch/{construction.id}" if stretch < 1.0 else "",
        passport=passport_of(part),
        outside=beyond(ranges_of(part), {"stretch": stretch, "diameter": bore}) if stretch < 1.0 else (),
    )


def _multiplier(construction: Duct, law: Mapping[str, Any] | None, stretch: float, bore: float) -> float:
    """Return what a compressed hose's friction is multiplied by, its law held below the bores of its tests."""
    if law is None:
        return _stretch_table(construction.id).at(stretch)
    percent = 100.0 * (1.0 - stretch)
    held = max(bore, float(law["held_below"]))
    multiplier = 1.0 + float(law["slope"]) * percent * math.exp(-float(law["decay"]) * held)
    bound = rib_bound(construction, bore)
    return multiplier if bound is None else min(multiplier, bound)


def rib_bound(construction: Duct, bore: float) -> float | None:
    """Return the most that a stiff hose's friction can be multiplied by; None where no rib bounds it.

    Its wall folds no deeper than its rib: fully rough friction, 1/sqrt(f) = 2 log10(3.7 D / e), with the rib's height
    over that with the stretched hose's roughness.
    """
    rib = reading.by_id("ducts", "duct")[construction.id].get("rib")
    if rib is None:
        return None
    stretched, folded = (math.log10(3.7 * bore / height) for height in (construction.roughness, float(rib["height"])))
    return (stretched / folded) ** 2


@cache
def _stretch_table(word: str) -> Table:
    """Return the table of a hose's friction by stretch."""
    return table_of(reading.by_id("ducts", "duct")[word]["stretch_table"])


@cache
def _ducts() -> dict[str, Duct]:
    return {word: _duct(block) for word, block in reading.by_id("ducts", "duct").items()}


def _duct(block: dict[str, Any]) -> Duct:
    power, typical = block.get("power_law"), block.get("typical_stretch")
    low, high = block["roughness_range"]
    return Duct(
        id=block["id"],
        title=block["title"],
        kind=block["kind"],
        roughness=block["roughness"],
        roughness_range=(low, high),
        material=block["material"],
        conductive=block["conductive"],
        passport=passport_of(block),
        power_law=_power_law(power) if power else None,
        power_law_passport=passport_of(power) if power else None,
        power_law_published=ranges_of(power or {}),
        typical_stretch=typical["value"] if typical else None,
        stretch_passport=passport_of(typical) if typical else None,
        others=tuple(map(_other, block.get("others", ()))),
        default_because=block.get("default_because"),
    )


def _other(block: Mapping[str, Any]) -> OtherDuct:
    factors = block.get("multiplier_range", (block["multiplier"],) * 2 if "multiplier" in block else None)
    return OtherDuct(
        title=block.get("title"),
        roughness=block.get("roughness"),
        roughness_range=_pair(block.get("roughness_range")),
        multiplier_range=_pair(factors),
        passport=passport_of(block),
    )


def _pair(values: Sequence[float] | None) -> tuple[float, float] | None:
    return None if values is None else (values[0], values[1])


def _power_law(block: Mapping[str, Any]) -> PowerLaw:
    a, b, c = float(block["a"]), float(block["b"]), float(block["c"])
    scale = a / (_FOOT / _MINUTE) ** b * (_FOOT**3 / _MINUTE) ** c / _FOOT
    return PowerLaw(scale, b, c)
