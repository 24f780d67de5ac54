"""Layouts of invented shops, whole answers in processor time: `.venv/bin/python tests/bench/layout.py`."""

import resource
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import layout_shops  # the shops of the tests stand a folder up
from airbough_service.core.warm import warm
from asking import ask

FINE = layout_shops.stock((100, 112, 118, 125, 132, 140))


def shop(machines, top, flow=None, **more):
    """A shop with a fan of so much shut-off pressure, each machine at one flow where that is given."""
    machines = [(name, x, y, flow or own) for name, x, y, own in machines]
    return layout_shops.shop(machines, collector=layout_shops.shop()["collector"] | layout_shops.fan(top), **more)


SHOPS = {
    "8 machines": lambda: shop(layout_shops.EIGHT, 5200),
    "8 machines, six diameters": lambda: shop(layout_shops.EIGHT, 5200, stock=FINE),
    "8 machines, the fan just too weak for the cheapest": lambda: shop(layout_shops.EIGHT, 2100, 1000, stock=FINE),
    "12 machines": lambda: shop(layout_shops.TWELVE, 5200, size=(18, 10)),
    "12 machines, six diameters": lambda: shop(layout_shops.TWELVE, 5200, size=(18, 10), stock=FINE),
    "12 machines, the fan too weak": lambda: shop(layout_shops.TWELVE, 2600, 1000, size=(18, 10), stock=FINE),
}


def main():
    """Print one line for each shop."""
    warm()
    ask("layout", layout_shops.shop())
    for name, made in SHOPS.items():
        begun, clock = time.process_time(), time.monotonic()
        answer = ask("layout", made())
        spent, waited = time.process_time() - begun, time.monotonic() - clock
        price = answer.layouts[0].price if answer.layouts else None
        gap = 0.0 if answer.proof == "exact" or price is None else 100.0 * float(price / answer.bound - 1)
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        told = f"{answer.proof} {price} {gap:.2f} % {len(answer.layouts)} layouts"
        print(f"{name:52} {spent:5.1f} s (waited {waited:5.1f}) {told} {memory} MB", flush=True)


if __name__ == "__main__":
    main()
