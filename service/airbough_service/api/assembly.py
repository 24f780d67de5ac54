"""What one running service is made of, made from its settings."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

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
    """The parts."""

    settings: Settings
    workers: Workers
    metrics: Metrics
    readiness: Readiness
    gate: Gate
    signer: Signer | None
    tracer: tracing.Tracer | None


def assemble(settings: Settings) -> Parts:
    """Return the parts.

    Raises:
        SettingError: where the settings do not allow to start.
    """
    check_protection(settings)
    return Parts(
        settings=settings,
        workers=Workers(settings),
        metrics=Metrics(),
        readiness=Readiness(),
        gate=Gate(settings),
        signer=Signer(Path(settings.signing_key_file)) if settings.signing_key_file else None,
        tracer=tracing.create(settings.trace_endpoint),
    )
