"""Running the command in this process, and an invented design for it."""

import contextlib
import os
import sys
from pathlib import Path

from typer.testing import CliRunner

from airbough.command.main import app

HOME = {name: text for name, text in os.environ.items() if not name.startswith("AIRBOUGH_")}
COMMAND = [sys.executable, "-c", "from airbough.command import run; run()"]
DEMONSTRATION = Path(__file__).parents[1] / "deploy" / "shop.json"


class Told:
    """What the command said, and its exit status."""

    def __init__(self, status, stdout, stderr):
        self.returncode, self.stdout, self.stderr = status, stdout, stderr


def run(*words, into=".", text=None):
    """Run the command in this process, which is its own start of an engine the quicker."""
    with contextlib.chdir(into):
        told = CliRunner(env={"AIRBOUGH_BASE_URL": None}).invoke(app, [*map(str, words)], input=text)
    if told.exception is not None and not isinstance(told.exception, SystemExit):
        raise told.exception
    return Told(told.exit_code, told.stdout, told.stderr)


def small(flow_needed):
    """One straight duct with a fan that moves about 900 ft3/min through it."""
    return {
        "units": "us",
        "dust": "shavings",
        "runs": [
            {
                "id": "main",
                "into": None,
                "diameter": 6,
                "length": 90,
                "duct": "spiral-galvanized",
                "hood": {"flow": flow_needed, "entry": {"type": "flanged-opening"}},
            }
        ],
        "collector": {
            "fan": {"curve": [{"flow": 0, "pressure": 10}, {"flow": 1500, "pressure": 2}], "rated_as": "fan-static"}
        },
    }
