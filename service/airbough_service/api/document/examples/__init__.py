"""One example of each call, a POST's body or the parameters of a GET, and its answer. The scenario is invented."""

from __future__ import annotations

import json
from importlib import resources
from typing import Any

ANSWERS = "answers.json"
"""All answers; written by `airbough_service.api.document.build`."""


def request(name: str) -> Any:
    """Return the example request of a call, or None where it has none."""
    file = resources.files(__name__) / f"{name}.json"
    return json.loads(file.read_text("utf-8")) if file.is_file() else None


def answer(name: str) -> Any:
    """Return the answer to the example request of a call, as the engine gave it when the document was last built."""
    return json.loads((resources.files(__name__) / ANSWERS).read_text("utf-8"))[name]
