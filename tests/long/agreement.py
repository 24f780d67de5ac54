"""Random shops asked every question, each against all others and the contract: see tests/agreement.

python tests/long/agreement.py --first 0 --count 20000 --resume agreement.json

Every shop is asked whether all tell alike, and one of the other checks by turns (`--all`: each of them); a diagnosis is
asked of one shop in fifty. What was done is kept in the file after each block, so that the command, given again, goes
on. All is well where nothing unknown disagrees, each question answers nine shops in ten, and each feature is in a fifth
of them. Two processes. Last figures: tests/long/README.md.
"""

import argparse
import gc
import json
import sys
import time
import warnings
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.remove(str(Path(__file__).resolve().parent))  # which holds a module of the package's name: this one

from agreement import checks, shops
from agreement.facts import TELLERS, Asking
from agreement.known import CRASHING, KNOWN, unknown

BLOCK, ANSWERED, OFTEN = 50, 0.9, 0.2
OTHERS = [name for name in checks.CHECKS if name != "all alike"]
COUNTERS = ("features", "shops asked", "shops refused", "refusals", "known", "crashes")


def block(first: int, count: int, every: bool) -> dict:
    """Return the counts of some shops, and what is not known."""
    warnings.simplefilter("error")
    out = {name: Counter() for name in COUNTERS} | {"found": []}
    asking = Asking()
    for seed in range(first, first + count):
        shop = shops.draw(seed)
        out["features"].update(shop.features)
        for check in ["all alike", *(OTHERS if every else [OTHERS[seed % len(OTHERS)]])]:
            try:
                told = checks.CHECKS[check](shop, asking)
            except Exception as error:  # told with the shop that did it; the others go on
                out["crashes"][f"{check}: {type(error).__name__}"] += 1
                out["found"].append(f"shop {seed}, {check}: {error!r}")
                continue
            out["known"].update({known.what for one in told for known in KNOWN if known.covers(one, shop)})
            out["found"] += [f"shop {seed}, {check}: {one}" for one in unknown(told, shop)[:3]]
    for name in TELLERS:
        out["shops asked"][name] = len(asking.shops_asked[name])
        out["shops refused"][name] = len(asking.shops_refused[name])
        out["refusals"].update({f"{name}: {code}": count for code, count in asking.refused[name].items()})
    for question, seed, how in asking.crashed:
        out["crashes"][f"{question}: {how}"] += 1
        out["found"] += [] if (question, how) in CRASHING else [f"shop {seed}, {question}: {how}"]
    return out


def seldom() -> None:
    """Let what is imported stay, and circles be looked for seldom, which is a third of the time else."""
    gc.freeze()
    gc.set_threshold(100_000, 20, 20)


def report(done: dict, seconds: float) -> bool:
    """Print what the shops done came to; return whether all is well."""
    number, answering = done["shops"], True
    print(f"{number} shops, {seconds:.0f} s")
    for name in TELLERS:
        asked, refused = done["shops asked"].get(name, 0), done["shops refused"].get(name, 0)
        share = 1.0 - refused / max(asked, 1)
        answering &= share >= ANSWERED
        print(f"{name:>16}: {asked} shops, {100.0 * share:.2f} % answered every time")
    for title in ("refusals", "crashes", "known"):
        print(f"{title}: " + ("; ".join(f"{what} {count}" for what, count in done[title].items()) or "none"))
    rare = {name: done["features"].get(name, 0) / number for name in shops.FEATURES}
    least = min(rare, key=lambda name: rare[name])
    print(f"features: {len(rare)}, the rarest {least!r} in {100.0 * rare[least]:.1f} % of the shops")
    print(f"not known: {len(done['found'])}", *done["found"][:40], sep="\n  ")
    return not done["found"] and answering and rare[least] >= OFTEN


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--first", type=int, default=0, help="seed of the first shop")
    parser.add_argument("--count", type=int, default=20_000, help="how many shops")
    parser.add_argument("--resume", type=Path, help="file that keeps what was done")
    parser.add_argument("--all", action="store_true", help="every check of every shop")
    asked = parser.parse_args()
    key, began = [asked.first, asked.all], time.perf_counter()
    done = {name: {} for name in COUNTERS} | {"found": [], "shops": 0, "key": key, "seconds": 0.0}
    if asked.resume is not None and asked.resume.exists():
        done = json.loads(asked.resume.read_text())
        if done["key"] != key:
            sys.exit(f"{asked.resume} is of other shops or checks: {done['key']}")
    before, last = done["seconds"], asked.first + asked.count
    starts = range(asked.first + done["shops"], last, BLOCK)
    sizes = [min(BLOCK, last - start) for start in starts]
    with ProcessPoolExecutor(2, initializer=seldom) as pool:
        for size, found in zip(sizes, pool.map(block, starts, sizes, [asked.all] * len(sizes)), strict=True):
            for name in COUNTERS:
                done[name] = dict(Counter(done[name]) + found[name])
            done["found"] += found["found"]
            done["shops"] += size
            done["seconds"] = before + time.perf_counter() - began
            if asked.resume is not None:
                asked.resume.write_text(json.dumps(done))
    sys.exit(not report(done, done["seconds"]))


if __name__ == "__main__":
    main()
