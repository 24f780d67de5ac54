"""A million random trees through the solver: python tests/long/million_trees.py [how many]

Two processes; prints counts by outcome, the worst residuals and the time. Last figures: tests/long/README.md.
"""

import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import random_trees as trees

BLOCK = 25_000


def block(start: int) -> tuple[np.ndarray, np.ndarray, int, np.ndarray]:
    return trees.trials(start, BLOCK, 1000, trees.LAWS)


def main() -> None:
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    began, counts, worst, longest, failed = time.perf_counter(), np.zeros(5, np.int64), np.zeros(2), 0, []
    with ProcessPoolExecutor(2) as pool:
        for result in pool.map(block, range(0, number, BLOCK)):
            counts += result[0]
            worst, longest = np.maximum(worst, result[1]), max(longest, result[2])
            failed += [int(seed) for seed in result[3] if seed >= 0]
    names = ("settled", "no flow", "beyond the curve's end", "before its beginning", "NOT CONVERGED")
    for name, count in zip(names, counts, strict=True):
        print(f"{name:>24}: {count}")
    print(f"worst mass residual {worst[0]:.2e}, worst energy residual {worst[1]:.2e}, most iterations {longest}")
    print(f"failed seeds: {failed or 'none'}; {time.perf_counter() - began:.0f} s")
    sys.exit(bool(failed))


if __name__ == "__main__":
    main()
