"""What an answer comes to: holds, attention, fails or refused, and a row of figures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal, TypeAlias

import msgspec
from msgspec import Struct

from airbough.command.answering import Answered
from airbough.wire.answer import Severity
from airbough.wire.problem import Problem

Verdict: TypeAlias = Literal["holds", "fails", "refused"]
Threshold: TypeAlias = Literal["note", "warning", "danger"]
LOOKED_AT: Final = ("findings", "outcome", "system")
ORDER: Final = {"note": 0, "warning": 1, "danger": 2}


class _Remark(Struct):
    """What is looked at of a finding."""

    code: str
    severity: Severity
    message: str


class _Seen(Struct):
    """What is looked at of any answer."""

    findings: tuple[_Remark, ...] = ()
    outcome: str | None = None
    system: Any = None


class _Came(_Seen):
    """The same of an answer, or of its parts."""

    told: _Seen | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """A design's verdict.

    Attributes:
        place: where the design is.
        question: that was asked.
        verdict: `fails` where a finding is at least as grave as asked for.
        outcome: of the answer, or the kind of refusal.
        grave: findings that count, the gravest first, equal codes together.
        others: findings below.
        faults: of a refusal: path and words.
        figures: the whole system's numbers.
    """

    place: str
    question: str
    verdict: Verdict
    outcome: str
    grave: tuple[tuple[str, int, str], ...] = ()
    others: int = 0
    faults: tuple[tuple[str, str], ...] = ()
    figures: dict[str, float | str] | None = None


def row(told: Answered, threshold: Threshold) -> Row:
    """Return the verdict on what came back."""
    if told.refused:
        problem = msgspec.json.decode(told.body, type=Problem)
        faults = tuple((fault.path, fault.detail) for fault in problem.errors) or (("", problem.detail),)
        return Row(told.design.place, told.design.question, "refused", problem.type.rpartition("/")[2], faults=faults)
    came = msgspec.json.decode(told.body, type=_Came)
    seen = came.told or came
    counted = [one for one in seen.findings if ORDER[one.severity] >= ORDER[threshold]]
    grave: dict[str, tuple[int, int, str]] = {}
    for one in counted:
        rank, times, words = grave.get(one.code, (ORDER[one.severity], 0, one.message))
        grave[one.code] = (rank, times + 1, words)
    ordered = sorted(grave.items(), key=lambda item: -item[1][0])
    return Row(
        told.design.place,
        told.design.question,
        "fails" if counted else "holds",
        seen.outcome or "answered",
        tuple((code, times, words) for code, (_, times, words) in ordered),
        len(seen.findings) - len(counted),
        figures=_figures(seen.system),
    )


def _figures(system: object) -> dict[str, float | str]:
    """Return the plain values of the whole system, by name."""
    if not isinstance(system, dict):
        return {}
    return {name: value for name, value in system.items() if isinstance(value, int | float | str)}
