"""An invented shop for the questions on strength, make-up air and power."""

from __future__ import annotations

import copy
from typing import Any

import msgspec

from airbough.calls import CALLS
from airbough_service.combined import registry

SHOP: dict[str, Any] = {
    "units": "us",
    "dust": "shavings",
    "runs": [
        {"id": "main", "into": None, "diameter": 8, "length": 14, "duct": "spiral-galvanized", "gauge": 24},
        {
            "id": "saw",
            "into": "main",
            "join": {"type": "branch", "angle": 45},
            "diameter": 4,
            "length": 6,
            "duct": "flexible-hose-ribbed",
            "stretch": 0.9,
            "hood": {"flow": 400, "entry": {"type": "plain-opening"}, "machine_id": "saw"},
            "gate": {"opening": 1.0},
        },
        {
            "id": "planer",
            "into": "main",
            "join": {"type": "straight", "taper_length": 10},
            "diameter": 6,
            "length": 8,
            "duct": "spiral-galvanized",
            "hood": {"flow": 785, "entry": {"type": "flanged-opening"}},
            "gate": {"opening": 1.0},
        },
    ],
    "collector": {
        "fan": {
            "curve": [
                {"flow": 0, "pressure": 11.5},
                {"flow": 1200, "pressure": 8.5},
                {"flow": 1600, "pressure": 5.0},
                {"flow": 2400, "pressure": 1.0},
            ],
            "rated_as": "fan-static",
        }
    },
}

BY_NAME = {call.name: call for call in CALLS}


def shop(**more: Any) -> dict[str, Any]:
    """Return a copy of the shop with further fields."""
    return copy.deepcopy(SHOP) | more


def ask(question: str, body: dict[str, Any]) -> Any:
    """Answer a question from plain data, as a request over HTTP would."""
    request = msgspec.json.decode(msgspec.json.encode(body), type=BY_NAME[question].request)
    return registry.answer(question, request)


def apply(body: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    """Return the body with one change of a suggestion made."""
    out = copy.deepcopy(body)
    steps = path.replace("[", ".").replace("]", "").split(".")
    place: Any = out
    for step in steps[:-1]:
        place = place[int(step) if step.isdigit() else step]
    place[steps[-1]] = value
    return out


def codes(answer: Any) -> list[str]:
    """Return the codes of an answer's findings."""
    return [finding.code for finding in answer.findings]


def faults(refusal: Any) -> dict[str, str]:
    """Return path -> code of a refusal."""
    return {fault.path: fault.code for fault in refusal.faults}
