"""Invented shops to be laid out, with an invented price list."""

import random

SIZES = (100, 125, 150, 175, 200)
ENTRY = {"type": "plain-opening"}


def stock(sizes=SIZES):
    """An invented stock of everything in these diameters, mm; dearer as it gets wider."""
    fittings = []
    for one in sizes:
        fittings += [{"type": "elbow", "diameter": one, "angle": 90, "price": one / 12}]
        fittings += [{"type": "elbow", "diameter": one, "angle": 45, "price": one / 20}]
        for two in sizes:
            if one < two:
                fittings.append({"type": "taper", "diameter": one, "downstream_diameter": two, "price": two / 15})
            if two <= one:
                price = (one + 1.5 * two) / 12
                fittings.append({"type": "wye", "diameter": one, "branch_diameter": two, "angle": 45, "price": price})
    return {
        "ducts": [{"diameter": size, "price_per_length": size / 14} for size in sizes],
        "fittings": fittings,
        "gates": [{"diameter": size, "price": size / 6} for size in sizes],
    }


def fan(top=3200.0):
    points = [(0, top), (1000, 0.95 * top), (2000, 0.75 * top), (3000, 0.35 * top)]
    curve = [{"flow": flow, "pressure": pressure} for flow, pressure in points]
    return {"fan": {"curve": curve, "rated_as": "fan-static"}}


EIGHT = (
    ("saw", 6.0, 3.0, 950), ("planer", 9.5, 1.0, 1150), ("jointer", 8.0, 5.5, 950), ("band saw", 3.5, 6.5, 900),
    ("router", 2.0, 2.0, 900), ("mitre saw", 4.6, 0.8, 1000), ("sander", 10.8, 6.0, 1000), ("disc", 11.2, 3.4, 900),
)  # fmt: skip
FOUR = EIGHT[:4]
TWELVE = (*EIGHT, ("moulder", 15.0, 2.5, 1200), ("lathe", 16.2, 7.2, 950), ("shaper", 13.1, 8.3, 1000),
          ("edge sander", 6.7, 8.8, 950))  # fmt: skip


def shop(machines=FOUR, size=(12.0, 8.0), **more):
    """A shop of machines by name, place and flow, sawdust from each."""
    width, depth = size
    return {
        "units": "metric",
        "dust": "sawdust",
        "room": {"corners": [[0, 0], [width, 0], [width, depth], [0, depth]], "duct_height": 2.6},
        "collector": {"inlet": {"place": [0, 4.2, 2.6], "direction": "+x"}},
        "machines": [
            {"id": name, "place": [x, y, 0.8], "port": 100, "entry": ENTRY, "flow": flow}
            for name, x, y, flow in machines
        ],
        "stock": stock(),
    } | more


def random_shop(seed, machines, **more):
    """A shop of so many machines at random, with a forbidden box or two."""
    draw = random.Random(seed)
    places = [
        (
            f"m{number}",
            round(draw.uniform(0.5, 11.5), 2),
            round(draw.uniform(0.5, 7.5), 2),
            draw.randrange(900, 1300, 50),
        )
        for number in range(machines)
    ]
    boxes = []
    for _ in range(draw.randrange(3)):
        x, y = round(draw.uniform(1.0, 9.0), 2), round(draw.uniform(1.0, 6.0), 2)
        box = {"corner": [x, y], "opposite": [x + 1.2, y + 0.9]}
        if all(not (x < px < x + 1.2 and y < py < y + 0.9) for _, px, py, _ in places):
            boxes.append(box)
    found = shop(places, **more)
    found["room"] = found["room"] | {"forbidden": boxes}
    return found
