"""Small invented shops for the tests of gate states."""

import msgspec

from airbough.wire.gate_states import GateStatesRequest
from airbough_service.combined import registry
from airbough_service.questions.gate_states import question
from airbough_service.terms import units

CURVE = ((0, 12.0), (500, 11.6), (1000, 10.2), (1600, 7.5), (2200, 3.0), (2600, 0.0))
DIP = ((0, 9.0), (300, 3.0), (600, 8.8), (1000, 8.0), (2000, 3.0), (2600, 0.0))


def leaf(name, into, bore, flow, join=None, gate=True, **more):
    """Return a run with a hood, and a gate unless told otherwise."""
    run = {"id": name, "into": into, "diameter": bore, "length": 6, "duct": "spiral-galvanized"}
    run["hood"] = {"flow": flow, "entry": {"type": "flanged-opening"}, **more.pop("hood", {})}
    if gate:
        run["gate"] = {"opening": 1.0, **more.pop("gate_more", {})}
    if join is not None:
        run["join"] = join
    return run | more


STRAIGHT = {"type": "straight", "taper_length": 8}
BRANCH = {"type": "branch", "angle": 45}


def shop(curve=CURVE, main=6, dust="sawdust", **more):
    """Return a shop of four machines: a saw with two hoods, a planer, a sander and a lathe."""
    runs = [
        {"id": "main", "into": None, "diameter": main, "length": 12, "duct": "spiral-galvanized"},
        {"id": "east", "into": "main", "join": STRAIGHT, "diameter": 5, "length": 9, "duct": "spiral-galvanized"},
        leaf("planer", "main", 5, 500, BRANCH),
        leaf("saw-below", "east", 4, 330, STRAIGHT, hood={"machine_id": "saw"}),
        {"id": "south", "into": "east", "join": BRANCH, "diameter": 4, "length": 7, "duct": "spiral-galvanized"},
        leaf("saw-above", "south", 3, 120, BRANCH, hood={"machine_id": "saw"}),
        {"id": "far", "into": "south", "join": STRAIGHT, "diameter": 4, "length": 3, "duct": "spiral-galvanized"},
        leaf("sander", "far", 4, 300, STRAIGHT),
        leaf("lathe", "far", 3, 150, BRANCH),
    ]
    fan = {"curve": [{"flow": q, "pressure": p} for q, p in curve], "rated_as": "fan-static", "includes": []}
    losses = [{"name": "cyclone", "flow": 1000, "pressure": 1.5}]
    collector = {"fan": fan, "losses": losses, **more.pop("collector", {})}
    return {"units": "us", "name": "invented", "dust": dust, "runs": runs, "collector": collector, **more}


def request(document):
    """Return the document as a request."""
    return msgspec.convert(document, GateStatesRequest)


def ask(document):
    """Return the answer, in the preset's units."""
    return registry.answer("gate-states", request(document))


def in_si(document):
    """Return the answer in SI."""
    return question.answer(units.to_si(request(document)))
