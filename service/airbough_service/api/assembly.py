"""What one running service is made of, made from its settings."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from litestar.types import Guard

from airbough_service.api.admission.guard import (
    Gate,
    check_protection,
)
from airbough_service.api.compute.workers import Workers
from airbough_service.api.observe import tracing
from airbough_service.api.observe.metrics import Metrics
from airbough_service.api.readiness import Readiness
from airbough_service.api.settings import Settings
from airbough_service.api.signing import Signer


@dataclass(frozen=True, slots=True)
class Parts:
    """The parts; `asking` are the guards of every question."""

    settings: Settings
    workers: Workers
    metrics: Metrics
    readiness: Readiness
    gate: Gate
    asking: list[Guard]
    signer: Signer | None
    tracer: tracing.Tracer | None


def assemble(settings: Settings, *, at_once: bool = False) -> Parts:
    """Return the parts; `at_once`: questions may come before they can be answered.

    Raises:
        SettingError: where the settings do not allow to start.
    """
    check_protection(settings)
    gate, readiness = Gate(settings), Readiness()
    return Parts(
        settings=settings,
        workers=Workers(settings),
        metrics=Metrics(),
        readiness=readiness,
        gate=gate,
        asking=[gate.guard, readiness.guard] if at_once else [gate.guard],
        signer=Signer(Path(settings.signing_key_file)) if settings.signing_key_file else None,
        tracer=tracing.create(settings.trace_endpoint),
    )
