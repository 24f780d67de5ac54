"""Findings told once each: equal ones in one line, with the places and numbers in which they differ."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from airbough.report.blocks import Bullets
from airbough.report.words import figures, plain, sentence
from airbough.wire.answer import Finding
from airbough.wire.quantity import printed

HEADINGS = {"danger": "DANGER", "warning": "TO CHANGE", "note": "GOOD TO KNOW"}
_GAINS = {"pressure_saved": ("saves", "pressure"), "flow_gained": ("more air:", "flow")}
_SHOWN = {"inH2O": 0.01, "Pa": 2.0, "ft^3/min": 1.0, "m^3/h": 2.0}
_MOST_PLACES = 12


def blocks(items: Sequence[Finding], units: Mapping[str, str]) -> list[Bullets]:
    """Return findings as lists, the gravest first, one line for all of one code."""
    found = []
    for severity, heading in HEADINGS.items():
        groups: dict[str, list[Finding]] = {}
        for item in items:
            if item.severity == severity:
                groups.setdefault(item.code, []).append(item)
        if groups:
            lines = [line for group in groups.values() for line in _lines(group, units)]
            found.append(Bullets(lines, heading))
    return found


def once(items: Sequence[Finding]) -> list[str]:
    """Return findings in one line for all of one code, without what to do."""
    groups: dict[str, list[Finding]] = {}
    for item in items:
        groups.setdefault(item.code, []).append(item)
    return [line for group in groups.values() for line in _where(group)]


def _where(group: Sequence[Finding]) -> list[str]:
    """Return the lines of the findings of one code: the first, and where else."""
    first, *others = group
    lines = [sentence(first.message)]
    if others:
        places = [_place(item) for item in others[:_MOST_PLACES]]
        more = len(others) - _MOST_PLACES
        told = f"The same: {', '.join(dict.fromkeys(places))}{f' and {more} more' if more > 0 else ''}"
        lines.append(f" {sentence(told)}")
    return lines


def _lines(group: Sequence[Finding], units: Mapping[str, str]) -> list[str]:
    """Return the lines of the findings of one code: the first, where else, what to do."""
    lines = _where(group)
    advice = dict.fromkeys(
        f"{item.suggestion.text}{gain(item, units)}" for item in group[:1] if item.suggestion is not None
    )
    return [*lines, *(f" What to do: {sentence(words)}" for words in advice)]


def _place(item: Finding) -> str:
    """Return where a finding is, with its own number."""
    where = item.run or item.state or item.at or "the whole"
    if item.run is not None and item.state is not None:
        where = f"{item.run} ({item.state})"
    if item.value is None or item.unit is None:
        return where
    return f"{where} {figures(item.value)} {printed(item.unit)}"


def gain(item: Finding, units: Mapping[str, str]) -> str:
    """Return what a tried suggestion brings, as words; what no gauge in a shop would show is left out."""
    found = item.suggestion.gain if item.suggestion is not None else None
    if not found:
        return ""
    parts = []
    for name, value in found.items():
        words, kind = _GAINS.get(name, (plain(name), "pressure"))
        unit = units.get(kind, "")
        if abs(value) >= _SHOWN.get(unit, 0.0):
            parts.append(f"{words} {figures(value)} {printed(unit)}".rstrip())
    return f" (tried: {', '.join(parts)})" if parts else " (tried: no gain to speak of in this state)"
