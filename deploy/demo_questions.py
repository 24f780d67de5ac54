"""What the demonstration asks about the invented shop, and about the one in which dust settles."""

from __future__ import annotations

import copy
from typing import Any

from price_list import stock

from airbough import Client

Document = dict[str, Any]
HOUR = 3600.0
WALLS = [[0, 0], [16, 0], [16, 28], [0, 28]]
DAY = [
    {"machine": "planer", "times": [{"on": 0.0, "off": 600.0}, {"on": 1500.0, "off": 1800.0}]},
    {"machine": "band-saw", "times": [{"on": 620.0, "off": 900.0}]},
]
ROOM = {
    "volume": 4200.0,
    "openings_area": 0.5,
    "indoor_temperature": 65.0,
    "outdoor_temperature": 30.0,
    "hours": 2.0,
}
FIGURES = ["system.flow", "system.fan_static_pressure", "hoods.share_of_design", "system.most_starved_hood"]
PAIRS = [
    {"name": "planer and drum sander", "open": ["planer", "drum-sander"]},
    {"name": "table saw and band saw", "open": ["table-saw", "band-saw"]},
    {"name": "miter saw and drum sander", "open": ["miter-saw", "drum-sander"]},
]


def asked(client: Client, document: Document) -> dict[str, Any]:
    """Return the answers in the order in which the report tells them."""
    gauged = copy.deepcopy(document)
    for run in gauged["runs"]:
        if run["duct"] == "spiral-galvanized":
            run["gauge"] = 26
    return {
        "air": client.operating_point(
            {**document, "advice": True, "stock": stock(pieces=True), "uncertainty": {"samples": 500, "seed": 1}}
        ),
        "pairs": client.drawing({**document, "of": "pairs"}),
        "states": client.gate_states({**document, "up_to": 2}),
        "plan": client.drawing({**document, "of": "plan", "walls": WALLS}),
        "side": client.drawing({**document, "of": "side", "walls": WALLS, "ceiling": 9.5}),
        "tree": client.drawing({**document, "of": "tree"}),
        "fan": client.drawing({**document, "of": "fan", "states": PAIRS}),
        "parts": client.parts_list({**document, "stock": stock(pieces=True), "csv": True}),
        "quote": client.quote({"units": "us", "tree": document, "stock": stock(pieces=True)}),
        "wider": client.variants({"units": "us", "tree": document, "only": FIGURES,
                                  "grid": {"runs[main].diameter": [5, 6, 7], "collector.fan.speed_ratio": [0.9, 1]}}),
        "strength": client.strength(gauged),
        "room": client.make_up_air({**document, "collector_stands": "outdoors", "room": ROOM}),
        "day": client.working_day(
            {**document, "machines": DAY, "duration": 4.0 * HOUR, "fan_delay": 2.0, "gate_delay": 2.0,
             "starts_allowed": 4}
        ),
        "readings": on_site(client, document),
    }  # fmt: skip


def bad_shop(client: Client, document: Document, bad: Document) -> list[Any]:
    """Return what shows a shop that does not work: its pairs, its states, and it beside the one that does."""
    return [
        client.operating_point(bad),
        client.drawing({**bad, "of": "pairs"}),
        client.gate_states({**bad, "up_to": 2}),
        client.compare({"units": "us", "before": bad, "after": document}),
    ]


def beside(client: Client, document: Document) -> Any:
    """Return the answer that explains itself."""
    return client.operating_point({**document, "explain": True})


def on_site(client: Client, document: Document) -> Any:
    """Return what invented readings say: a rag in the band saw's run."""
    blocked = copy.deepcopy(document)
    saw = next(run for run in blocked["runs"] if run["id"] == "band-saw-hose")
    saw["fittings"] = [{"type": "hose-bend", "angle": 45, "radius_ratio": 1.5}]
    saw["fittings"] += [{"type": "known-coefficient", "coefficient": 3.0}]
    state = {"open": ["planer", "band-saw"]}
    real = client.gate_states({**blocked, "states": [{"name": "both", **state}], "detail": "runs"}).states[1]
    by_run = {run.id: run for run in real.runs}
    readings = [
        {"quantity": "static-pressure", "run": name, "value": by_run[name].static_pressure, "spread": 0.02}
        for name in ("main", "main-2", "planer", "band-saw")
    ]
    readings += [
        {"quantity": "velocity", "run": name, "value": by_run[name].velocity, "spread": 0.03}
        for name in ("main", "planer", "band-saw")
    ]
    return client.diagnosis({**document, "readings": readings, "state": state})
