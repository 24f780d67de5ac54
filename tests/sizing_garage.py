"""An invented garage shop to be sized, priced in an invented currency."""

SPIRAL, HOSE = "spiral-galvanized", "flexible-hose-ribbed"
SIZES = (100, 125, 150, 180, 200)
ENTRY = {"type": "plain-opening"}


def stock(sizes=SIZES):
    """Return an invented stock of everything in these bores, mm; dearer as it gets wider."""
    fittings = [{"type": "elbow", "diameter": size, "angle": 45, "price": size / 10} for size in sizes]
    for one in sizes:
        for two in sizes:
            if one < two:
                fittings.append({"type": "taper", "diameter": one, "downstream_diameter": two, "price": two / 12})
            if two <= one:
                fittings.append(
                    {"type": "wye", "diameter": one, "branch_diameter": two, "angle": 45, "price": (one + two) / 10}
                )
    ducts = [{"diameter": size, "duct": SPIRAL, "price_per_length": size / 10} for size in sizes]
    ducts += [{"diameter": size, "duct": HOSE, "price_per_length": size / 5} for size in sizes[:3]]
    return {"ducts": ducts, "fittings": fittings, "gates": [{"diameter": size, "price": size / 4} for size in sizes]}


OFF = dict.fromkeys(
    ("transport_velocity", "design_flow", "upper_velocity", "no_narrowing", "pressure_available"), "off"
)


def shop(rules=None, **more):
    """Return an invented shop: a saw on hose and a planer on stiff duct; given flows, one state, only these rules."""
    asked = {"rules": OFF | (rules or {}), "flows": "design", "states": [{"name": "document"}]}
    return tree() | asked | more


def tree(**more):
    """Return the same shop as a person first asks about it: with a stock and nothing else."""
    elbow = {"type": "elbow", "angle": 45, "radius_ratio": 1.5, "count": 2}
    runs = [
        {"id": "main", "into": None, "length": 4, "fittings": [elbow]},
        {"id": "east", "into": "main", "length": 3, "join": {"type": "straight"}},
        {"id": "saw", "into": "main", "length": 1.8, "duct": HOSE, "stretch": 0.9,
         "join": {"type": "branch", "angle": 45}, "hood": {"flow": 700, "entry": ENTRY}, "gate": {"opening": 1.0}},
        {"id": "planer", "into": "east", "length": 2.4, "hood": {"flow": 1300, "entry": ENTRY, "port_diameter": 100},
         "gate": {"opening": 1.0}},
    ]  # fmt: skip
    runs = [{"duct": SPIRAL, "diameter": 100} | run for run in runs]
    return {"units": "metric", "dust": "shavings", "runs": runs, "stock": stock()} | more


def fan(top=3000, **more):
    points = [
        {"flow": 0, "pressure": top},
        {"flow": 1500, "pressure": 0.8 * top},
        {"flow": 3000, "pressure": 0.3 * top},
    ]
    return {"fan": {"curve": points, "rated_as": "fan-static"} | more}
