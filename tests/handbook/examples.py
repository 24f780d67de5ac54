"""Complete worked examples, solved through the SDK's own in-process client: one file of `cases` each."""

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import msgspec

import airbough
from airbough_service.terms import units

CASES = {path.stem: path for path in sorted((Path(__file__).parent / "cases").glob("example-*.toml"))}
DOCUMENTS = {name: tomllib.loads(path.read_text(encoding="utf-8")) for name, path in CASES.items()}
VALUES = [(name, number) for name, case in DOCUMENTS.items() for number in range(len(case["expect"]))]
KINDS = {
    "in": "diameter",
    "mm": "diameter",
    "ft/min": "velocity",
    "m/s": "velocity",
    "ft^3/min": "flow",
    "m^3/h": "flow",
}


@cache
def answer(name: str) -> dict[str, Any]:
    """Return an example's answer as plain data."""
    case, client = DOCUMENTS[name], airbough.local()
    tree = dict(case["tree"])
    tree["runs"] = [{"into": None, **run} for run in tree["runs"]]  # TOML has no null
    if case["question"] == "balance":
        return msgspec.to_builtins(client.balance({**tree, "by": case.get("by", "gates")}))
    return msgspec.to_builtins(client.operating_point(tree))


def computed(name: str, expect: dict[str, Any]) -> float:
    """Return our value of one printed line, in the printed unit."""
    preset = DOCUMENTS[name]["tree"]["units"]
    return in_unit(looked_up(answer(name), expect["path"]), expect["path"], expect.get("unit", ""), preset)


def looked_up(answer: dict[str, Any], path: str) -> float:
    """Return the value at a path such as `runs.main.friction_loss` or `system.required.flow`."""
    first, *rest = path.split(".")
    here = answer[first]
    if first in ("runs", "hoods", "branches"):
        key = "id" if first == "runs" else "run"
        here, rest = next(item for item in here if item[key] == rest[0]), rest[1:]
    for word in rest:
        here = here[word]
    return float(here)


def in_unit(value: float, path: str, unit: str, preset: str) -> float:
    """Return an answer's number in the printed unit."""
    kind = KINDS.get(unit, "pressure")
    if unit in ("", "1"):
        return value
    if unit == "inH2O_velocity":
        return value
    own = units.unit(kind, preset)
    factor, offset = units.TABLE[kind][own]
    printed, printed_offset = units.TABLE[kind][unit]
    return ((value * factor + offset) - printed_offset) / printed
