"""What this server answers at most in one question; the schema's own bounds are wider."""

from __future__ import annotations

from msgspec import Struct

from airbough.wire.problem import Fault
from airbough_service.api.http.problems import HttpRefusal
from airbough_service.api.settings import Settings
from airbough_service.combined import registry


def check(question: Struct, settings: Settings) -> None:
    """Refuse a question larger than this server's limits.

    Raises:
        HttpRefusal: `over-limit`, with every limit that is passed.
    """
    counts = (
        ("runs", "runs", len(getattr(question, "runs", ())), settings.runs_limit),
        ("states", "states", registry.states_asked(question), settings.states_limit),
        ("uncertainty.samples", "samples", _samples(question), settings.samples_limit),
    )
    faults = [
        Fault(path=path, code="over-limit", detail=f"{count} {what}; this server answers at most {most}")
        for path, what, count, most in counts
        if count > most
    ]
    if faults:
        raise HttpRefusal("over-limit", "; ".join(fault.detail for fault in faults), faults)


def _samples(question: Struct) -> int:
    uncertainty = getattr(question, "uncertainty", None)
    return 0 if uncertainty is None else int(uncertainty.samples)
