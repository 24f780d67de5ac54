"""Making findings: severity from the table of codes, numbers in the preset's unit, order of the answer."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Any, Final

from airbough.wire.answer import (
    Finding,
    Suggestion,
)
from airbough.wire.quantity import Preset, length_told, printed
from airbough_service.core.limits import HOLDS
from airbough_service.terms import units
from airbough_service.terms.codes import CODES
from airbough_service.terms.units import AllAtOnce

_DIGITS: Final = 3
_MOST_PLACES: Final = 4096  # paths whose place in the document is remembered
_MOST_LIMITS: Final = 1024  # limits that are remembered as they are told; those of the catalogue come again and again
_DIGITS_OF_ROW: Final = 9  # of a number in a list, more than any list has
_RANK: Final = {"danger": 0, "warning": 1, "note": 2}
_STEP: Final = re.compile(r"\[(\d+)\]")
_PLACES: Final = ("units", "name", "air", "dust", "runs", "collector")  # in the order of the tree document


def finding(
    preset: Preset,
    code: str,
    message: str,
    *,
    at: str | None = None,
    run: str | None = None,
    state: str | None = None,
    quantity: str | None = None,
    kind: str | None = None,
    value: float | None = None,
    minimum: float | None = None,
    maximum: float | None = None,
    suggestion: Suggestion | None = None,
    source: str | None = None,
) -> Finding:
    """Make a finding.

    Args:
        preset: the answer's.
        code: of the table of codes; gives the severity.
        message: one sentence in the trade's words; `show` writes its numbers.
        at: path in the document.
        run: the caller's id.
        state: name of the gate state.
        quantity: what `value` is.
        kind: kind of quantity of `value` and the limit, which are given in SI; None for a plain number.
        value: SI.
        minimum: the limit that value ought to reach, SI.
        maximum: the limit that value ought not to pass, SI.
        suggestion: what to do.
        source: id of the limit's source.
    """
    limit = minimum if minimum is not None else maximum
    bound = None if limit is None else ("minimum" if minimum is not None else "maximum")

    unit = None
    if kind is not None:
        factor, offset, unit, _ = _SCALES[preset][kind]
        value = None if value is None else (value - offset) / factor
        limit = None if limit is None else (limit - offset) / factor
    return Finding(
        code=code,
        severity=CODES[code].severity,
        message=message,
        at=at,
        run=run,
        state=state,
        quantity=quantity,
        value=value,
        limit=limit,
        bound=bound,  # type: ignore[arg-type]  # one of the two words
        unit=unit,
        suggestion=suggestion,
        source=source,
    )


_SCALES: Final = {
    preset: {kind: (*scale, units.unit(kind, preset), printed(units.unit(kind, preset))) for kind, scale in own.items()}
    for preset, own in units.PRESETS.items()
}
"""Preset -> kind -> factor and offset, as of `units.PRESETS`, its unit, and that as a sentence has it."""


def show(preset: Preset, kind: str, value: float, digits: int = 3) -> str:
    """Return an SI value as text in the preset's unit, to a few digits, for a sentence; a length as a rule shows it."""
    if kind in ("length", "diameter") and digits == _DIGITS:
        return _length_shown(preset, kind, value)
    factor, offset, _, unit = _SCALES[preset][kind]
    return f"{rounded((value - offset) / factor, digits)} {unit}"


@lru_cache(_MOST_LIMITS)
def _length_shown(preset: Preset, kind: str, value: float) -> str:
    """Return a length or a diameter as a rule shows it; the same come again and again."""
    return length_told(value, preset, feet=kind == "length")


def show_bound(preset: Preset, kind: str, value: float, *, most: bool) -> str:
    """Return a value as `show` does, rounded down where it is the most that is meant, else up."""
    factor, offset, _, unit = _SCALES[preset][kind]
    number = (value - offset) / factor
    step = 10.0 ** (math.floor(math.log10(abs(number))) - _DIGITS + 1) if number else 1.0
    whole = math.floor(number / step + HOLDS) if most else math.ceil(number / step - HOLDS)
    return f"{rounded(whole * step)} {unit}"


