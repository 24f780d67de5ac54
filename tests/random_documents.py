"""Random invented tree documents with every kind of fitting, entry, gate and join, for tests of any tree question."""

from __future__ import annotations

import random
from typing import Any

from junction_models import under

BORES = (3, 4, 5, 6, 7, 8, 10)
DUCTS = ("spiral-galvanized", "smooth-plastic")
ENTRIES = (
    {"type": "plain-opening"},
    {"type": "flanged-opening"},
    {"type": "bellmouth", "radius_ratio": 0.1},
    {"type": "tapered-hood", "included_angle": 60, "shape": "round"},
    {"type": "slot", "area_share": 0.6},
    {"type": "known-coefficient", "coefficient": 0.7},
)
MODELS = ("flow-ratio", "flow-ratio-third-edition", "entry-angle", "none")


def document(seed: int) -> dict[str, Any]:
    """Return one document with a fan, two to seven hoods, the first of them open."""
    dice = random.Random(seed)
    runs: list[dict[str, Any]] = []
    _grow(dice, runs, None, None, dice.randint(2, 7), dice.choice(BORES[3:]))
    if dice.random() < 0.2:
        _grow(dice, runs, None, None, 2, dice.choice(BORES[3:]))
    dice.shuffle(runs)
    body: dict[str, Any] = {
        "units": "us",
        "dust": "shavings",
        "runs": runs,
        "model": {"junctions": dice.choice(MODELS)},
        "collector": {
            "fan": {
                "curve": [{"flow": q, "pressure": 14.0 - 14.0 * (q / 6000) ** 2} for q in range(0, 6001, 500)],
                "rated_as": "fan-static",
                "includes": ["filter"],
            },
            "losses": [
                {"name": "cyclone", "flow": 1000, "pressure": 1.5},
                {"name": "filter", "flow": 1000, "pressure": 0.5, "exponent": 1},
                {"name": "bag", "flow": 900, "pressure": 0.2, "exponent": 1.4},
            ],
        },
    }
    if dice.random() < 0.7:
        body["air"] = {"temperature": dice.uniform(40, 90), "altitude": dice.uniform(0, 5000), "humidity": 0.4}
    if dice.random() < 0.4:
        body["collector"]["discharge"] = [
            {"diameter": 8, "length": 5, "duct": "spiral-galvanized"},
            {"diameter": 10, "length": 4, "duct": "spiral-galvanized", "fittings": [{"type": "elbow-pair", "angle": 90,
             "radius_ratio": 1.5, "spacer_ratio": 1.0}, {"type": "weather-cap", "clearance_ratio": 0.75}]},
        ]  # fmt: skip
    return under(body, body["model"]["junctions"])


def _grow(
    dice: random.Random,
    runs: list[dict[str, Any]],
    into: str | None,
    join: dict[str, Any] | None,
    hoods: int,
    bore: int,
) -> None:
    """Add a run and all that flows into it."""
    own: dict[str, Any] = {"id": f"r{len(runs)}", "into": into, "diameter": bore, "length": dice.uniform(0, 20)}
    if join is not None:
        own["join"] = join
    runs.append(own)
    _wall(dice, own, bore)
    if hoods == 1:
        _hood(dice, own, bore, len(runs))
        return
    narrower = [size for size in BORES if size <= bore and size >= 0.5 * bore]
    count = 3 if hoods >= 3 and dice.random() < 0.2 else 2
    loads = [1] * (count - 1) + [hoods - count + 1]
    angle = dice.choice((30, 45, 60, 90))
    symmetrical = count == 2 and dice.random() < 0.2
    for k, load in enumerate(loads):
        straight = k == count - 1 and not symmetrical
        how: dict[str, Any] = {"type": "straight"} if straight else {"type": "branch", "angle": angle}
        if straight and dice.random() < 0.5:
            how["taper_length"] = 6
        _grow(dice, runs, own["id"], how, load, dice.choice(narrower))


def _wall(dice: random.Random, own: dict[str, Any], bore: int) -> None:
    """Give a run its wall and fittings."""
    kind = dice.random()
    if kind < 0.2:
        own |= {"duct": "flexible-hose-ribbed", "stretch": dice.uniform(0.75, 1.0)}
        own["fittings"] = [{"type": "hose-bend", "angle": 90, "radius_ratio": 1.5}]
        return
    if kind < 0.3:
        own["roughness"] = 0.0005
        return
    own["duct"] = dice.choice(DUCTS)
    wider, length = bore + 1, own["length"]
    own["fittings"] = [
        {"type": "elbow", "angle": 90, "radius_ratio": 1.5, "count": 2},
        {"type": "slide-gate", "opening": 0.8},
        {"type": "taper", "upstream_diameter": bore, "downstream_diameter": wider, "length": 4, "at": 0.3 * length},
        {"type": "known-coefficient", "coefficient": 0.2},
        {"type": "abrupt-change", "upstream_diameter": wider, "downstream_diameter": bore, "at": 0.7 * length},
        {"type": "offset", "angle": 30, "radius_ratio": 1.5, "spacer_ratio": 2.0},
    ][: dice.randint(0, 2) if dice.random() < 0.5 else 6]


def _hood(dice: random.Random, own: dict[str, Any], bore: int, number: int) -> None:
    """Give a leaf its hood and gate."""
    own["hood"] = {"entry": dict(dice.choice(ENTRIES)), "flow": 3.5 * bore**2 + 200}
    if dice.random() < 0.4:
        own["hood"]["port_diameter"] = bore - 1
    if dice.random() < 0.3:
        own["hood"]["resistance"] = {"flow": 400, "pressure": 0.8, "exponent": 1.8}
    if dice.random() < 0.7:
        opening = 1.0 if number < 3 else dice.choice((0.0, 0.3, 1.0))
        own["gate"] = {"opening": opening, "leakage": dice.choice((0.0, 0.02))}
