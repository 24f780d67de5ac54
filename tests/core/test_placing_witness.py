"""The cheapest tree of small shops against general libraries: a mixed-integer program, and a Steiner tree's length.

The mixed-integer program has the same rules and is solved by HiGHS (scipy).
One diameter, random prices. The program there is a flow of one unit from each machine to the inlet over ways, turns and
joins that are paid once; it knows nothing of sets of machines.
"""

import itertools
import random

import networkx
import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_matrix

from airbough_service.core.choosing.placing import program
from airbough_service.core.choosing.placing.lattice import lattice
from airbough_service.core.choosing.placing.trace import trace
from placing_cases import drawn, least


class Shop:
    """A square room with machines on its lattice, some ways missing, at random."""

    def __init__(self, seed, machines, side):
        draw = random.Random(seed)
        xs, ys = ([sum(draw.uniform(0.5, 2.0) for _ in range(n)) for n in range(1, side + 1)] for _ in range(2))
        room = [(xs[0], ys[0]), (xs[-1], ys[0]), (xs[-1], ys[-1]), (xs[0], ys[-1])]
        xs, ys = sorted(xs), sorted(ys)
        room = [(xs[0], ys[0]), (xs[-1], ys[0]), (xs[-1], ys[-1]), (xs[0], ys[-1])]
        self.lattice = lattice(room, list(itertools.product(xs, ys)), [], [])
        for heading, point in itertools.product(range(2), range(self.lattice.x.size)):
            other = int(self.lattice.to[heading, point])
            if other >= 0 and draw.random() < 0.1:
                self.lattice.to[heading, point] = self.lattice.to[heading + 2, other] = -1
        points = draw.sample(range(self.lattice.x.size), machines + 1)
        self.machines, self.inlet = points[1:], program.Inlet(points[0], draw.randrange(4))
        self.length, self.turn, self.start = draw.uniform(1.0, 4.0), draw.uniform(0.5, 4.0), draw.uniform(1.0, 4.0)
        self.tap, self.join = draw.uniform(1.0, 4.0), draw.uniform(1.0, 6.0)

    def by_program(self):
        rows = program.rows_of(np.ones((1 << len(self.machines), 1), bool))
        count, number = rows.group.size, len(self.machines)
        prices = program.Prices(
            np.full(count, self.length),
            np.full((count, 1), self.turn),
            np.full((number, 1), self.start),
            np.full((number, 1), self.tap),
            np.full((1, 1, 1), self.join),
            np.zeros((count, 1)),
            np.zeros((count, 1, 1)),
            np.zeros(1),
        )
        solved = program.solve(self.lattice, np.array(self.machines), rows, prices)
        price, row, heading = program.best(solved, prices, self.inlet)
        if row < 0:
            return None, []
        return price, trace(self.lattice, self.machines, solved, prices, self.inlet, row, heading).overlaps

    def by_flow(self):
        arcs, cost, words = [], [], []

        def arc(start, end, price, *word):
            arcs.append((start, end))
            cost.append(price)
            words.append(word)

        points = [point for point in range(self.lattice.x.size) if point != self.inlet.point]
        for point, heading in itertools.product(points, range(4)):
            there = int(self.lattice.to[heading, point])
            if there >= 0:
                way = self.lattice.length[heading, point] * self.length
                arc(("out", point, heading), ("in", there, heading), way, "way", point)
            for side in (0, 1, 3):
                came = (heading + side) % 4
                arc(("in", point, came), ("out", point, heading), self.turn * (side > 0), "main", point, came, heading)
                if side:
                    arc(("in", point, came), ("out", point, heading), self.join, "enter", point, came, heading)
        for number, point in enumerate(self.machines):
            for heading in range(4):
                arc(("machine", number), ("out", point, heading), self.start, "start", point)
                arc(("machine", number), ("out", point, heading), self.tap + self.join, "tap", point, heading)
        return self.solved(arcs, np.array(cost), words, points)

    def solved(self, arcs, cost, words, points):
        nodes = {node: at for at, node in enumerate(dict.fromkeys(itertools.chain(*arcs)))}
        sink = nodes.get(("in", self.inlet.point, self.inlet.heading))
        if sink is None:
            return None
        count, number = len(arcs), len(self.machines)
        entries, low, high = [], [], []

        def rule(parts, least, most):
            entries.extend((len(low), column, value) for column, value in parts)
            low.append(least)
            high.append(most)

        for machine in range(number):
            shift = count * (1 + machine)
            balance = {node: [] for node in nodes.values()}
            for column, (start, end) in enumerate(arcs):
                balance[nodes[start]].append((shift + column, 1.0))
                balance[nodes[end]].append((shift + column, -1.0))
                rule([(shift + column, 1.0), (column, -1.0)], -np.inf, 0.0)
            for node, parts in balance.items():
                sent = 1.0 if node == nodes[("machine", machine)] else -1.0 if node == sink else 0.0
                rule(parts, sent, sent)
        for column in range(count):  # nothing is entered that carries nothing
            rule([(column, 1.0), *((count * (1 + machine) + column, -1.0) for machine in range(number))], -np.inf, 0.0)
        for point in points:
            mine = [(column, word) for column, word in enumerate(words) if word[1] == point]
            rule([(column, 1.0) for column, word in mine if word[0] in ("main", "start")], 0.0, 1.0)
            rule([(column, 1.0) for column, word in mine if word[0] in ("enter", "tap")], 0.0, 1.0)
            for column, word in mine:
                if word[0] in ("enter", "tap"):
                    mains = [
                        (other, -1.0) for other, main in mine
                        if main[0] == "main" and main[3] == word[-1] and (word[0] == "tap" or main[2] != word[2])
                    ]  # fmt: skip
                    rule([(column, 1.0), *mains], -np.inf, 0.0)
        rows, columns, values = zip(*entries, strict=True)
        whole = count * (1 + number)
        matrix = csr_matrix((values, (rows, columns)), shape=(len(low), whole))
        found = milp(
            np.concatenate([cost, np.zeros(whole - count)]),
            constraints=LinearConstraint(matrix, low, high),
            bounds=Bounds(0.0, 1.0),
            integrality=np.concatenate([np.ones(count), np.zeros(whole - count)]),
            options={"mip_rel_gap": 1.0e-9},
        )
        return found.fun if found.success else None


