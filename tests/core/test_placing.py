"""Where ducts run: the dynamic program against every tree of tiny shops, with every diameter and order of joining."""

import itertools
import math
import random

import numpy as np
import pytest

from airbough_service.core.choosing.placing import program, sets
from airbough_service.core.choosing.placing.lattice import lattice
from airbough_service.core.choosing.placing.trace import trace


class Case:
    """A tiny invented shop with random prices: square room, machines on its lattice, some ways missing."""

    def __init__(self, seed, machines, columns=3, rows=3):
        draw = random.Random(seed)
        spots = [(float(i), float(j)) for i in range(columns) for j in range(rows)]
        room = [(0.0, 0.0), (columns - 1.0, 0.0), (columns - 1.0, rows - 1.0), (0.0, rows - 1.0)]
        if machines == 2 and draw.random() < 0.3:
            room[2:3] = [(columns - 1.0, 1.0), (1.0, 1.0), (1.0, rows - 1.0)]
        self.lattice = lattice(room, spots, [], [])
        for heading, point in itertools.product(range(2), range(self.lattice.x.size)):
            other = int(self.lattice.to[heading, point])
            if other >= 0 and draw.random() < 0.15:
                self.lattice.to[heading, point] = -1
                self.lattice.to[heading + 2, other] = -1
        points = draw.sample(range(self.lattice.x.size), machines + 1)
        self.machines, self.inlet = points[1:], (points[0], draw.randrange(4))
        self.area = np.array([0.008, 0.013, 0.018])
        flow = np.array([draw.uniform(0.1, 0.3) for _ in range(machines)])
        self.flows = sets.Flows(
            np.diag(flow), np.full(machines, 14.0), np.full(machines, draw.choice([30.0, math.inf]))
        )
        self.allowed = sets.allowed(self.flows, self.area)
        self.rows = program.rows_of(self.allowed)
        count = self.rows.group.size
        bore = self.rows.diameter
        pipe = np.array([draw.uniform(1.0, 5.0) for _ in range(3)])
        elbow = np.array([draw.uniform(1.0, 5.0) for _ in range(3)])
        narrow = np.array([[draw.uniform(0.5, 3.0) for _ in range(3)] for _ in range(3)])
        narrow[np.tril_indices(3, -1)] = math.inf
        np.fill_diagonal(narrow, 0.0)
        join = np.array([[draw.uniform(1.0, 6.0) for _ in range(3)] for _ in range(3)])
        join[np.triu_indices(3, 1)] = math.inf
        weight = np.array([draw.uniform(0.0, 1.0) for _ in range(count)])
        self.prices = program.Prices(
            pipe[bore] + weight,
            elbow[bore] + weight,
            np.array([[draw.uniform(1.0, 3.0) for _ in range(3)] for _ in range(machines)]),
            narrow,
            join,
            0.3 * weight,
            0.2 * weight,
            np.array([draw.uniform(0.0, 3.0) for _ in range(3)]),
        )

    def solved(self):
        return program.solve(self.lattice, np.array(self.machines), self.rows, self.prices)


def least_by_hand(case):
    """The least price over every union of simple paths that is a tree."""
    least = math.inf
    for chosen in itertools.product(*[list(paths(case, machine)) for machine in case.machines]):
        following = {}
        if all(following.setdefault(one, other) == other for path in chosen for one, other in itertools.pairwise(path)):
            tree, (root, heading) = ByHand(case, following), case.inlet
            least = min(least, *(tree.at(root, heading, bore) + case.prices.end[bore] for bore in range(3)))
    return least


def paths(case, start):
    """Every simple path from a point to the collector."""

    def go(path):
        if path[-1] == case.inlet[0]:
            yield path
            return
        for heading in range(4):
            other = int(case.lattice.to[heading, path[-1]])
            if other >= 0 and other not in path:
                yield from go([*path, other])

    return go([start])


class ByHand:
    """One tree on the lattice, priced by its own recursion from the collector outwards: every diameter and order."""

    def __init__(self, case, following):
        self.case, self.prices = case, case.prices
        self.arriving = {}
        for one, other in following.items():
            self.arriving.setdefault(other, []).append(one)

    def arms(self, point):
        """The machines at a point, and the ways that lead to it."""
        here = [("machine", number) for number, at in enumerate(self.case.machines) if at == point]
        return here + [("way", other) for other in self.arriving.get(point, [])]

    def group(self, arms):
        """The set of machines upstream of some arms."""
        return sum(1 << at if kind == "machine" else self.group(self.arms(at)) for kind, at in arms)

    def at(self, point, heading, bore):
        """The least price of all that arrives at a point, gone on in a heading and diameter."""
        return self.together(self.arms(point), point, heading, bore)

    def together(self, arms, point, heading, bore):
        """Some arms in one run: one alone, or joined in some order; the joined run may turn at the point."""
        row = self.case.rows.number[self.group(arms), bore]
        if row < 0:
            return math.inf
        if len(arms) == 1:
            return self.alone(arms[0], point, heading, bore, row)
        sides = [(turns, (heading + turn) % 4) for turns in range(3) for turn in {turns, -turns}]
        return min(self.joined(arms, point, side, bore) + turns * self.prices.turn[row] for turns, side in sides)

    def alone(self, arm, point, heading, bore, row):
        """A machine's riser, or a way with the turns at its end."""
        kind, other = arm
        if kind == "machine":
            return self.prices.start[other, bore]
        along = next(at for at in range(4) if self.case.lattice.to[at, other] == point)
        way = self.case.lattice.length[along, other] * self.prices.length[row]
        turns = min((along - heading) % 4, (heading - along) % 4)
        return self.at(other, along, bore) + way + turns * self.prices.turn[row]

    def joined(self, arms, point, heading, bore):
        """Two parts of the arms, the first straight on, the second from either side; every parting."""
        least, number = math.inf, self.case.rows.number
        parts = [part for size in range(1, len(arms)) for part in itertools.combinations(arms, size)]
        for part, one, other in itertools.product(parts, range(3), range(3)):
            rest = [arm for arm in arms if arm not in part]
            first, second = number[self.group(part), one], number[self.group(rest), other]
            if first < 0 or second < 0:
                continue
            price = self.prices.narrow[one, bore] + self.prices.join[bore, other]
            price += self.prices.straight[first] + self.prices.branch[second]
            price += self.together(list(part), point, heading, one)
            sides = ((heading + 1) % 4, (heading + 3) % 4)
            least = min(least, price + min(self.together(rest, point, side, other) for side in sides))
        return least


@pytest.mark.parametrize(("machines", "seed"), [*((2, seed) for seed in range(40)), *((3, seed) for seed in range(10))])
def test_no_tree_of_a_tiny_shop_is_cheaper(machines, seed):
    """Equal to the least of every tree, or below it where two runs share a way without joining."""
    case = Case(seed, machines, rows=3 if machines == 2 else 2)
    solved = case.solved()
    price, row = program.best(solved, case.prices, case.inlet)
    least = least_by_hand(case)
    if row < 0:
        assert math.isinf(least)
        return
    found = trace(case.lattice, case.machines, solved, case.prices, case.inlet, row)
    assert found.price == pytest.approx(price, rel=1e-12)
    assert price <= least * (1 + 1e-12)
    if not found.overlaps:
        assert price == pytest.approx(least, rel=1e-12)
