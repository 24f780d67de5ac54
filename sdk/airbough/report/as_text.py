"""A report as plain text for a terminal or a letter: no character that speaks to the terminal, no line too wide."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from airbough.report.blocks import (
    Bars,
    Block,
    Bullets,
    Card,
    Chapter,
    Joint,
    Paragraph,
    Picture,
    Report,
    Stick,
    Table,
    clean,
)

_BAR, _STICK = 30, 72
_MOST = 1.5  # of the need: where a bar ends


def text(report: Report, *, width: int = 100) -> str:
    """Return a report as text."""
    lines = [clean(report.title), ""]
    if report.lead:
        lines += [*_wrapped(report.lead, width), ""]
    for chapter in report.chapters:
        lines += chapter_lines(chapter, width=width, titled=len(report.chapters) > 1)
    if report.cautions:
        lines += ["Cautions", *(line for words in report.cautions for line in _item(words, width))]
    return "\n".join(lines).rstrip() + "\n"


def chapter_lines(chapter: Chapter, *, width: int = 100, titled: bool = True) -> list[str]:
    """Return a chapter's lines, an empty one last."""
    lines = [clean(chapter.title), "-" * len(clean(chapter.title))] if titled else []
    previous: Block | None = None
    for block in chapter.blocks:
        if previous is not None and not (isinstance(block, Stick | Joint | Card) and isinstance(previous, type(block))):
            lines.append("")
        lines += _block(block, width)
        previous = block
    return [*lines, ""]


def _block(block: Block, width: int) -> list[str]:
    """Return a block's lines."""
    if isinstance(block, Paragraph):
        return _wrapped(block.words, width)
    if isinstance(block, Bullets):
        head = [clean(block.heading)] if block.heading else []
        return [*head, *(line for words in block.items for line in _item(words, width))]
    if isinstance(block, Table):
        return table(block)
    if isinstance(block, Bars):
        return _bars(block)
    if isinstance(block, Stick):
        return _stick(block, width)
    if isinstance(block, Joint):
        return _joint(block, width)
    if isinstance(block, Card):
        return _card(block, width)
    return _picture(block, width)


def _wrapped(words: str, width: int, first: str = "", rest: str = "") -> list[str]:
    """Return words in lines; a name is not parted at its hyphens, which would make two of it."""
    return textwrap.wrap(clean(words), width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)


def _item(words: str, width: int) -> list[str]:
    """Return a list's line; one that begins with a space goes on with the one above it."""
    first = "  " if words.startswith(" ") else "- "
    return _wrapped(words, width, first, "  ")


def table(block: Table) -> list[str]:
    """Return rows in columns; columns without anything are left out."""
    whole = [[clean(cell) for cell in row] for row in (block.headings, *block.rows)]
    kept = [place for place in range(len(block.headings)) if any(row[place] for row in whole[1:])] if block.rows else []
    widths = {place: max(len(row[place]) for row in whole) for place in kept}
    lines = []
    for row in whole:
        cells = [
            row[place].ljust(widths[place]) if place < block.left else row[place].rjust(widths[place]) for place in kept
        ]
        lines.append("  ".join(cells).rstrip())
    return lines


def _bars(block: Bars) -> list[str]:
    """Return bars of hashes, the need marked by an upright."""
    names = max(len(clean(bar.name)) for bar in block.bars)
    need = round(_BAR / _MOST)
    lines = [f"{''.ljust(names)}  {'needs'.rjust(need + 1)}"]
    for bar in block.bars:
        filled = round(_BAR * min(max(bar.share, 0.0), _MOST) / _MOST)
        cells = ["#" if place < filled else " " for place in range(_BAR)]
        cells[need - 1] = "|"
        more = ">" if bar.share > _MOST else ""
        lines.append(f"{clean(bar.name).ljust(names)}  {''.join(cells)}{more or ' '} {clean(bar.words)}".rstrip())
    return lines


def _stick(block: Stick, width: int) -> list[str]:
    """Return a stick to scale, its pieces told below it."""
    room = min(_STICK, width - 4)
    drawn, told, letter = "", [], ord("A")
    for piece in block.pieces:
        size = max(1, round(piece.share * room) - 1)
        mark = chr(letter) if piece.words else ""
        drawn += (mark.center(size, "=") if piece.words else "." * size) + "|"
        if piece.words:
            told.append(f"{mark}: {clean(piece.words)}")
            letter += 1 if letter < ord("Z") else 0
    lines = [f"  |{drawn} {clean(block.name)}"]
    return lines + _wrapped("; ".join(told), width, "    ", "    ")


def _joint(block: Joint, width: int) -> list[str]:
    """Return a joint: the air goes from left to right, the inner piece is named."""
    which = {0: "the first goes inside", 1: "the second goes inside", None: "neither goes inside"}[block.inner]
    drawn = {0: "====>[", 1: "]====>", None: "==||=>"}[block.inner]
    line = f"{clean(block.upstream)} {drawn} {clean(block.downstream)}  ({which}; air this way: -->)"
    return [
        f"  {line}"[: max(width, 40)],
        *_wrapped(block.words, width, "    ", "    "),
    ]


def _card(block: Card, width: int) -> list[str]:
    """Return a card in a frame."""
    room = min(60, width - 4)
    inner = [line for words in (block.name.upper(), *block.lines) for line in _wrapped(words, room) or [""]]
    return ["+" + "-" * (room + 2) + "+", *(f"| {line.ljust(room)} |" for line in inner), "+" + "-" * (room + 2) + "+"]


def _picture(block: Picture, width: int) -> list[str]:
    return _wrapped(f"(A drawing: {block.title})", width)


def rows(headings: Sequence[str], cells: Sequence[Sequence[str]], left: int = 1) -> list[str]:
    """Return a bare table as lines."""
    return table(Table(headings, cells, left))
