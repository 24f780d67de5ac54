"""Questions that take longer than the limit: told in time, and the thread is free again."""

import asyncio
import json
import time

import pytest
from litestar.testing import TestClient

import heavy
from airbough.calls import CALLS
from airbough_service.api import answering
from airbough_service.api.app import create_app
from airbough_service.api.settings import Settings
from airbough_service.api.workers import Workers
from airbough_service.core.deadline import OutOfTimeError
from airbough_service.core.warm import warm

LIMIT = 0.3
SECONDS = 1.0  # after which caller and thread are free, on an idle machine
BUSY = 3.0  # times that, on a busy one
OPENED = {"open": ["h0", "h1"]}
READINGS = [{"quantity": "flow", "run": f"h{number}", "value": 90 + number} for number in range(15)]
SIZED = heavy.BASE | {"runs": heavy.comb(60), "stock": heavy.sizing_stock(4, 5, 6, 7, 8)}
COMBS = {size: heavy.comb(size) for size in (60, 4_000)}
SHUT = heavy.BASE | {"runs": heavy.comb(60, 0)}
ALL_STATES = [{"name": f"s{number}", "open": [f"h{number}"]} for number in range(20)]

QUESTIONS = {
    "operating-point": heavy.WAVY | {"runs": heavy.chain(9_000)},
    "balance by flow": heavy.BASE | {"runs": heavy.comb(4_500, flow=1), "by": "flow", "correction": "exact"},
    "gate-states": SHUT | {"up_to": 3},
    "gate-states searched": heavy.WAVY | {"runs": heavy.comb(30, 0), "up_to": 3},
    "gate-states mended": heavy.WAVY | {"runs": heavy.comb(40, 0), "states": ALL_STATES},
    "uncertainty": heavy.WAVY | {"runs": heavy.comb(60), "uncertainty": {"samples": 1_000}},
    "uncertainty of balance": heavy.BASE
    | {"runs": heavy.comb(60, flow=20), "by": "flow", "uncertainty": {"samples": 800}},
    "explanation": heavy.BASE | {"runs": heavy.chain(9_000), "explain": True},
    "sizing": SIZED | {"flows": "fan", "states": ALL_STATES},
    "sizing without a choice": SIZED
    | {"rules": {"pressure_available": "must", "no_narrowing": "must"}, "limits": {"pressure_available": 0.1}},
    "diagnosis": heavy.WAVY | {"runs": heavy.comb(60), "readings": READINGS, "state": OPENED},
    "duty-cycle": heavy.WAVY | {"runs": heavy.comb(60, 0)} | heavy.day(400, [f"h{number}" for number in range(60)]),
    "compare": {"units": "us"} | dict.fromkeys(("before", "after"), heavy.BASE | {"runs": heavy.chain(9_000)}),
    "strength": heavy.WAVY | {"runs": heavy.comb(60, 0), "states": ALL_STATES * 1},
    "take-off": heavy.BASE | {"runs": heavy.odd_lengths(COMBS[4_000]), "stock": heavy.pipes()},
    "drawing": heavy.BASE | {"runs": heavy.chain(2_000), "of": "tree"},
}
