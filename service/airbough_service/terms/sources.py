"""The documents that an answer's numbers come from."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from itertools import count

from msgspec import structs

from airbough.wire.answer import Source
from airbough_service import catalogue
from airbough_service.catalogue import Passport

Origin = tuple[str, str]
"""A source's id, and how its number was had: `read`, `memory` or `common-practice`."""

_MOST = 1024  # documents, and lists of them, that are remembered as they are told; the bibliography has fewer
_PLACES: dict[Origin, int] = {}  # of bits, each origin of the catalogue's once it is met
_FREE = count()
_READ = {"read": True, "memory": False}


def origins(*passports: Passport | None) -> set[Origin]:
    """Return the origins of these passports; numbers that the caller gave have none."""
    return {(passport.source, passport.how) for passport in passports if passport is not None and passport.source}


def told(found: Iterable[Origin]) -> tuple[Source, ...]:
    """Return the documents by id; `read` is false where any number of it is from memory."""
    return _told(frozenset(found))


@lru_cache(_MOST)
def _told(found: frozenset[Origin]) -> tuple[Source, ...]:
    ways: dict[str, set[str]] = {}
    for source, how in found:
        if source:
            ways.setdefault(source, set()).add(how)
    return tuple([_one(word, _READ.get(_least(ways[word]))) for word in sorted(ways)])


def _least(ways: set[str]) -> str:
    """Return how a document's numbers were had, where they were had in several ways: by the least of them."""
    return "memory" if "memory" in ways else "read" if "read" in ways else "common-practice"


def bits(found: Iterable[Origin]) -> int:
    """Return origins as bits of a whole number, which are put together in no time: each origin has its own."""
    out = 0
    for origin in found:
        place = _PLACES.get(origin)
        out |= 1 << (_PLACES.setdefault(origin, next(_FREE)) if place is None else place)
    return out


def bits_of(*passports: Passport | None) -> int:
    """Return the origins of these passports as bits."""
    return bits(origins(*passports))


def of_bits(told: int) -> frozenset[Origin]:
    """Return the origins whose bits are set."""
    return frozenset([origin for origin, place in list(_PLACES.items()) if told >> place & 1])


@lru_cache(_MOST)
def told_of_bits(found: int) -> tuple[Source, ...]:
    """Return what `told` does of origins as bits."""
    return told(of_bits(found))


def everything() -> tuple[Source, ...]:
    """Return the whole bibliography."""
    return tuple(
        structs.replace(_one(source.id, None), access=source.access, url=source.url)
        for source in catalogue.all_sources()
    )


@lru_cache(_MOST)
def _one(word: str, read: bool | None) -> Source:
    source = catalogue.source(word)
    return Source(
        id=source.id,
        title=source.title,
        edition=source.edition,
        publisher=source.publisher,
        year=source.year,
        read=read,
    )
