"""Findings of the site questions: numbers given in SI, told in the preset."""

from __future__ import annotations

from typing import Literal

from airbough.wire.answer import Finding, Suggestion
from airbough_service.edge import units
from airbough_service.edge.codes_site import CODES


def finding(
    code: str,
    message: str,
    *,
    preset: str = "metric",
    kind: str | None = None,
    quantity: str | None = None,
    value: float | None = None,
    limit: float | None = None,
    bound: Literal["minimum", "maximum"] | None = None,
    at: str | None = None,
    run: str | None = None,
    state: str | None = None,
    suggestion: Suggestion | None = None,
    source: str | None = None,
) -> Finding:
    """Return a finding.

    Args:
        code: of ``codes_site``; it gives the severity.
        message: what the caller reads.
        preset: the answer's.
        kind: of the value's quantity; None for a number without a unit.
        quantity: its name.
        value: in SI.
        limit: in SI.
        bound: which side of the limit should hold.
        at: path in the document.
        run: id of the run.
        state: name of the state.
        suggestion: numbers in the preset already.
        source: id in the bibliography.
    """
    return Finding(
        code=code,
        severity=CODES[code][0],
        message=message,
        at=at,
        run=run,
        state=state,
        quantity=quantity,
        value=told(kind, value, preset),
        limit=told(kind, limit, preset),
        bound=bound,
        unit=units.unit(kind, preset) or None if kind is not None and value is not None else None,
        suggestion=suggestion,
        source=source,
    )


def told(kind: str | None, si: float | None, preset: str) -> float | None:
    """Return an SI value in the preset; None stays None, a number without a kind stays as it is."""
    return si if si is None or kind is None else units.value(kind, si, preset)


def shown(kind: str, si: float, preset: str) -> str:
    """Return an SI value as short text with its unit in the preset."""
    return f"{units.value(kind, si, preset):.4g} {units.unit(kind, preset)}"
