"""A document under another junction law: what that law does not use is refused, so it is left out."""

import copy
from typing import Any


def under(body: dict[str, Any], law: str, **model: str) -> dict[str, Any]:
    """Return the document under a law; a straight keeps its change of size only where the law charges it."""
    out = copy.deepcopy(body) | {"model": {"junctions": law, **model}}
    into = [run["into"] for run in out["runs"]]
    for run in out["runs"]:
        if law == "none" or (law == "entry-angle" and into.count(run["into"]) > 1):
            for name in ("taper_length", "coefficient"):
                (run.get("join") or {}).pop(name, None)
    return out
