"""What this server answers at most in one question; the schema's own bounds are wider."""

from __future__ import annotations

import math

from msgspec import Struct

from airbough.wire.problem import Fault
from airbough.wire.tree import Run
from airbough_service.api.http.problems import HttpRefusal
from airbough_service.api.settings import Settings

_MANY = 10**9
"""No server answers so many; the exact number is not reckoned beyond."""


def check(question: Struct, settings: Settings) -> None:
    """Refuse a question larger than this server's limits.

    Raises:
        HttpRefusal: `over-limit`, with every limit that is passed.
    """
    counts = (
        ("runs", "runs", len(getattr(question, "runs", ())), settings.runs_limit),
        ("states", "states", _states(question), settings.states_limit),
        ("uncertainty.samples", "samples", _samples(question), settings.samples_limit),
    )
    faults = [
        Fault(path=path, code="over-limit", detail=f"{count} {what}; this server answers at most {most}")
        for path, what, count, most in counts
        if count > most
    ]
    if faults:
        raise HttpRefusal("over-limit", "; ".join(fault.detail for fault in faults), faults)


def _states(question: Struct) -> int:
    """Return how many states of the gates are named, and at most how many `up_to` adds."""
    named = len(getattr(question, "states", None) or ())
    most = getattr(question, "up_to", None)
    if most is None:
        return named
    given = getattr(question, "machines", None)
    machines = set(given) if given is not None else {name for run in question.runs if (name := _machine(run))}  # type: ignore[attr-defined]
    for size in range(1, min(most, len(machines)) + 1):
        named += math.comb(len(machines), size)
        if named > _MANY:
            break
    return named


def _machine(run: Run) -> str | None:
    """Return the name by which a hood's gate moves; None where it has none."""
    if run.hood is None or run.gate is None:
        return None
    return run.gate.machine_id or run.hood.machine_id or run.id


def _samples(question: Struct) -> int:
    uncertainty = getattr(question, "uncertainty", None)
    return 0 if uncertainty is None else int(uncertainty.samples)
