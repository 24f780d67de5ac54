"""What the trade publishes of dusts, machines and the bibliography, and the cautions that go with answers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import Any, Final

from airbough_service.catalogue import reading
from airbough_service.catalogue.passports import (
    Passport,
    passport_of,
)

_MOST_WORDS: Final = 1024  # that are remembered; the catalogue has fewer, and no other word is answered


@dataclass(frozen=True, slots=True)
class OtherVelocity:
    """What another source says; the upper end where it prints a range [m/s]."""

    transport_velocity: float
    passport: Passport


@dataclass(frozen=True, slots=True)
class Particle:
    """A typical particle: diameter [m], density [kg/m3]."""

    diameter: float
    density: float
    passport: Passport


@dataclass(frozen=True, slots=True)
class Dust:
    """A class of dust.

    Attributes:
        id: the word.
        title: what it is.
        transport_velocity: least that keeps it moving in a horizontal duct [m/s].
        passport: of the transport velocity.
        upper_velocity: above it speed is needless [m/s].
        upper_passport: of the upper velocity.
        particle: for the saltation correlation.
        cautions: ids of cautions.
        others: what other sources say.
        default_because: why theirs are not taken.
    """

    id: str
    title: str
    transport_velocity: float
    passport: Passport
    upper_velocity: float
    upper_passport: Passport
    particle: Particle
    cautions: tuple[str, ...]
    others: tuple[OtherVelocity, ...]
    default_because: str | None


@dataclass(frozen=True, slots=True)
class Saltation:
    """Rizk's correlation: loading = 10^-delta Fr^chi, both rising in a line with the particle's diameter [m].

    Attributes:
        delta_slope: per m.
        delta_base: at no diameter.
        chi_slope: per m.
        chi_base: at no diameter.
        maximum_diameter: the coarsest particle that it suits [m].
        passport: where it comes from.
    """

    delta_slope: float
    delta_base: float
    chi_slope: float
    chi_base: float
    maximum_diameter: float
    passport: Passport


@dataclass(frozen=True, slots=True)
class Port:
    """A machine's whole connection to the duct: diameter [m]; without a passport it was had where the flow was."""

    diameter: float
    passport: Passport | None


@dataclass(frozen=True, slots=True)
class Size:
    """One size of a machine.

    Attributes:
        size: what it covers.
        parameter: what the size goes by.
        maximum: of the parameter, the largest that it covers [m, m2, W or a count]; None where nothing bounds it.
        flow: exhaust of the whole machine [m3/s].
        passport: of the flow.
        port: where its diameter is known.
    """

    size: str
    parameter: str
    maximum: float | None
    flow: float
    passport: Passport
    port: Port | None

    @property
    def kind(self) -> str | None:
        """The kind of quantity that `parameter` is; None for a count."""
        return _SIZE_KINDS.get(self.parameter.rpartition("_")[2])


_SIZE_KINDS: Final = {
    "area": "area",
    "diameter": "diameter",
    "power": "power",
    "surface": "area",
    "swing": "diameter",
    "width": "diameter",
}


@dataclass(frozen=True, slots=True)
class Machine:
    """A machine with exhaust flows, sizes rising; `sparks` where it throws them.

    `others` are the sizes of other sources, `default_because` says why theirs are not taken.
    """

    id: str
    title: str
    note: str | None
    typical_entry: str
    typical_dust: str | None
    sparks: bool
    cautions: tuple[str, ...]
    sizes: tuple[Size, ...]
    others: tuple[Size, ...]
    default_because: str | None


@dataclass(frozen=True, slots=True)
class Source:
    """A document of the bibliography."""

    id: str
    title: str
    edition: str | None
    publisher: str | None
    year: int | None
    access: str
    url: str | None


@dataclass(frozen=True, slots=True)
class Caution:
    """A short caution; `source` names where it comes from."""

    id: str
    severity: str
    text: str
    source: str


@lru_cache(_MOST_WORDS)
def dust(word: str) -> Dust:
    """Return a class of dust; raises UnknownWordError with the nearest words."""
    return _dust(reading.find("dusts", "dust", word)["id"])


def all_dusts() -> tuple[Dust, ...]:
    """Return every class of dust."""
    return tuple(map(_dust, reading.by_id("dusts", "dust")))