@pytest.mark.parametrize(
    ("machines", "side", "seed"), [*((3, 3, seed) for seed in range(8)), *((4, 4, seed) for seed in range(4))]
)
def test_a_mixed_integer_program_finds_nothing_cheaper(machines, side, seed):
    shop = Shop(seed, machines, side)
    price, overlaps = shop.by_program()
    witness = shop.by_flow()
    if price is None:
        assert witness is None
        return
    if not overlaps:
        assert witness == pytest.approx(price, rel=1e-6)
    elif witness is not None:
        assert price <= witness * (1 + 1e-6)


@pytest.mark.parametrize("seed", range(12))
def test_the_shortest_tree_of_a_general_library_is_never_cheaper(seed):
    """Of networkx's approximation of the shortest Steiner tree, on its lines alone priced exactly."""
    where, places = drawn(seed, 6)
    graph = networkx.Graph()
    for heading, point in itertools.product(range(4), range(where.x.size)):
        if where.to[heading, point] >= 0:
            graph.add_edge(point, int(where.to[heading, point]), weight=float(where.length[heading, point]))
    ends = [where.at(0.0, 3.3), *(where.at(*place) for place in places)]
    tree = networkx.algorithms.approximation.steiner_tree(graph, ends, weight="weight")
    only = np.array([[tree.has_edge(point, int(other)) for point, other in enumerate(to)] for to in where.to])
    kept = lattice_of(where, np.where(only, where.to, -1))
    assert least(where, places) <= least(kept, places) * (1 + 1e-12)


def lattice_of(where, to):
    """A lattice with other ways."""
    return type(where)(where.x, where.y, to, where.length)
