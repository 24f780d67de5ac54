"""How long gate states take: `python tests/bench/states.py [states]`. One core; the shop is invented.

Prints the compiled solve alone, and the whole question (judging, worst states, mending sets, answer).
"""

from __future__ import annotations

import math

# from airbough.calls import GATE_STATES

MACHINES = ("table-saw", "planer", "jointer", "band-saw", "router-table", "mitre-saw")


def shop_request(hoods, **more):
    """Return an invented shop: hoods along one main, which grows towards the collector."""
    bores = [4, 5, 4, 6, 4, 5]
    runs, area = [], 0.0
    for k in range(hoods):
        bore = bores[k % len(bores)]
        area += bore**2 * (0.6 if k else 1.0)
        hood = {"machine_id": f"machine-{k}", "flow": 20 * bore**2, "entry": {"type": "flanged-opening"}}
        gate = {"opening": 1.0}
        branch = {"diameter": bore, "length": 4 + k % 5, "duct": "spiral-galvanized", "hood": hood, "gate": gate}
        if k == 0:
            runs.append({"id": "main-0", "into": "main-1" if hoods > 1 else None, **branch})
            runs[-1].update({"join": {"type": "straight", "taper_length": 8}} if hoods > 1 else {})
            continue
        main = {"id": f"main-{k}", "into": f"main-{k + 1}" if k + 1 < hoods else None, "length": 3 + k % 4}
        main |= {"diameter": math.ceil(math.sqrt(area)), "duct": "spiral-galvanized"}
        if k + 1 < hoods:
            main["join"] = {"type": "straight", "taper_length": 8}
        runs.append({"id": f"branch-{k}", "into": f"main-{k}", "join": {"type": "branch", "angle": 45}, **branch})
        runs.append(main)
    widest = math.sqrt(area)
    top, pressure = 30.0 * area, 14.0
    shares = ((0.0, 1.0), (0.25, 0.97), (0.5, 0.85), (0.75, 0.6), (1.0, 0.2), (1.15, 0.0))
    fan = {
        "curve": [{"flow": top * q, "pressure": pressure * p} for q, p in shares],
        "rated_as": "fan-static",
        "includes": [],
    }
    losses = [
        {"name": "cyclone", "flow": 20.0 * widest**2, "pressure": 2.0, "exponent": 2},
        {"name": "filter", "flow": 20.0 * widest**2, "pressure": 1.0, "exponent": 1},
    ]
    collector = {"fan": fan, "losses": losses}
    return {"units": "us", "name": "invented", "dust": "shavings", "runs": runs, "collector": collector, **more}
