"""Tiny invented shops for where ducts run, and every tree of them, priced by hand."""

import itertools
import math
import random

import numpy as np

from airbough_service.core.choosing.placing import program, sets
from airbough_service.core.choosing.placing.lattice import lattice


class Case:
    """A tiny invented shop with random prices: square room, machines on its lattice, some ways missing.

    Each machine runs alone, or each `together` with the next.
    """

    def __init__(self, seed, machines, columns=3, rows=3, *, diagonal=False, together=False):
        draw = random.Random(seed)
        spots = [(float(i), float(j)) for i in range(columns) for j in range(rows)]
        room = [(0.0, 0.0), (columns - 1.0, 0.0), (columns - 1.0, rows - 1.0), (0.0, rows - 1.0)]
        if machines == 2 and draw.random() < 0.3 and rows > 2:
            room[2:3] = [(columns - 1.0, 1.0), (1.0, 1.0), (1.0, rows - 1.0)]
        self.lattice = lattice(room, spots, [], [], diagonal=diagonal)
        headings = len(self.lattice.to)
        for heading, point in itertools.product(range(headings // 2), range(self.lattice.x.size)):
            other = int(self.lattice.to[heading, point])
            if other >= 0 and draw.random() < 0.15:
                self.lattice.to[heading, point] = -1
                self.lattice.to[heading + headings // 2, other] = -1
        points = draw.sample(range(self.lattice.x.size), machines + 1)
        self.machines, self.inlet = points[1:], program.Inlet(points[0], draw.randrange(headings))
        self.area = np.array([0.008, 0.013, 0.018])
        flow = np.array([draw.uniform(0.1, 0.3) for _ in range(machines)])
        upper = np.full(machines, draw.choice([30.0, math.inf]))
        opened = np.eye(machines) + (np.roll(np.eye(machines), 1, axis=1) if together else 0.0)
        self.flows = sets.Flows(opened * flow, np.full(machines, 14.0), upper, flow)
        self.allowed = sets.allowed(self.flows, self.area)
        self.rows = program.rows_of(self.allowed)
        count = self.rows.group.size
        bore = self.rows.diameter
        pipe = np.array([draw.uniform(1.0, 5.0) for _ in range(3)])
        elbow = np.array([draw.uniform(1.0, 5.0) for _ in range(3)])
        join = np.array([draw.uniform(1.0, 6.0) for _ in range(27)]).reshape(3, 3, 3)
        for out, one, other in itertools.product(range(3), repeat=3):
            if max(one, other) > out:
                join[out, one, other] = math.inf
        weight = np.array([draw.uniform(0.0, 1.0) for _ in range(count)])
        tap = np.array([[draw.uniform(1.0, 3.0) for _ in range(3)] for _ in range(machines)])
        if draw.random() < 0.3:
            tap[:] = math.inf
        self.prices = program.Prices(
            pipe[bore] + weight,
            (elbow[bore] + weight)[:, None] * self.steps(draw),
            np.array([[draw.uniform(1.0, 3.0) for _ in range(3)] for _ in range(machines)]),
            tap,
            join,
            0.3 * weight[:, None] * np.array([1.0, 2.0, 3.0]),
            0.2 * weight[:, None, None] * np.array([3.0, 1.0, 2.0])[:, None] * self.steps(draw),
            np.array([draw.uniform(0.0, 3.0) for _ in range(3)]),
        )

    def steps(self, draw):
        """What turns by one step and more cost to one another; a right angle is 1."""
        return np.array([1.0]) if len(self.lattice.to) == 4 else np.array([draw.uniform(0.4, 0.7), 1.0])

    def solved(self):
        return program.solve(self.lattice, np.array(self.machines), self.rows, self.prices)


def least_by_hand(case):
    """The least price over every union of simple paths that is a tree."""
    return min((price for _, price in trees_by_hand(case)), default=math.inf)


def trees_by_hand(case):
    """Every union of simple paths that is a tree: what follows each point, and the price."""
    for chosen in itertools.product(*[list(paths(case, machine)) for machine in case.machines]):
        following = {}
        if all(following.setdefault(one, other) == other for path in chosen for one, other in itertools.pairwise(path)):
            yield following, ByHand(case, following).whole()


def paths(case, start):
    """Every simple path from a point to the collector."""

    def go(path):
        if path[-1] == case.inlet[0]:
            yield path
            return
        for heading in range(len(case.lattice.to)):
            other = int(case.lattice.to[heading, path[-1]])
            if other >= 0 and other not in path:
                yield from go([*path, other])

    return go([start])


class ByHand:
    """One tree on the lattice, priced by its own recursion from the collector outwards: every diameter."""

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

    def came(self, other, point, heading, bore):
        """The least price of what comes along a way in a heading and diameter."""
        row = self.case.rows.number[self.group(self.arms(other)), bore]
        if row < 0 or self.case.lattice.to[heading, other] != point:
            return math.inf
        way = self.case.lattice.length[heading, other] * self.prices.length[row]
        return self.leaving(other, heading, bore) + way

    def aside(self, other, point, heading):
        """By how many steps, to which side, a way to a point comes off a heading; None behind a right angle."""
        headings = len(self.case.lattice.to)
        step = (self.case.lattice.heading(other, point) - heading + headings // 2) % headings - headings // 2
        return step if abs(step) <= headings // 4 else None

    def turned(self, other, point, heading, bore):
        """The least price of what comes along a way and turns into a heading."""
        step = self.aside(other, point, heading)
        row = self.case.rows.number[self.group(self.arms(other)), bore]
        if step is None or row < 0:
            return math.inf
        price = self.came(other, point, self.case.lattice.heading(other, point), bore)
        return price + (self.prices.turn[row, abs(step) - 1] if step else 0.0)

    def leaving(self, point, heading, bore):
        """The least price of what leaves a point."""
        arms = self.arms(point)
        if self.case.rows.number[self.group(arms), bore] < 0 or len(arms) > 2:
            return math.inf
        if len(arms) == 1:
            kind, other = arms[0]
            return self.prices.start[other, bore] if kind == "machine" else self.turned(other, point, heading, bore)
        least = math.inf
        for (ahead, other), (kind, branch) in itertools.permutations(arms):
            for one, beside in itertools.product(range(3), repeat=2):
                rows = self.case.rows.number
                first, second = rows[self.group([(ahead, other)]), one], rows[self.group([(kind, branch)]), beside]
                if ahead == "machine" or first < 0 or second < 0:
                    continue
                price = self.prices.join[bore, one, beside] + self.turned(other, point, heading, one)
                price += self.prices.straight[first, bore]
                if kind == "machine":
                    price += self.prices.branch[second, bore, -1]
                    least = min(least, price + self.prices.tap[branch, beside])
                    continue
                step, turn = self.aside(branch, point, heading), self.aside(other, point, heading)
                if not step or turn is None or step * turn > 0:  # not from the side from which the other came
                    continue
                price += self.prices.branch[second, bore, abs(step) - 1]
                came = self.case.lattice.heading(branch, point)
                least = min(least, price + self.came(branch, point, came, beside))
        return least

    def whole(self):
        """The least price at the inlet, entered by one way without a turn."""
        point, heading = self.case.inlet
        arms = self.arms(point)
        if len(arms) != 1:
            return math.inf
        return min(self.came(arms[0][1], point, heading, bore) + self.prices.end[bore] for bore in range(3))


def summed(case, run, outlet):
    """What a traced run and all upstream of it cost, piece by piece, as it lies."""
    prices, row = case.prices, case.rows.number[run.machines, run.diameter]
    where = case.lattice
    headings = [where.heading(*ends) for ends in itertools.pairwise(run.points)]
    price = sum(where.distance(*ends) for ends in itertools.pairwise(run.points)) * prices.length[row]
    turns = list(headings)
    if outlet is not None and run is outlet.straight:
        turns.append(where.heading(*outlet.points[:2]))
    price += sum(prices.turn[row, where.steps(a, b) - 1] for a, b in itertools.pairwise(turns) if a != b)
    if outlet is not None and run is outlet.branch:
        step = where.steps(headings[-1], where.heading(*outlet.points[:2])) if headings else prices.branch.shape[2]
        price += prices.branch[row, outlet.diameter, step - 1]
    if run.straight is None:
        machine = run.machines.bit_length() - 1
        own = prices.start if headings else prices.tap
        return price + own[machine, run.diameter]
    first, second = run.straight, run.branch
    price += prices.join[run.diameter, first.diameter, second.diameter]
    price += prices.straight[case.rows.number[first.machines, first.diameter], run.diameter]
    return price + summed(case, first, run) + summed(case, second, run)


def drawn(seed, machines, boxes=(), more=()):
    """An invented room with machines at random, some lines more, and one price for everything of a diameter."""
    draw = random.Random(seed)
    places = [(draw.uniform(0.5, 9.5), draw.uniform(0.5, 6.5)) for _ in range(machines)]
    room = [(0.0, 0.0), (10.0, 0.0), (10.0, 7.0), (0.0, 7.0)]
    lines = [(0.0, 3.3), *places, *more]
    return lattice(room, lines + [(box.left, box.low) for box in boxes] + [(box.right, box.high) for box in boxes],
                   list(boxes), [], 0.3), places  # fmt: skip


def least(where, places, kept=None):
    """The least price of the machines kept."""
    kept = range(len(places)) if kept is None else kept
    number = len(kept)
    flow = np.linspace(0.2, 0.3, len(places))[list(kept)]
    flows = sets.Flows(np.diag(flow), np.full(number, 14.0), np.full(number, math.inf), flow)
    area = np.array([0.008, 0.013, 0.018])
    rows = program.rows_of(sets.allowed(flows, area))
    count, pipe = rows.group.size, np.array([5.0, 7.0, 9.0])
    join = np.full((3, 3, 3), math.inf)
    for out, one, other in itertools.product(range(3), repeat=3):
        if max(one, other) <= out:
            join[out, one, other] = 6.0 + out + (one != out)
    prices = program.Prices(
        pipe[rows.diameter],
        4.0 + rows.diameter[:, None],
        np.full((number, 3), 8.0),
        np.full((number, 3), 9.0),
        join,
        np.zeros((count, 3)),
        np.full((count, 3, 1), 2.0),
        np.zeros(3),
    )
    points = np.array([where.at(*places[at]) for at in kept])
    solved = program.solve(where, points, rows, prices)
    return program.best(solved, prices, program.Inlet(where.at(0.0, 3.3), 2))[0]
