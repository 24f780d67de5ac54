"""Cutting pieces from stock lengths: how a straight is split, and how cuts are packed into stock pieces.

Packing is the one-dimensional cutting-stock problem. Best-fit decreasing gives a first packing, a lower bound tells
whether it can be beaten, and branch and bound looks for a better one. A duct job has few cuts of one bore, so this
proves nearly every one within milliseconds; a general optimiser would bring a large dependency for the rest, which is
answered with the gap told. Lengths in m; `cost` is length or price.
"""

from __future__ import annotations

import math
from bisect import bisect_left, insort
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

_SLACK: Final = 1.0e-9
_NODES: Final = 20000  # search steps before the gap is told instead
_DEEPEST: Final = 200  # cuts; the search calls itself once for each


@dataclass(frozen=True, slots=True)
class Stock:
    """A stock piece that may be bought any number of times: length in m, and what it costs."""

    length: float
    cost: float


@dataclass(frozen=True, slots=True)
class Bar:
    """One stock piece and the cuts taken from it, by number."""

    stock: int
    cuts: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Packing:
    """All cuts in stock pieces.

    Attributes:
        bars: the stock pieces.
        cost: of all of them.
        bound: no packing of these cuts costs less.
        exact: whether the cost is proved to be the least.
    """

    bars: tuple[Bar, ...]
    cost: float
    bound: float
    exact: bool


class TooLongError(ValueError):
    """A cut is longer than every stock piece."""


def fits(cuts: Sequence[float], length: float, kerf: float) -> bool:
    """Return whether cuts come out of one stock piece; between two cuts the saw takes one kerf."""
    return sum(cuts) + kerf * (len(cuts) - 1) <= length + _SLACK if cuts else True


def split(length: float, full: float, cut: float, least: float) -> tuple[int, tuple[float, ...]]:
    """Split a straight into the fewest pieces: full ones, then what remains.

    Args:
        length: what must be covered [m].
        full: what an uncut stock piece covers, laps taken off [m].
        cut: the most that a cut piece covers [m].
        least: no shorter piece is cut beside a full one [m].

    Returns:
        The number of full pieces, and the lengths that cut pieces cover; together they cover `length`.
    """
    whole = math.floor(length / full + _SLACK)
    rest = length - whole * full
    if rest <= _SLACK * max(1.0, length):
        return whole, ()
    if rest < least and whole and full - (least - rest) >= least:
        whole -= 1
        parts: tuple[float, ...] = (full - (least - rest), least)
    else:
        parts = (rest,)
    return whole, tuple(piece for part in parts for piece in _halved(part, cut))


def _halved(part: float, cut: float) -> tuple[float, ...]:
    """Return a part in as many equal pieces as a cut piece's cover asks for."""
    pieces = max(1, math.ceil(part / cut - _SLACK))
    return (part / pieces,) * pieces


def pack(cuts: Sequence[float], stocks: Sequence[Stock], kerf: float, nodes: int = _NODES) -> Packing:
    """Pack cuts into stock pieces at the least cost.

    Args:
        cuts: lengths [m].
        stocks: the stock pieces on offer.
        kerf: what a cut takes [m].
        nodes: search steps after which the best packing found is answered with its gap.

    Raises:
        TooLongError: where a cut is longer than every stock piece.
    """
    if not cuts:
        return Packing((), 0.0, 0.0, exact=True)
    longest = max(stock.length for stock in stocks)
    if max(cuts) > longest + _SLACK:
        raise TooLongError(f"a cut of {max(cuts):g} m is longer than the longest stock piece, {longest:g} m")
    problem = _Problem.of(cuts, stocks, kerf)
    best = min((_best_fit(problem, first) for first in range(len(stocks))), key=problem.cost)
    bound = problem.bound()
    if problem.cost(best) > bound + _SLACK and len(cuts) <= _DEEPEST:
        search = _Search(problem, best, bound, nodes)
        search.run()
        best = search.best
        bound = problem.cost(best) if search.finished else bound
    cost = problem.cost(best)
    bars = tuple(Bar(bar.stock, tuple(sorted(problem.order[item] for item in bar.items))) for bar in best)
    return Packing(bars, cost, min(bound, cost), exact=cost <= bound + _SLACK * max(1.0, cost))


