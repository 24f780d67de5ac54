"""What a report consists of, known to no question and no format; every word is made fit for a terminal here."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

_DROPPED = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


def clean(words: str) -> str:
    """Return words on one line without anything that speaks to a terminal or turns the direction of writing."""
    kept = (
        " " if one in "\t\n\r" else one for one in words if one in "\t\n\r" or unicodedata.category(one) not in _DROPPED
    )
    return " ".join("".join(kept).split())


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A few sentences."""

    words: str


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list; a line that begins with a space goes on with the one above it."""

    items: Sequence[str]
    heading: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows in columns; `left`: how many columns from the first stand to the left, the others to the right."""

    headings: Sequence[str]
    rows: Sequence[Sequence[str]]
    left: int = 1


@dataclass(frozen=True, slots=True)
class Bar:
    """What something gets against what it needs: `share` of the need, told in words beside it."""

    name: str
    share: float
    words: str


@dataclass(frozen=True, slots=True)
class Bars:
    """Bars one below another, the need marked on each."""

    bars: Sequence[Bar]


@dataclass(frozen=True, slots=True)
class Piece:
    """A length within a stick: shares of the whole, and what it is for; empty words: left over."""

    share: float
    words: str


@dataclass(frozen=True, slots=True)
class Stick:
    """One length bought and how it is cut."""

    name: str
    pieces: Sequence[Piece]


@dataclass(frozen=True, slots=True)
class Joint:
    """Two pieces and the air from the first to the second; `inner`: which of them goes inside, 0, 1 or neither."""

    upstream: str
    downstream: str
    inner: int | None
    words: str


@dataclass(frozen=True, slots=True)
class Card:
    """A card to cut out: a name in large letters and a few lines."""

    name: str
    lines: Sequence[str]


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing: its SVG, and the same in words."""

    title: str
    svg: str
    words: str


Block: TypeAlias = Paragraph | Bullets | Table | Bars | Stick | Joint | Card | Picture


@dataclass(frozen=True, slots=True)
class Chapter:
    """A chapter of a report."""

    title: str
    blocks: Sequence[Block]


@dataclass(frozen=True, slots=True)
class Report:
    """A whole report; each caution stands once, at its end."""

    title: str
    chapters: Sequence[Chapter]
    cautions: Sequence[str] = ()
    lead: str = ""
    sources: Sequence[str] = field(default=())


def once(texts: Iterable[str]) -> tuple[str, ...]:
    """Return texts in their order, each once."""
    return tuple(dict.fromkeys(texts))
