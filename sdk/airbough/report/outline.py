"""The chapter of an outline: what was taken where nothing was said, equal things in one line."""

from __future__ import annotations

import json
from typing import Any

from airbough.report.blocks import Bullets, Chapter, Paragraph
from airbough.report.words import counted, plain, quantity
from airbough.wire.answer import Assumed
from airbough.wire.outline import OutlineAnswer

_MOST_NAMES = 6
_KINDS = {"in": "diameter", "mm": "diameter", "ft": "length", "m": "length"}


def chapter(answer: OutlineAnswer) -> Chapter:
    """Return the size of the tree that was made, and what was taken for it."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for one in answer.assumed:
        named = groups.setdefault((_field(one), _value(one), one.reason), [])
        named += [one.run] if one.run is not None and one.run not in named else []
    lines = [_line(*said, named) for said, named in groups.items()]
    rows = len(dict.fromkeys(answer.rows.values()))
    words = f"{counted(rows, 'row')} made {counted(len(answer.tree.runs), 'run')} of duct. "
    words += "What nobody said was taken as usual; say it in the outline where yours differs."
    return Chapter("The outline", [Paragraph(words), Bullets(lines, "TAKEN")] if lines else [Paragraph(words)])


def _field(one: Assumed) -> str:
    """Return what was left out, such as `hose stretch`."""
    return plain(one.path.rsplit(".", 1)[-1])


def _value(one: Assumed) -> str:
    """Return what was taken, as a person reads it."""
    value: Any = one.value
    if isinstance(value, dict):
        return plain(str(value.get("type") or json.dumps(value)))
    if isinstance(value, int | float) and one.unit:
        kind = _KINDS.get(one.unit, one.unit)
        return quantity(float(value), {kind: one.unit}, kind)
    return plain(str(value)) if isinstance(value, str) else f"{value}"


def _line(field: str, value: str, reason: str, named: list[str]) -> str:
    """Return one line of equal things."""
    more = len(named) - _MOST_NAMES
    rows = ", ".join(named[:_MOST_NAMES]) + (f" and {more} more" if more > 0 else "")
    return f"{field}{f' of {rows}' if rows else ''}: {value} ({reason})"
