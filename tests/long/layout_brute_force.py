"""The layout's dynamic program against every tree of tiny shops: `.venv/bin/python tests/long/layout_brute_force.py`.

Every union of simple paths that is a tree, in every diameter, on lines of 90 and of 45 degrees with ways missing at
random (walls and obstacles), in a third of the shops two machines running in each state; the same with pressure in two
states by labels; and the program on the places alone that
the quick bound leaves. Ends with status 1 where a tree is cheaper, or where the program is cheaper and no two runs of
its tree share a way or cross. A number of seconds may be given, after which it stops and tells what it has seen.
"""

import math
import random
import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np

from airbough_service.core.choosing.placing import program, relaxed
from airbough_service.core.choosing.placing.trace import trace
from core.test_placing_labels import Pressed, every_tree, looked_for  # the tests' own
from placing_cases import Case, least_by_hand

WANTED = (
    (2, 3, False, False, 110), (3, 2, False, False, 50), (3, 3, False, False, 30), (4, 2, False, False, 20),
    (2, 2, True, False, 40), (3, 2, True, False, 10), (2, 3, False, True, 30), (3, 2, False, True, 10),
    (4, 2, True, False, 10), (4, 2, False, True, 10),
)  # fmt: skip
"""Machines, rows of points, whether lines of 45 degrees, whether with pressure, and how many shops that have a tree."""
NO_TREE = "no tree, both say"


def outcome(machines, rows, seed, *, diagonal):
    """Return in a word how a case ends."""
    case = Case(1000 + seed, machines, rows=rows, diagonal=diagonal, together=seed % 3 == 2)
    solved = case.solved()
    price, row, heading = program.best(solved, case.prices, case.inlet)
    least = least_by_hand(case)
    if row < 0:
        return NO_TREE if math.isinf(least) else "WRONG: a tree is there"
    if not math.isclose(narrowed(case, price), price, rel_tol=1e-12):
        return "WRONG: another price on the places that the quick bound leaves"
    found = trace(case.lattice, case.machines, solved, case.prices, case.inlet, row, heading)
    return compared(price, least, found.overlaps)


def narrowed(case, price):
    """Return the least price on the places alone that may be worth a join."""
    points = np.array(case.machines)
    quick = relaxed.solve(case.lattice, points, case.rows, case.prices)
    found = relaxed.least_by_point(
        case.lattice, points, case.rows, case.prices, case.inlet, quick, price * (1 + 1e-9)
    )  # fmt: skip
    fewer = case.rows._replace(worth=np.isfinite(found))
    return program.best(program.solve(case.lattice, points, fewer, case.prices), case.prices, case.inlet)[0]


def pressed(machines, rows, seed):
    """Return the same of a case with pressure, which suffices for some trees at random."""
    case = Pressed(1000 + seed, machines, rows=rows)
    everything = list(every_tree(case))
    if not everything:
        return NO_TREE
    needs = np.array([need for _, need in everything])
    cheapest = min(everything, key=lambda one: one[0])[1]
    share = random.Random(seed).uniform(0.0, 1.0)
    available = needs.min(axis=0) + share * np.maximum(cheapest - needs.min(axis=0), 0.0) + 1e-9
    least = min((price for price, need in everything if (need <= available).all()), default=math.inf)
    found, whole = looked_for(case, available, 1e6, np.random.default_rng(seed).uniform(0.0, 0.2, 2))
    if not whole:
        return "WRONG: not all labels were looked at"
    if not found:
        return NO_TREE if math.isinf(least) else "WRONG: a tree is there"
    return compared(found[0].price, least, found[0].overlaps)


def compared(price, least, overlaps):
    """Return in a word how a price compares with the least of every tree."""
    if price > least * (1 + 1e-12):
        return "WRONG: a tree is cheaper"
    if math.isclose(price, least, rel_tol=1e-12):
        return "equal"
    return "cheaper where runs overlap" if overlaps else "WRONG: cheaper than every tree"


def main():
    """Run all cases."""
    begun, told = time.monotonic(), Counter()
    until = begun + float(sys.argv[1]) if len(sys.argv) > 1 else math.inf
    for machines, rows, diagonal, with_pressure, wanted in WANTED:
        seed, left = 0, wanted
        while left and time.monotonic() < until:
            word = pressed(machines, rows, seed) if with_pressure else outcome(machines, rows, seed, diagonal=diagonal)
            what = f"{machines} machines{', 45 degrees' * diagonal}{', pressure' * with_pressure}"
            told[f"{what}: {word}"] += 1
            left, seed = left - (word != NO_TREE), seed + 1
    for word, count in told.items():
        print(f"{count:4} {word}")
    print(f"{sum(told.values())} shops, {time.monotonic() - begun:.0f} s")
    sys.exit(any("WRONG" in word for word in told))


if __name__ == "__main__":
    main()
