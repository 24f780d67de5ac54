"""One example of each call: a POST's body, or the parameters of a GET. The scenario is invented."""

from __future__ import annotations

import json
from importlib import resources
from typing import Any


def request(name: str) -> Any:
    """Return the example request of a call, or None where it has none."""
    file = resources.files(__name__) / f"{name}.json"
    return json.loads(file.read_text("utf-8")) if file.is_file() else None