def saltation() -> Saltation:
    """Return the constants of the saltation correlation."""
    block = reading.read("dusts")["saltation"]
    names = ("delta_slope", "delta_base", "chi_slope", "chi_base", "maximum_diameter")
    return Saltation(**{name: block[name] for name in names}, passport=passport_of(block))


@lru_cache(_MOST_WORDS)
def machine_id(word: str) -> str | None:
    """Return the catalogue's word of a machine however it is written, such as `Table Saw` or `bandsaw`; None: none."""
    return _machine_words().get(_folded(word))


def _folded(word: str) -> str:
    """Return a word without what people write in different ways: capitals, spaces, hyphens."""
    return "".join(letter for letter in word.lower() if letter.isalnum())


@cache
def _machine_words() -> dict[str, str]:
    """Return every way to write a machine, folded -> the catalogue's word; other names of the trade are among them."""
    every = reading.by_id("hoods", "machine")
    also = {_folded(name): word for word, block in every.items() for name in block.get("also", ())}
    return also | {_folded(word): word for word in every}


def machine(word: str) -> Machine:
    """Return a machine; raises UnknownWordError with the nearest words."""
    return _machine(reading.find("hoods", "machine", machine_id(word) or word)["id"])


@cache
def all_machines() -> tuple[Machine, ...]:
    """Return every machine."""
    return tuple(map(_machine, reading.by_id("hoods", "machine")))


def source(word: str) -> Source:
    """Return a document of the bibliography; raises UnknownWordError with the nearest words."""
    block = reading.find("sources", "source", word)
    keys = ("id", "title", "edition", "publisher", "year", "access", "url")
    return Source(**{key: block.get(key) for key in keys})  # type: ignore[arg-type]  # the test reads every file


def all_sources() -> tuple[Source, ...]:
    """Return the whole bibliography."""
    return tuple(map(source, reading.by_id("sources", "source")))


@lru_cache(_MOST_WORDS)
def caution(word: str) -> Caution:
    """Return a caution; raises UnknownWordError with the nearest words."""
    block = reading.find("cautions", "caution", word)
    return Caution(block["id"], block["severity"], block["text"], block["source"])


def cautions(*ids: str) -> tuple[Caution, ...]:
    """Return cautions in the order asked, each once."""
    return tuple(caution(word) for word in dict.fromkeys(ids))


@cache
def _dust(word: str) -> Dust:
    block = reading.by_id("dusts", "dust")[word]
    upper, particle = block["upper_velocity"], block["particle"]
    return Dust(
        id=word,
        title=block["title"],
        transport_velocity=block["transport_velocity"],
        passport=passport_of(block),
        upper_velocity=upper["value"],
        upper_passport=passport_of(upper),
        particle=Particle(particle["diameter"], particle["density"], passport_of(particle)),
        cautions=tuple(block.get("cautions", ())),
        others=tuple(
            _other(other) for other in block.get("others", ()) if {"transport_velocity", "range"} & set(other)
        ),
        default_because=block.get("default_because"),
    )


def _other(block: Mapping[str, Any]) -> OtherVelocity:
    velocity = block["transport_velocity"] if "transport_velocity" in block else block["range"][1]
    passport = passport_of(block)
    note = "; ".join(part for part in (block.get("title"), block.get("printed"), passport.note) if part)
    return OtherVelocity(
        velocity, Passport(passport.source, passport.place, passport.how, passport.spread, note or None)
    )


@cache
def _machine(word: str) -> Machine:
    block = reading.by_id("hoods", "machine")[word]
    return Machine(
        id=word,
        title=block["title"],
        note=block.get("note"),
        typical_entry=block["typical_entry"],
        typical_dust=block.get("typical_dust"),
        sparks=block["sparks"],
        cautions=tuple(block.get("cautions", ())),
        sizes=tuple(map(_size, block["sizes"])),
        others=tuple(map(_size, block.get("others", ()))),
        default_because=block.get("default_because"),
    )


def _size(block: Mapping[str, Any]) -> Size:
    passport, port = passport_of(block), block.get("port")
    note = "; ".join(part for part in (f"printed {block['printed']}", passport.note) if part)
    return Size(
        size=block["size"],
        parameter=block["parameter"],
        maximum=block.get("maximum"),
        flow=block["flow"],
        passport=replace(passport, note=note),
        port=port and Port(port["diameter"], passport_of(port) if "passport" in port else None),
    )
