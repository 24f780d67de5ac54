"""A report as Markdown: tables as tables, bars and sticks as code, every word of a caller escaped."""

from __future__ import annotations

import re

from airbough.report import as_text
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

_SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|~&!])")


def markdown(report: Report) -> str:
    """Return a report as Markdown; of pictures their titles."""
    parts = [f"# {_safe(report.title)}"]
    if report.lead:
        parts.append(_safe(report.lead))
    parts += [_chapter(chapter) for chapter in report.chapters]
    if report.cautions:
        parts.append("## Cautions\n\n" + "\n".join(f"- {_safe(words)}" for words in report.cautions))
    return "\n\n".join(parts) + "\n"


def _safe(words: str) -> str:
    """Return words in which nothing is a mark of Markdown or of HTML."""
    return _SPECIAL.sub(r"\\\1", clean(words))


def _chapter(chapter: Chapter) -> str:
    return "\n\n".join([f"## {_safe(chapter.title)}", *(_block(block) for block in chapter.blocks)])


def _block(block: Block) -> str:
    """Return a block."""
    if isinstance(block, Paragraph):
        return _safe(block.words)
    if isinstance(block, Bullets):
        return _bullets(block)
    if isinstance(block, Table):
        return _table(block)
    if isinstance(block, Card):
        return "\n".join([f"> **{_safe(block.name)}**", *(f"> {_safe(line)}  " for line in block.lines)])
    if isinstance(block, Picture):
        return f"(A drawing: {_safe(block.title)})"
    return _drawn(block)


def _bullets(block: Bullets) -> str:
    lines = [f"**{_safe(block.heading)}**", ""] if block.heading else []
    return "\n".join([*lines, *(f"{'  ' if words.startswith(' ') else '- '}{_safe(words)}" for words in block.items)])


def _table(block: Table) -> str:
    """Return a table; columns without anything are left out."""
    kept = [place for place in range(len(block.headings)) if any(row[place] for row in block.rows)]
    marks = [":--" if place < block.left else "--:" for place in kept]
    rows = [[_safe(row[place]) for place in kept] for row in (block.headings, *block.rows)]
    lines = [rows[0], marks, *rows[1:]]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in lines)


def _drawn(block: Bars | Stick | Joint) -> str:
    """Return what is drawn with letters as a block of code, which no word inside can end."""
    lines = as_text.chapter_lines(Chapter("", [block]), titled=False)
    return "\n".join(f"    {line}".rstrip() for line in lines if line)
