"""The documents that an answer's numbers come from."""

from __future__ import annotations

from collections.abc import Iterable

from msgspec import structs

from airbough.wire.answer import Source
from airbough_service import catalogue
from airbough_service.catalogue import Passport

Origin = tuple[str, str]
"""A source's id, and how its number was had: `read`, `memory` or `common-practice`."""

_READ = {"read": True, "memory": False}


def origins(*passports: Passport | None) -> set[Origin]:
    """Return the origins of these passports; numbers that the caller gave have none."""
    return {(passport.source, passport.how) for passport in passports if passport is not None and passport.source}


def told(found: Iterable[Origin]) -> tuple[Source, ...]:
    """Return the documents by id; `read` is false where any number of it is from memory."""
    answers = []
    pairs = set(found)
    for word in sorted({source for source, _ in pairs if source}):
        ways = {how for source, how in pairs if source == word}
        how = "memory" if "memory" in ways else "read" if "read" in ways else "common-practice"
        answers.append(_one(word, _READ.get(how)))
    return tuple(answers)


def everything() -> tuple[Source, ...]:
    """Return the whole bibliography."""
    return tuple(
        structs.replace(_one(source.id, None), access=source.access, url=source.url)
        for source in catalogue.all_sources()
    )


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
