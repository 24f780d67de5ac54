"""Price and pressure at once: labels against every tree and diameter of tiny shops; and the quick bound."""

import itertools
import math
import random

import numpy as np
import pytest

from airbough_service.core.choosing.placing import labels, outside, program, relaxed
from placing_cases import ByHand, Case, paths


class Pressed(Case):
    """A tiny shop in which every piece also needs pressure in two states, at random."""

    def __init__(self, seed, machines, **more):
        super().__init__(seed, machines, **more)
        draw, states = np.random.default_rng(seed), 2
        prices = self.prices
        shapes = [getattr(prices, name).shape for name in ("length", "turn", "straight", "branch")]
        length, turn, straight, branch = (draw.uniform(0.0, 3.0, (*shape, states)) for shape in shapes)
        start, tap = draw.uniform(0.0, 3.0, (2, *prices.start.shape, states))
        self.riser, self.change = prices.start + draw.uniform(0.0, 1.0, prices.start.shape), np.full((3, 3), math.inf)
        for one, out in itertools.combinations_with_replacement(range(3), 2):
            self.change[one, out] = draw.uniform(0.0, 1.0)
        began = (self.riser[:, :, None] + self.change[None]).min(axis=1)
        self.prices = prices._replace(start=began)
        end = draw.uniform(0.0, 3.0, (3, states))
        self.needs = labels.Needs(length, turn, straight, branch, start, tap, end, np.full(states, math.inf))

    def weighted(self, weight):
        """Prices with the needs of one machine's way in each state weighted, and the risers' so."""
        machine = np.arange(2) % len(self.machines)
        passed = (self.rows.group[:, None] >> machine) & 1
        own = (np.arange(len(self.machines))[:, None] == machine).astype(float)
        more = {}
        for name, share in (
            ("length", passed),
            ("turn", passed),
            ("straight", passed),
            ("branch", passed),
            ("tap", own),
        ):
            need = getattr(self.needs, name)
            share = share.reshape(len(share), *(1,) * (need.ndim - 2), 2)
            more[name] = getattr(self.prices, name) + (need * share) @ weight
        more["end"] = self.prices.end + self.needs.end @ weight
        riser = self.riser + (self.needs.start * own[:, None, :]) @ weight
        return self.prices._replace(start=(riser[:, :, None] + self.change[None]).min(axis=1), **more), riser


class EveryWay(ByHand):
    """One tree on the lattice: every choice of diameters and orders, with price and needs; nothing is left out."""

    def plus(self, found, price, need):
        return [(one + price, other + need) for one, other in found] if math.isfinite(price) else []

    def came(self, other, point, heading, bore):
        row = self.case.rows.number[self.group(self.arms(other)), bore]
        if row < 0 or self.case.lattice.to[heading, other] != point:
            return []
        far = self.case.lattice.length[heading, other]
        found = self.leaving(other, heading, bore)
        return self.plus(found, far * self.prices.length[row], far * self.case.needs.length[row])

    def turned(self, other, point, heading, bore, turns=(1, 3)):
        row = self.case.rows.number[self.group(self.arms(other)), bore]
        out = self.came(other, point, heading, bore)
        for side in turns:
            found = self.came(other, point, (heading + side) % 4, bore)
            out = out + self.plus(found, self.prices.turn[row, 0], self.case.needs.turn[row, 0])
        return out

    def leaving(self, point, heading, bore):
        case, arms = self.case, self.arms(point)
        if case.rows.number[self.group(arms), bore] < 0 or len(arms) > 2:
            return []
        if len(arms) == 1:
            kind, other = arms[0]
            if kind != "machine":
                return self.turned(other, point, heading, bore)
            return [
                (case.riser[other, own] + case.change[own, bore], case.needs.start[other, own])
                for own in range(3)
                if math.isfinite(case.change[own, bore])
            ]
        out = []
        for (ahead, other), (kind, branch) in itertools.permutations(arms):
            for one, beside in itertools.product(range(3), repeat=2):
                rows = case.rows.number
                first, second = rows[self.group([(ahead, other)]), one], rows[self.group([(kind, branch)]), beside]
                price = self.prices.join[bore, one, beside]
                if ahead == "machine" or first < 0 or second < 0 or not math.isfinite(price):
                    continue
                price += self.prices.straight[first, bore] + self.prices.branch[second, bore, 0]
                straight = self.plus(self.turned(other, point, heading, one), price, case.needs.straight[first, bore])
                if kind == "machine":
                    entering = [(self.prices.tap[branch, beside], case.needs.tap[branch, beside])]
                else:
                    sides = [self.came(branch, point, (heading + side) % 4, beside) for side in (1, 3)]
                    entering = sides[0] + sides[1]
                entering = self.plus(entering, 0.0, case.needs.branch[second, bore, 0])
                out += [
                    (a + b, np.maximum(need, other_need))
                    for (a, need), (b, other_need) in itertools.product(straight, entering)
                    if math.isfinite(b)
                ]
        return out

    def everything(self):
        """Every price and need at the inlet."""
        point, heading = self.case.inlet
        arms = self.arms(point)
        if len(arms) != 1:
            return []
        return [
            one
            for bore in range(3)
            for one in self.plus(
                self.came(arms[0][1], point, heading, bore), self.prices.end[bore], self.case.needs.end[bore]
            )
        ]