@lru_cache(_MOST_LIMITS)
def show_limit(preset: Preset, kind: str, limit: float) -> str:
    """Return a limit as `show` does, with `about` before it where it is a round number only in other units."""
    number = units.value(kind, limit, preset)
    moved = abs(float(rounded(number, _DIGITS)) - number) > HOLDS * abs(number)
    return f"{'about ' if moved else ''}{show(preset, kind, limit)}"


def show_apart(preset: Preset, kind: str, value: float, limit: float) -> tuple[str, str]:
    """Return a value and its limit as texts, to as many digits as tell them apart."""
    told = show(preset, kind, value)
    if told != _show_plain(preset, kind, limit):
        return told, show_limit(preset, kind, limit)
    for digits in range(_DIGITS + 1, 7):
        texts = show(preset, kind, value, digits), show(preset, kind, limit, digits)
        if texts[0] != texts[1]:
            break
    return texts


@lru_cache(_MOST_LIMITS)
def _show_plain(preset: Preset, kind: str, limit: float) -> str:
    """Return a limit as `show` does."""
    return show(preset, kind, limit)


def plain(word: str) -> str:
    """Return a word of the wire or the catalogue as a person reads it, such as `drum sander`."""
    return word.replace("_", " ").replace("-", " ")


def lower(title: str) -> str:
    """Return a title for the middle of a sentence."""
    return title[:1].lower() + title[1:]


def machine_at(machine: str | None, run: str) -> str:
    """Return a machine and the run it stands at, such as `drum sander at north`; once where both are one word."""
    if machine is None or plain(machine).lower() == plain(run).lower():
        return run if machine is None else plain(machine)
    return f"{plain(machine)} at {run}"


def rounded(number: float, digits: int = _DIGITS) -> str:
    """Return a number to so many significant digits, never with an exponent."""
    text = "%.*g" % (digits, number)  # noqa: UP031  # in half the time of its newer fellow
    if "e" not in text:
        return text
    return f"{float(text):.0f}" if "e+" in text else f"{float(text):f}".rstrip("0")


class Findings(AllAtOnce[Finding]):
    """Findings of an answer: in its preset already, so that they are only looked through for what is not finite."""

    def told(self, preset: str) -> tuple[tuple[Finding, ...], frozenset[str]] | None:
        """Return them as they are; None where a number is no plain finite one, or is to be read as JSON reads it."""
        numbers: list[Any] = []
        for item in self:
            value, limit, suggestion = item.value, item.limit, item.suggestion
            if value is not None:
                numbers.append(value)
            if limit is not None:
                numbers.append(limit)
            if suggestion is None or (suggestion.gain is None and suggestion.changes is None):
                continue
            for change in suggestion.changes or ():
                if type(change.value) is float:
                    numbers.append(change.value)
                elif not units.is_plain(change.value):
                    return None
            numbers += suggestion.gain.values() if suggestion.gain is not None else ()
        return (tuple(self), _NO_KINDS) if units.are_finite(numbers) else None

    def plainly(self) -> tuple[Finding, ...]:
        """Return them as they are."""
        return tuple(self)


_NO_KINDS: Final = frozenset[str]()


def ordered(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings by severity, then place in the document, then code."""
    each = list(findings)
    keys = [f"{_RANK[item.severity]}{_place(item.at or '')}{item.code}" for item in each]
    return Findings([each[place] for place in sorted(range(len(each)), key=keys.__getitem__)])


@lru_cache(_MOST_PLACES)
def _place(at: str) -> str:
    """Return a path's place in the document as a text to sort by: first the whole, then the tree's own fields, then a
    question's; of a list by number.
    """
    parts = _STEP.split(at)  # words and row numbers by turns
    words, rows = parts[::2], [*parts[1::2], ""]
    top = parts[0].split(".")[0]
    rank = _PLACES.index(top) + 1 if top in _PLACES else len(_PLACES) + 1
    steps = [f"{word}\1{row.zfill(_DIGITS_OF_ROW) if row else ''}\1" for word, row in zip(words, rows, strict=True)]
    return f"{rank if at else 0}{''.join(steps)}\0"
