"""Choices near a choice: one run, or all from one to the collector, in the next smaller or larger bore."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from airbough_service.core import deadline
from airbough_service.core.choosing.sizing import Chosen
from airbough_service.questions.sizing.problem import Problem

Joined = tuple[int, float]
"""A junction's row in its site's choice, and the cost of both."""


@dataclass(slots=True)
class Neighbours:
    """Makes choices of one problem; the cheapest way to join a set of bores is looked up once.

    Attributes:
        problem: whose choices.
        known: by site, its bore and those of its arms: how they are joined; None where the stock has no way.
    """

    problem: Problem
    known: dict[tuple[int, ...], Joined | None] = field(default_factory=dict)

    def of(self, bores: dict[int, float]) -> Iterator[Chosen]:
        """Give the choices near that of these bores, m, by run."""
        problem, numbers = self.problem, []
        for site, index in enumerate(problem.order):
            near = [abs(option.bore - bores[index]) for option in problem.options[site]]
            if not near:
                return
            numbers.append(int(np.argmin(near)))
        into = {arm: number for number, site in enumerate(problem.sites) for arm in site.arms}
        choice = [*numbers, 0]
        joined = [self._joined(site, choice) for site in range(len(problem.sites))]
        places = [(number, len(own)) for number, own in zip(numbers, problem.options, strict=True)]
        for moving, step in _moves(into, places):
            deadline.check()
            chosen = self._moved(choice, joined, moving, step, into)
            if chosen is not None:
                yield chosen

    def _moved(
        self, choice: list[int], joined: list[Joined | None], moving: list[int], step: int, into: dict[int, int]
    ) -> Chosen | None:
        """Return the choice with some sites' bores moved; None where the stock cannot join it."""
        moved, how = choice.copy(), joined.copy()
        for site in moving:
            moved[site] += step
        for site in {*moving, *(into[site] for site in moving)}:
            how[site] = self._joined(site, moved)
        rows = [one[0] for one in how if one is not None]
        if len(rows) < len(how):
            return None
        cost = sum(one[1] for one in how if one is not None)
        return Chosen(tuple(moved), tuple(rows), np.zeros(self.problem.aim.ceiling.size), cost, 0)

    def _joined(self, site: int, choice: list[int]) -> Joined | None:
        """Return the cheapest way to join a site in its bore to its arms in theirs."""
        key = (site, choice[site], *(choice[arm] for arm in self.problem.sites[site].arms))
        if key not in self.known:
            own = self.problem.sites[site]
            part = slice(own.row(key[1], 0), own.row(key[1] + 1, 0))
            row_cost, fits = own.row_cost[part], np.flatnonzero((own.sets[part] == key[2:]).all(axis=1))
            row = int(fits[np.argmin(row_cost[fits])]) if fits.size else -1
            self.known[key] = (row, float(own.cost[key[1]]) + float(row_cost[row])) if fits.size else None
        return self.known[key]


def _moves(into: dict[int, int], places: list[tuple[int, int]]) -> Iterator[tuple[list[int], int]]:
    """Give the sites that move together, and by what step: each alone, then each path from a site to the collector.

    Args:
        into: the site that each flows into; the inlet has none.
        places: by site, the number of its bore and of how many.
    """
    steps = (-1, 1)
    able = [[0 <= number + step < count for step in steps] for number, count in places]
    for site, own in enumerate(able):
        yield from (([site], step) for step, can in zip(steps, own, strict=True) if can)
    whole = [own.copy() for own in able] + [[True, True]]
    for site in range(len(places) - 1, -1, -1):  # what a site flows into comes after it
        whole[site] = [can and further for can, further in zip(able[site], whole[into[site]], strict=True)]
    for site, own in enumerate(whole[:-1]):
        if into[site] == len(places) or not any(own):
            continue
        path = [site]
        while into[path[-1]] < len(places):
            path.append(into[path[-1]])
        yield from ((path, step) for step, can in zip(steps, own, strict=True) if can)
