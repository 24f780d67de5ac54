"""Choices near a choice: one run, or all from one to the collector, in the next smaller or larger bore."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from airbough_service.core import deadline
from airbough_service.core.sizing import Chosen
from airbough_service.edge.sizing.problem import Problem

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
            near = [abs(option.run.start - bores[index]) for option in problem.options[site]]
            if not near:
                return
            numbers.append(int(np.argmin(near)))
        into = {arm: number for number, site in enumerate(problem.sites) for arm in site.arms}
        choice = [*numbers, 0]
        joined = [self._joined(site, choice) for site in range(len(problem.sites))]
        for moving in _moves(into, len(numbers)):
            for step in (-1, 1):
                deadline.check()
                if all(0 <= numbers[site] + step < len(problem.options[site]) for site in moving):
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
            own = self.problem.sites[site].choices[key[1]]
            fits = np.flatnonzero((own.arms == key[2:]).all(axis=1))
            row = int(fits[np.argmin(own.row_cost[fits])]) if fits.size else -1
            self.known[key] = (row, own.cost + float(own.row_cost[row])) if fits.size else None
        return self.known[key]


def _moves(into: dict[int, int], sites: int) -> Iterator[list[int]]:
    """Give the sets of sites that move together: each alone, then each path from a site to the collector."""
    for site in range(sites):
        yield [site]
    for site in range(sites):
        path = [site]
        while into[path[-1]] < sites:
            path.append(into[path[-1]])
        if len(path) > 1:
            yield path
