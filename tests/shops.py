"""Random shops as plain documents, physically sensible, for property tests."""

import random
from typing import Any

BORES = (3.0, 4.0, 5.0, 6.0, 7.0, 8.0)
ENTRIES: tuple[dict[str, Any], ...] = (
    {"type": "plain-opening"},
    {"type": "flanged-opening"},
    {"type": "tapered-hood", "included_angle": 60.0, "shape": "round"},
    {"type": "known-coefficient", "coefficient": 0.7},
)
TURNS: tuple[dict[str, Any], ...] = (
    {"type": "elbow", "angle": 90.0, "radius_ratio": 1.5},
    {"type": "elbow", "angle": 45.0, "radius_ratio": 1.0, "construction": "three-piece"},
    {"type": "elbow", "angle": 60.0, "construction": "mitered"},
    {"type": "known-coefficient", "coefficient": 0.4},
)
CURVE = ((0.0, 12.0), (500.0, 11.5), (1000.0, 9.8), (1500.0, 6.4), (2000.0, 1.0))


def hood(draw: random.Random) -> dict[str, Any]:
    return {"entry": dict(draw.choice(ENTRIES)), "flow": float(draw.randrange(250, 700, 50))}


def shop(seed: int, hoods: int = 8, junctions: str = "flow-ratio", *, gates: bool = True) -> dict[str, Any]:
    """Return a shop: a main with branches along it, some branches parted once more."""
    draw = random.Random(seed)
    runs: list[dict[str, Any]] = []

    def run(name: str, into: str | None, join: dict[str, Any] | None, bore: float, *, leaf: bool) -> None:
        made: dict[str, Any] = {
            "id": name,
            "into": into,
            "diameter": bore,
            "length": round(draw.uniform(1.0, 12.0), 2),
            "duct": draw.choice(("spiral-galvanized", "snap-lock-galvanized", "smooth-plastic")),
            "fittings": [dict(draw.choice(TURNS)) for _ in range(draw.randrange(3))],
        }
        if join is not None:
            made["join"] = join
        if leaf:
            made["hood"] = hood(draw)
            if gates:
                made["gate"] = {"opening": draw.choice((1.0, 1.0, 0.6, 0.0)), "leakage": draw.choice((0.0, 0.02))}
        runs.append(made)

    bore = 8.0
    run("main-0", None, None, bore, leaf=hoods == 1)
    for number in range(1, hoods):
        last = number == hoods - 1
        here = f"main-{number - 1}"
        angle = draw.choice((30.0, 45.0, 60.0, 90.0))
        side = draw.choice([size for size in BORES if size <= bore])
        run(f"side-{number}", here, {"type": "branch", "angle": angle}, side, leaf=True)
        bore = draw.choice([size for size in BORES if bore - 1.0 <= size <= bore])
        taper = {"taper_length": 6.0} if junctions.startswith("flow-ratio") else {}
        run(f"main-{number}", here, {"type": "straight"} | taper, bore, leaf=last)
    if gates:
        runs[1 if hoods > 1 else 0]["gate"] = {"opening": 1.0}
    return {
        "units": "us",
        "name": f"random shop {seed}",
        "dust": "sawdust",
        "runs": runs,
        "model": {"junctions": junctions},
        "collector": {
            "fan": {
                "curve": [{"flow": flow, "pressure": pressure} for flow, pressure in CURVE],
                "rated_as": "fan-static",
                "includes": [],
            },
            "losses": [
                {"name": "cyclone", "flow": 1000.0, "pressure": 1.5, "exponent": 2},
                {"name": "filter", "flow": 1000.0, "pressure": 0.5, "exponent": 1},
            ],
        },
    }
