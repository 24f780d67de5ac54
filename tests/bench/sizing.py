"""Sizing: by the fan in twenty states of twelve machines and eight diameters; given flows, 20 runs by 12 diameters.

python tests/bench/sizing.py [--profile]: the least of several runs, in ms of processor time, so that other work on the
machine counts little.
"""

import cProfile
import itertools
import pstats
import sys
import time
from pathlib import Path

import msgspec

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from airbough.calls import SIZING
from airbough_service.combined import registry

DUCT, ENTRY = "spiral-galvanized", {"type": "plain-opening"}
BEND = {"type": "elbow", "angle": 90, "radius_ratio": 1.5, "construction": "five-piece"}


def comb(machines, sizes, **more):
    """Return an invented shop: a main with so many machines on it, all gated, and a stock of these diameters, mm."""
    runs = []
    for number in range(machines - 1):
        straight = {"join": {"type": "straight"}} if number else {}
        into = f"main-{number - 1}" if number else None
        runs.append({"id": f"main-{number}", "into": into, "length": 1.5 + number % 3, "duct": DUCT} | straight)
    for number in range(machines):
        last = number == machines - 1
        join = {"type": "straight"} if last else {"type": "branch", "angle": 45}
        hood = {"flow": 550 + 90 * (number % 5), "entry": ENTRY}
        runs.append(
            {"id": f"m{number}", "into": f"main-{min(number, machines - 2)}", "length": 2 + number % 4, "duct": DUCT,
             "fittings": [BEND], "hood": hood, "join": join, "gate": {"opening": 1.0, "leakage": 0.005}}
        )  # fmt: skip
    runs = [{"diameter": 100} | run for run in runs]
    return {"units": "metric", "dust": "shavings", "runs": runs, "stock": stock(sizes)} | more


def stock(sizes):
    """Return an invented stock of everything in these diameters."""
    fittings = [{"type": "elbow", "diameter": one, "angle": 90, "price": one / 10} for one in sizes]
    for one, two in itertools.product(sizes, repeat=2):
        if one < two:
            fittings.append({"type": "taper", "diameter": one, "downstream_diameter": two, "price": two / 12})
        else:
            fittings.append(
                {"type": "wye", "diameter": one, "branch_diameter": two, "angle": 45, "price": (one + two) / 10}
            )
    return {
        "ducts": [{"diameter": one, "duct": DUCT, "price_per_length": one / 10} for one in sizes],
        "fittings": fittings,
        "gates": [{"diameter": one, "price": one / 4} for one in sizes],
    }


def fan():
    """Return an invented fan."""
    points = [(0, 3400), (900, 3300), (1800, 2600), (2700, 1300), (3200, 500)]
    curve = [{"flow": flow, "pressure": pressure} for flow, pressure in points]
    return {"fan": {"curve": curve, "rated_as": "fan-static"}}


def states(machines, number):
    """Return each machine alone, then pairs, up to so many."""
    names = [(f"m{one}",) for one in range(machines)] + [(f"m{one}", f"m{two}") for one, two in
                                                          itertools.combinations(range(machines), 2)]  # fmt: skip
    return [{"name": "+".join(each), "open": list(each)} for each in names[:number]]


EIGHT = (80, 100, 112, 125, 140, 160, 180, 200)
TWELVE = (80, 90, 100, 112, 125, 140, 160, 180, 200, 224, 250, 280)
CASES = {
    "by the fan, 12 machines, 20 states, 8 diameters": comb(12, EIGHT, collector=fan(), states=states(12, 20)),
    "by the fan, 12 machines, each and each pair in 78 states, 8 diameters": comb(
        12, EIGHT, collector=fan(), states=states(12, 78)
    ),
    "by the fan, 12 machines, each alone, all pairs told, 8 diameters": comb(12, EIGHT, collector=fan()),
    "given flows, 21 runs, 12 diameters, each alone": comb(11, TWELVE, states=states(11, 11)),
    "given flows, 21 runs, 12 diameters, one state": comb(
        11,
        (80, 90, 100, 112, 125, 140, 160, 180, 200, 224, 250, 280),
        states=[{"name": "four", "open": ["m1", "m4", "m6", "m9"]}],
    ),
}


def main():
    profiled = "--profile" in sys.argv
    for name, body in CASES.items():
        request = msgspec.convert(body, SIZING.request)
        registry.answer(SIZING.name, request)
        spent = []
        for _ in range(1 if profiled else 5):
            began, profile = time.process_time(), cProfile.Profile()
            if profiled:
                profile.enable()
            answer = registry.answer(SIZING.name, request)
            profile.disable()
            spent.append(time.process_time() - began)
        bound = answer.lower_bound
        told = f"{answer.outcome}, {answer.proof}, {answer.work} tried, price {answer.price} (bound {bound.price})"
        told += f", {answer.preferred_broken} places broken"
        print(f"{name}: {1000 * min(spent):.0f} ms; {told}")
        if profiled:
            pstats.Stats(profile).sort_stats("cumulative").print_stats(38)


if __name__ == "__main__":
    main()
