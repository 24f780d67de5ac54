"""Sizing against brute force on random small trees: python tests/long/sizing_brute_force.py [how many]

Two processes; prints counts by verdict, every seed that differs, and the time. `none`: both say that no choice keeps
every rule; `deep`: the best of both draws more suction than is answered.
"""

import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import sizing_shops

AGREED = ("same", "none", "deep")


def main() -> None:
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    began, counts = time.perf_counter(), Counter()
    with ProcessPoolExecutor(2) as pool:
        for seed, (verdict, detail) in enumerate(pool.map(sizing_shops.compared, range(number), chunksize=20)):
            counts[verdict] += 1
            if verdict not in AGREED:
                print(f"seed {seed}: {verdict}: {detail}")
    print(", ".join(f"{verdict}: {count}" for verdict, count in sorted(counts.items())), end="; ")
    print(f"{time.perf_counter() - began:.0f} s")
    sys.exit(sum(counts[verdict] for verdict in AGREED) != number)


if __name__ == "__main__":
    main()
