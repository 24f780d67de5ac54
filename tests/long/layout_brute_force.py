"""The layout's dynamic program against every tree of tiny shops: `.venv/bin/python tests/long/layout_brute_force.py`.

Every union of simple paths that is a tree, in every diameter; ends with status 1 where one is cheaper, or where the
program is cheaper and no two runs of its tree share a way or cross.
"""

import math
import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from airbough_service.core.choosing.placing import program
from airbough_service.core.choosing.placing.trace import trace
from placing_cases import Case, least_by_hand  # the tests' own

WANTED = {(2, 3): 150, (3, 2): 70, (3, 3): 50, (4, 2): 30}
"""Machines and rows of points: how many shops that have a tree are wanted."""
NO_TREE = "no tree, both say"


def outcome(machines, rows, seed):
    """Return in a word how a case ends."""
    case = Case(1000 + seed, machines, rows=rows)
    solved = case.solved()
    price, row, heading = program.best(solved, case.prices, case.inlet)
    least = least_by_hand(case)
    if row < 0:
        return NO_TREE if math.isinf(least) else "WRONG: a tree is there"
    found = trace(case.lattice, case.machines, solved, case.prices, case.inlet, row, heading)
    if price > least * (1 + 1e-12):
        return "WRONG: a tree is cheaper"
    if math.isclose(price, least, rel_tol=1e-12):
        return "equal"
    return "cheaper where runs overlap" if found.overlaps else "WRONG: cheaper than every tree"


def main():
    """Run all cases."""
    begun, told = time.monotonic(), Counter()
    for (machines, rows), wanted in WANTED.items():
        seed = 0
        while wanted:
            word = outcome(machines, rows, seed)
            told[f"{machines} machines: {word}"] += 1
            wanted, seed = wanted - (word != NO_TREE), seed + 1
    for word, count in told.items():
        print(f"{count:4} {word}")
    print(f"{sum(told.values())} shops, {time.monotonic() - begun:.0f} s")
    sys.exit(any("WRONG" in word for word in told))


if __name__ == "__main__":
    main()