def every_tree(case):
    """Price and needs of every tree."""
    for chosen in itertools.product(*[list(paths(case, machine)) for machine in case.machines]):
        following = {}
        if all(following.setdefault(one, other) == other for path in chosen for one, other in itertools.pairwise(path)):
            yield from EveryWay(case, following).everything()


def looked_for(case, available, most, weight):
    """What the labels find."""
    heavy, riser = case.weighted(weight)
    machines = np.array(case.machines)
    solved = program.solve(case.lattice, machines, case.rows, heavy)
    still = outside.still(case.lattice, machines, solved, heavy, case.inlet)
    needs = case.needs._replace(available=available)
    starts = labels.Starts(case.riser, riser, case.change)
    asked = labels.Asked(case.rows, case.prices, heavy, starts, needs, still, most + weight @ available, 50_000)
    return labels.cheapest(case.lattice, machines, asked, case.inlet, 5)[:2]


@pytest.mark.parametrize(("machines", "seed"), [*((2, seed) for seed in range(24)), *((3, seed) for seed in range(4))])
def test_no_tree_whose_pressure_suffices_is_cheaper(machines, seed):
    """The pressure is drawn between the least that any tree needs and what the cheapest needs."""
    case = Pressed(seed, machines, rows=3 if machines == 2 else 2)
    everything = list(every_tree(case))
    if not everything:
        return
    needs = np.array([need for _, need in everything])
    cheapest = min(everything, key=lambda one: one[0])[1]
    share = random.Random(seed).uniform(0.0, 1.0)
    available = needs.min(axis=0) + share * np.maximum(cheapest - needs.min(axis=0), 0.0) + 1e-9
    least = min((price for price, need in everything if (need <= available).all()), default=math.inf)
    free, whole = looked_for(case, available, 1e6, np.zeros(2))
    assert whole
    price = free[0].price if free else math.inf
    assert price <= least * (1 + 1e-12)
    if not (free and free[0].overlaps):
        assert price == pytest.approx(least, rel=1e-12)
    if free:
        weight = np.random.default_rng(seed).uniform(0.0, 0.2, 2)
        narrow, whole = looked_for(case, available, price * (1 + 1e-9), weight)
        assert whole
        assert narrow[0].price == pytest.approx(price, rel=1e-12)


@pytest.mark.parametrize("seed", range(12))
def test_the_quick_bound_is_never_above_a_tree(seed):
    """By set too: no tree that shares a duct by a set is cheaper than the bound says."""
    case = Case(seed, 3, rows=2)
    solved, machines = case.solved(), np.array(case.machines)
    price, row, _ = program.best(solved, case.prices, case.inlet)
    if row < 0:
        return
    quick = relaxed.solve(case.lattice, machines, case.rows, case.prices)
    assert relaxed.least(quick, case.rows, case.prices, case.inlet) <= price * (1 + 1e-12)
    arguments = (case.lattice, machines, case.rows, case.prices, case.inlet, quick)
    by_set = relaxed.least_by_point(*arguments, math.inf).min(axis=1)
    still = outside.still(case.lattice, machines, solved, case.prices, case.inlet)
    whole = (solved.arrived + still).min(axis=(1, 2))
    for number, least in enumerate(whole):
        group = case.rows.group[number]
        assert by_set[group] <= least * (1 + 1e-12)
    limited = relaxed.least_by_point(*arguments, price * (1 + 1e-9))
    kept = np.isfinite(limited)
    assert kept[case.rows.group[row]].any()
    joined = np.array([group & (group - 1) != 0 for group in range(8)])
    assert not kept.any(axis=1)[joined & (by_set > price * (1 + 1e-9))].any()
    assert kept.any(axis=1)[joined & (by_set <= price * (1 - relaxed.GRAIN))].all()
    fewer = case.rows._replace(worth=kept)
    again = program.solve(case.lattice, machines, fewer, case.prices)
    assert program.best(again, case.prices, case.inlet)[0] == pytest.approx(price, rel=1e-12)
    back = outside.still(case.lattice, machines, again, case.prices, case.inlet)
    assert (again.arrived + back).min() == pytest.approx(price, rel=1e-12)


@pytest.mark.parametrize("seed", [9, 54, 77, 91])
def test_the_cheapest_tree_is_among_what_the_quick_bound_leaves(seed):
    """Four machines on diagonals too, where risers enter runs for less than a run of their own costs."""
    case = Case(1000 + seed, 4, rows=2, diagonal=True)
    solved, machines = case.solved(), np.array(case.machines)
    price, _, _ = program.best(solved, case.prices, case.inlet)
    quick = relaxed.solve(case.lattice, machines, case.rows, case.prices)
    most = price * (1 + 1e-9)
    found = relaxed.least_by_point(case.lattice, machines, case.rows, case.prices, case.inlet, quick, most)
    fewer = case.rows._replace(worth=np.isfinite(found))
    again = program.solve(case.lattice, machines, fewer, case.prices)
    assert program.best(again, case.prices, case.inlet)[0] == pytest.approx(price, rel=1e-12)
