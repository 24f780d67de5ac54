"""Invented shops of sixteen runs and eight machines, each unlike the others, as the benches ask about them."""

from __future__ import annotations

import random
from typing import Any

RUNS, MACHINES = 16, 8
WORDS = (
    "table-saw",
    "band-saw",
    "planer",
    "jointer",
    "drum-sander",
    "lathe",
    "drill-press",
    "miter-saw",
    "disc-sander",
)
FLOWS = {4: (300, 350, 400), 5: (450, 500, 550), 6: (600, 650, 785)}
ENTRIES: tuple[dict[str, Any], ...] = (
    {"type": "plain-opening"},
    {"type": "flanged-opening"},
    {"type": "tapered-hood", "included_angle": 60, "shape": "round"},
    {"type": "tapered-hood", "included_angle": 90, "shape": "rectangular"},
)
TURNS: tuple[dict[str, Any], ...] = (
    {"type": "elbow", "angle": 90, "radius_ratio": 1.5, "construction": "five-piece"},
    {"type": "elbow", "angle": 90, "radius_ratio": 1.5},
    {"type": "elbow", "angle": 90, "radius_ratio": 1.0},
    {"type": "elbow", "angle": 45, "radius_ratio": 1.5, "count": 2},
    {"type": "elbow", "angle": 90, "construction": "adjustable"},
    {"type": "elbow", "angle": 90, "construction": "mitered"},
)
CURVE = ((0, 12.4), (400, 12.2), (800, 11.2), (1200, 8.8), (1600, 5.9), (2000, 2.0))


def shop(seed: int, machines: int = MACHINES) -> dict[str, Any]:
    """Return one shop: its machines on a tree of wyes, the last one by a hose, one to three of them open."""
    dice = random.Random(seed)
    runs: list[dict[str, Any]] = []
    _grow(dice, runs, None, None, machines)
    wide = 10 if dice.random() < 0.3 else 8
    runs[0]["diameter"] = wide
    _open(dice, [run for run in runs if "gate" in run])
    _hose(dice, runs)
    body: dict[str, Any] = {
        "units": "us",
        "name": f"invented shop {seed}",
        "dust": dice.choice(("shavings", "sawdust", "chips")),
        "runs": runs,
        "collector": _collector(dice),
    }
    if dice.random() < 0.5:
        body["air"] = {"temperature": dice.randint(45, 85), "altitude": dice.randrange(0, 5000, 100), "humidity": 0.45}
    return body


def _collector(dice: random.Random) -> dict[str, Any]:
    curve = [{"flow": flow, "pressure": pressure} for flow, pressure in CURVE]
    losses = [
        {"name": "cyclone", "flow": 1000, "pressure": round(dice.uniform(1.0, 2.0), 2), "exponent": 2},
        {"name": "filter", "flow": 1000, "pressure": round(dice.uniform(0.3, 0.9), 2), "exponent": 1},
    ]
    out: dict[str, Any] = {"fan": {"curve": curve, "rated_as": "fan-static", "includes": []}, "losses": losses}
    if dice.random() < 0.5:
        out |= {"efficiency": 0.5, "motor": {"rated_power": 5}}
    return out


def _grow(
    dice: random.Random, runs: list[dict[str, Any]], into: str | None, join: dict[str, Any] | None, hoods: int
) -> None:
    """Add a run and all that flows into it; bores go by the number of hoods upstream."""
    bore = dice.choice((4, 4, 5, 6)) if hoods == 1 else min(8, 4 + hoods // 2)
    run: dict[str, Any] = {"id": f"{'main' if hoods > 1 else 'drop'}-{len(runs)}", "into": into, "diameter": bore}
    run |= {"length": dice.randint(3, 14), "duct": dice.choice(("spiral-galvanized", "snap-lock-galvanized"))}
    if join is not None:
        run["join"] = join
    if dice.random() < (0.7 if hoods == 1 else 0.3):
        run["fittings"] = [dict(dice.choice(TURNS))]
    runs.append(run)
    if hoods == 1:
        run["rise"] = min(4, run["length"])
        run["hood"] = {"machine": dice.choice(WORDS), "machine_id": f"machine-{len(runs)}"}
        run["hood"] |= {"flow": dice.choice(FLOWS[bore]), "entry": dict(dice.choice(ENTRIES))}
        if dice.random() < 0.25:
            run["hood"]["port_diameter"] = bore - 1
        run["gate"] = {"opening": 0.0, "leakage": 0.01}
        return
    branch = {"type": "branch", "angle": dice.choice((30, 45, 45, 45, 60, 90))}
    straight: dict[str, Any] = {"type": "straight"}
    if dice.random() < 0.7:
        straight["taper_length"] = dice.randint(4, 8)
    side = dice.choice((1, 1, 2)) if hoods > 2 else 1
    _grow(dice, runs, run["id"], straight, hoods - side)
    _grow(dice, runs, run["id"], branch, side)


def _open(dice: random.Random, gated: list[dict[str, Any]]) -> None:
    for run in dice.sample(gated, dice.randint(1, 3)):
        run["gate"]["opening"] = 1.0


def _hose(dice: random.Random, runs: list[dict[str, Any]]) -> None:
    """Hang the last machine by a hose on its drop, whose gate stays where it is."""
    drop = runs[-1]
    hose = {"id": "hose", "into": drop["id"], "diameter": drop["diameter"], "length": dice.randint(2, 6)}
    hose |= {"duct": dice.choice(("flexible-hose-ribbed", "flexible-hose-smooth")), "hood": drop.pop("hood")}
    if dice.random() < 0.7 and hose["duct"] == "flexible-hose-ribbed":
        hose["stretch"] = round(dice.uniform(0.9, 1.0), 2)
    runs.append(hose)
