"""Hangers: as few as keep the spacing along a run and stand near enough to its elbows and its junction."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from airbough_service.questions.parts_list.needs import RunNeeds
from airbough_service.questions.parts_list.rules import Rules

_SLACK: Final = 1.0e-9  # m


@dataclass(frozen=True, slots=True)
class Mark:
    """A place that asks for hangers of its own: where it is along the run, how far off they may stand [m], how many."""

    at: float
    reach: float
    number: int


def places(length: float, spacing: float, marks: Sequence[Mark] = ()) -> list[float]:
    """Return where hangers stand along a run [m], each as far on as spacing and marks let it, which are the fewest.

    Each carries half of the spacing on either side; one may serve a mark and the spacing, or several marks, at once.
    """
    stand: list[float] = []
    waiting = sorted(marks, key=lambda mark: mark.at + mark.reach)
    while True:
        waiting = [mark for mark in waiting if _missing(mark, stand) > 0]
        carried = length <= 0.0 if not stand else length - stand[-1] <= spacing / 2.0 + _SLACK
        due = min(waiting[0].at + waiting[0].reach, length) if waiting else None
        if carried and due is None:
            return stand
        furthest = min(stand[-1] + spacing if stand else spacing / 2.0, length)
        if due is not None and (carried or due <= furthest):
            stand += [due] * _missing(waiting[0], stand)
        else:
            stand.append(furthest)


def _missing(mark: Mark, stand: Sequence[float]) -> int:
    """Return how many hangers a mark still lacks."""
    return mark.number - sum(abs(place - mark.at) <= mark.reach + _SLACK for place in stand)


def of_run(run: RunNeeds, rules: Rules, junction: float | None) -> Counter[float]:
    """Return how many hangers of each bore a run takes.

    Where its elbows sit is known only where the caller tells its stretches; else each, or each pair that one can serve,
    gets its own beside the spacing.

    Args:
        run: its parts.
        rules: in use.
        junction: bore of the outlet of the junction piece that it begins at, m; None where it begins at none.
    """
    hose = any(part.hose for part in run.parts)
    spacing = rules.of("hose_hanger_spacing" if hose else "hanger_spacing")
    marks, out = list(_elbows(run, rules)), Counter[float]()
    if not run.stretches_told:
        for bore, number in _alone(run, rules):
            out[bore] += number
        marks = []
    if junction is not None:
        marks.append(Mark(0.0, rules.of("junction_hanger_reach"), rules.number("hangers_at_junction")))
    bores = [part.upstream_bore for part in run.parts] or [junction or 0.0]
    for place in places(sum(part.straight or 0.0 for part in run.parts), spacing, marks):
        out[_bore_at(run, place, bores[-1])] += 1
    return out


def _elbows(run: RunNeeds, rules: Rules) -> Iterator[Mark]:
    """Yield the mark of each elbow of a run whose stretches are told."""
    passed = 0.0
    for part in run.parts:
        passed += part.straight or 0.0
        if part.elbow:
            yield Mark(passed, rules.of("elbow_hanger_reach"), rules.number("hangers_at_elbow"))


def _alone(run: RunNeeds, rules: Rules) -> Iterator[tuple[float, int]]:
    """Yield the bore of each elbow, or pair of them close enough for one hanger, and how many it takes."""
    between = 0.0
    for part in run.parts:
        if part.elbow and not (part.paired and between <= 2.0 * rules.of("elbow_hanger_reach") + _SLACK):
            yield part.upstream_bore, rules.number("hangers_at_elbow")
        between = 0.0 if part.elbow else between + (part.straight or 0.0)


def _bore_at(run: RunNeeds, place: float, last: float) -> float:
    """Return the bore at a place along the run, m."""
    passed = 0.0
    for part in run.parts:
        passed += part.straight or 0.0
        if part.straight is not None and place <= passed + _SLACK:
            return part.upstream_bore
    return last
