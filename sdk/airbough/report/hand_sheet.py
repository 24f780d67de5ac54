"""An explanation as a sheet that is worked by hand: each step with its numbers in four figures and their units."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from airbough.report.blocks import Bullets, Chapter
from airbough.report.words import figures, plain
from airbough.wire.answer import Term, TreeAnswer
from airbough.wire.quantity import PRESET_UNITS, printed

_FOUR = 4
_KINDS = {
    "flow": "flow", "velocity": "velocity", "velocity_pressure": "pressure", "pressure": "pressure",
    "length": "length", "diameter": "diameter", "density": "density", "viscosity": "viscosity",
    "roughness": "roughness", "static_pressure": "pressure", "total_pressure": "pressure", "rise": "length",
    "temperature": "temperature", "altitude": "altitude",
}  # fmt: skip
_CONSTANTS = {math.pi / 4.0: "pi/4", math.pi: "pi", math.pi / 2.0: "pi/2"}
_NUMBER = re.compile(r"(?<![A-Za-z_0-9.])\d+\.?\d*(?:[eE][-+]?\d+)?(?![A-Za-z_])")


def chapter(answer: TreeAnswer, run: str | None = None) -> Chapter:
    """Return the explanation of one run, or of all.

    Raises:
        ValueError: the answer has no explanation, or none of this run.
    """
    terms = [term for term in answer.explanation or () if run is None or term.run == run]
    if not terms:
        raise ValueError("this answer explains no such run; ask with `explain`")
    lines: list[str] = []
    for term in terms:
        lines += _step(term, PRESET_UNITS[answer.preset])
    return Chapter("Hand sheet" if run is None else f"Hand sheet of {run}", [Bullets(lines)])


def _step(term: Term, units: Mapping[str, str]) -> list[str]:
    """Return one step: what, the formula, the numbers put in with their units, the result."""
    where = "" if term.run is None else f" ({term.run})"
    given = ", ".join(f"{plain(name)} {_with_unit(name, value, units)}" for name, value in term.inputs.items())
    lines = [f"{plain(term.term)}{where} = {_formula(term.formula)}", f" with {given}"]
    lines.append(f" = {figures(term.value, _FOUR)} {printed(term.unit)}".rstrip())
    if term.source is not None:
        lines.append(f" from {term.source}{'' if term.place is None else f', {term.place}'}")
    return lines


def _formula(formula: str) -> str:
    """Return a formula with known constants by name and other numbers in four figures."""
    return _NUMBER.sub(lambda found: _constant(float(found[0])), formula).replace("_", " ")


def _constant(value: float) -> str:
    """Return a number of a formula: a known constant by its name, a whole number whole."""
    for known, name in _CONSTANTS.items():
        if math.isclose(value, known, rel_tol=1.0e-9):
            return name
    return figures(value, max(_FOUR, len(str(int(value)))) if value.is_integer() else _FOUR)


def _with_unit(name: str, value: float, units: Mapping[str, str]) -> str:
    """Return an input with the unit of its kind, where its name tells it."""
    unit = units.get(_KINDS.get(name, ""), "")
    return f"{figures(value, _FOUR)} {printed(unit)}".rstrip()