@dataclass(slots=True)
class _Open:
    stock: int
    free: float
    items: list[int] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Problem:
    """Cuts longest first, each with its kerf; a stock piece holds one kerf more than its length."""

    order: tuple[int, ...]
    sizes: tuple[float, ...]
    room: tuple[float, ...]
    costs: tuple[float, ...]

    @classmethod
    def of(cls, cuts: Sequence[float], stocks: Sequence[Stock], kerf: float) -> _Problem:
        order = tuple(sorted(range(len(cuts)), key=lambda item: -cuts[item]))
        return cls(
            order,
            tuple(cuts[item] + kerf for item in order),
            tuple(stock.length + kerf for stock in stocks),
            tuple(stock.cost for stock in stocks),
        )

    def cost(self, bars: Sequence[_Open]) -> float:
        return sum(self.costs[bar.stock] for bar in bars)

    def cheapest(self, size: float) -> int:
        """Return the cheapest stock that holds a size; of equal ones the longest."""
        able = [number for number, room in enumerate(self.room) if size <= room + _SLACK]
        return min(able, key=lambda number: (self.costs[number], -self.room[number]))

    def least_for(self, size: float) -> float:
        """Return a lower bound on the cost of new stock pieces that hold `size` in all."""
        if size <= _SLACK:
            return 0.0
        by_rate = size * min(cost / room for cost, room in zip(self.costs, self.room, strict=True))
        by_count = math.ceil(size / max(self.room) - _SLACK) * min(self.costs)
        return max(by_rate, by_count)

    def bound(self) -> float:
        """Return a lower bound on the cost of all."""
        bound = self.least_for(sum(self.sizes))
        if len(self.room) == 1:
            bound = max(bound, _least_bars(self.sizes, self.room[0]) * self.costs[0])
        return bound


def _least_bars(sizes: Sequence[float], room: float) -> int:
    """Return the second lower bound of Martello and Toth on the number of equal bins (from memory)."""
    best = math.ceil(sum(sizes) / room - _SLACK)
    for small in sorted({size for size in sizes if size <= room / 2})[:_DEEPEST]:
        alone = sum(size > room - small + _SLACK for size in sizes)
        large = [size for size in sizes if room / 2 + _SLACK < size <= room - small + _SLACK]
        rest = sum(size for size in sizes if small - _SLACK <= size <= room / 2 + _SLACK)
        spill = rest - (len(large) * room - sum(large))
        best = max(best, alone + len(large) + max(0, math.ceil(spill / room - _SLACK)))
    over_half = sum(size > room / 2 + _SLACK for size in sizes)
    return max(best, over_half)


def _best_fit(problem: _Problem, first: int) -> list[_Open]:
    """Pack each cut into the fullest stock piece that takes it, new ones of one kind; then make each the cheapest."""
    bars: list[_Open] = []
    by_room: list[tuple[float, int]] = []
    for item, size in enumerate(problem.sizes):
        place = bisect_left(by_room, (size - _SLACK, -1))
        if place < len(by_room):
            _, number = by_room.pop(place)
        else:
            stock = first if size <= problem.room[first] + _SLACK else problem.cheapest(size)
            number = len(bars)
            bars.append(_Open(stock, problem.room[stock]))
        bars[number].free -= size
        bars[number].items.append(item)
        insort(by_room, (bars[number].free, number))
    for bar in bars:
        bar.stock = problem.cheapest(sum(problem.sizes[item] for item in bar.items))
    return bars


class _Search:
    """Depth-first branch and bound, longest cut first."""

    def __init__(self, problem: _Problem, best: list[_Open], bound: float, nodes: int) -> None:
        self.problem, self.best, self.bound, self.nodes = problem, best, bound, nodes
        self.best_cost = problem.cost(best)
        self.left = [sum(problem.sizes[item:]) for item in range(len(problem.sizes) + 1)]
        self.bars: list[_Open] = []
        self.finished = True

    def run(self) -> None:
        self._place(0, 0.0)

    def _done(self) -> bool:
        return self.best_cost <= self.bound + _SLACK or not self.finished

    def _place(self, item: int, cost: float) -> None:
        self.nodes -= 1
        if self.nodes < 0:
            self.finished = False
            return
        if item == len(self.problem.sizes):
            if cost >= self.best_cost - _SLACK:
                return
            self.best_cost = cost
            self.best = [_Open(bar.stock, bar.free, list(bar.items)) for bar in self.bars]
            return
        least = self.problem.sizes[-1]
        usable = sum(bar.free for bar in self.bars if bar.free >= least - _SLACK)
        if cost + self.problem.least_for(self.left[item] - usable) >= self.best_cost - _SLACK:
            return
        if self._into_open(item, cost):
            self._into_new(item, cost)

    def _into_open(self, item: int, cost: float) -> bool:
        """Try every open stock piece of unlike room; return whether a new one is worth trying."""
        size, tried = self.problem.sizes[item], set()
        for bar in sorted(self.bars, key=lambda bar: bar.free):
            if bar.free < size - _SLACK or round(bar.free, 9) in tried:
                continue
            tried.add(round(bar.free, 9))
            perfect = bar.free <= size + _SLACK
            self._with(bar, item, cost)
            if self._done() or perfect:
                return False
        return True

    def _into_new(self, item: int, cost: float) -> None:
        size = self.problem.sizes[item]
        for stock, room in sorted(enumerate(self.problem.room), key=lambda kind: -kind[1]):
            if room < size - _SLACK or self._done():
                continue
            bar = _Open(stock, room)
            self.bars.append(bar)
            self._with(bar, item, cost + self.problem.costs[stock])
            self.bars.pop()

    def _with(self, bar: _Open, item: int, cost: float) -> None:
        size = self.problem.sizes[item]
        bar.free -= size
        bar.items.append(item)
        self._place(item + 1, cost)
        bar.items.pop()
        bar.free += size
