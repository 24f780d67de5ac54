"""Findings of values beyond the published range of a law, and refusals of those that no law answers."""

from __future__ import annotations

from typing import Final

from airbough.wire.answer import Finding
from airbough.wire.problem import Fault
from airbough_service.catalogue import (
    MissingParameterError,
    Outside,
    UnknownWordError,
)
from airbough_service.core.errors import OutsideTableError
from airbough_service.terms import units
from airbough_service.terms.finding import plain
from airbough_service.terms.refusal import Refusal

_KINDS: Final = {
    "altitude": "altitude",
    "angle": "angle",
    "branch_diameter": "diameter",
    "diameter": "diameter",
    "downstream_diameter": "diameter",
    "included_angle": "angle",
    "length": "diameter",
    "orifice_diameter": "diameter",
    "particle_diameter": "diameter",
    "pressure": "pressure",
    "temperature": "temperature",
    "upstream_diameter": "diameter",
    "velocity": "velocity",
}


def in_preset(name: str, si: float, preset: str) -> tuple[float, str]:
    """Return a parameter's value in the preset, and its unit; ratios and shares have none."""
    kind = _KINDS.get(name)
    return (si, "") if kind is None else (units.value(kind, si, preset), units.unit(kind, preset))


def finding(outside: Outside, preset: str, *, of: str, source: str, at: str | None = None) -> Finding:
    """Return the finding `outside-correlation-range`, value and limit in the preset.

    Args:
        outside: what lies beyond.
        preset: the answer's.
        of: the catalogue entry that answered.
        source: id of its document.
        at: path in the document.
    """
    low = outside.value < outside.low
    value, unit = in_preset(outside.parameter, outside.value, preset)
    limit, _ = in_preset(outside.parameter, outside.low if low else outside.high, preset)
    side = "below" if low else "above"
    return Finding(
        code="outside-correlation-range",
        severity="note",
        at=at,
        quantity=outside.parameter,
        value=value,
        limit=limit,
        bound="minimum" if low else "maximum",
        unit=unit or None,
        message=f"{plain(outside.parameter)} lies {side} the published range of {plain(of)}; the value is an estimate",
        source=source,
    )


def refusal(error: UnknownWordError | MissingParameterError | OutsideTableError, path: str, preset: str) -> Refusal:
    """Return the refusal of a single question that the catalogue or core could not answer.

    Args:
        error: what they said.
        path: of the word that was asked, for unknown words.
        preset: in which limits are told.
    """
    if isinstance(error, UnknownWordError):
        near = f"; nearest: {', '.join(error.nearest)}" if error.nearest else f"; it has {', '.join(error.known)}"
        detail = f"`{error.word}` is no {error.kind} of the catalogue{near}"
        fault = Fault(path=path, code="unknown-word", detail=detail, example=next(iter(error.nearest), None))
        return Refusal("unknown-word", [fault])
    if isinstance(error, MissingParameterError):
        return missing(error.names)
    return Refusal("out-of-range", [Fault(path=error.name, code="out-of-range", detail=must_be(error, preset))])


def must_be(error: OutsideTableError, preset: str) -> str:
    """Return the range that can be answered as text, in the preset's unit where the parameter has one."""
    low, unit = in_preset(error.name, error.low, preset)
    high, _ = in_preset(error.name, error.high, preset)
    return f"must be {low:.6g} to {high:.6g} {unit}".rstrip()


def missing(names: tuple[str, ...]) -> Refusal:
    """Return the refusal of a question that lacks a parameter; any of these names would do."""
    detail = "needed here" if len(names) == 1 else f"one of {', '.join(names)} is needed here"
    return Refusal("not-computable", [Fault(path=names[0], code="parameter-missing", detail=detail)])
