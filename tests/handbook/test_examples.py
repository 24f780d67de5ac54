"""Complete worked examples of manuals, courses and papers, solved through the SDK's own in-process client.

Each case is a file of tests/handbook/cases: its source, the tree as posed, and every printed value with the tolerance
that its printed rounding gives. Where a printed value departs from its own method (`departs`), the value that the
method really gives is asked for, and the printed one must lie outside the tolerance: else the note is wrong.
"""

import tomllib
from pathlib import Path
from typing import Any

import msgspec
import pytest

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


@pytest.fixture(scope="module")
def answers() -> dict[str, Any]:
    """Return every example's answer as plain data."""
    client = airbough.local()
    out = {}
    for name, case in DOCUMENTS.items():
        tree = dict(case["tree"])
        tree["runs"] = [{"into": None, **run} for run in tree["runs"]]  # TOML has no null
        if case["question"] == "balance":
            answer: Any = client.balance({**tree, "by": case.get("by", "gates")})
        else:
            answer = client.operating_point(tree)
        out[name] = msgspec.to_builtins(answer)
    return out


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


@pytest.mark.parametrize(("name", "number"), VALUES)
def test_printed_value(name: str, number: int, answers: dict[str, Any]) -> None:
    """A printed value comes out within the tolerance of its printed rounding."""
    case, expect = DOCUMENTS[name], DOCUMENTS[name]["expect"][number]
    value = in_unit(
        looked_up(answers[name], expect["path"]), expect["path"], expect.get("unit", ""), case["tree"]["units"]
    )
    if expect.get("departs"):
        assert value == pytest.approx(expect["method_value"], abs=expect["tolerance"])
        assert abs(value - expect["value"]) > expect["tolerance"]
    else:
        assert value == pytest.approx(expect["value"], abs=expect["tolerance"])


def test_there_are_examples_enough() -> None:
    """At least five complete worked examples, each with its source, place and how it was read."""
    complete = [case for case in DOCUMENTS.values() if case.get("complete")]
    assert len(complete) >= 5
    for case in DOCUMENTS.values():
        assert case["source"]
        assert case["place"]
        assert case["how"] in ("read", "memory")
