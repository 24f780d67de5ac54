"""What one running service is made of, made from its settings."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from litestar.types import Guard

from airbough_service.api.admission.guard import (
    Gate,
    check_protection,
)
from airbough_service.api.compilers import Compilers
from airbough_service.api.compute.answering import Answering
from airbough_service.api.compute.moments import Moments
from airbough_service.api.compute.peers import Peers
from airbough_service.api.compute.workers import Workers
from airbough_service.api.observe import tracing
from airbough_service.api.observe.metrics import Metrics
from airbough_service.api.readiness import Readiness
from airbough_service.api.settings import Settings
from airbough_service.api.signing import Signer


@dataclass(frozen=True, slots=True)
class Parts:
    """The parts; `asking` are the guards of every question, `asking_many` those of a batch."""

    settings: Settings
    workers: Workers
    moments: Moments
    metrics: Metrics
    readiness: Readiness
    gate: Gate
    asking: list[Guard]
    asking_many: list[Guard]
    signer: Signer | None
    answering: Answering
    peers: Peers
    tracer: tracing.Tracer | None


def assemble(
    settings: Settings, *, at_once: bool = False, folder: Path | None = None, compilers: Compilers | None = None
) -> Parts:
    """Return the parts.

    Args:
        settings: what the service runs with.
        at_once: whether questions may come before they can be answered.
        folder: where the workers of one server find one another.
        compilers: what compiles already.

    Raises:
        SettingError: where the settings do not allow to start.
    """
    check_protection(settings)
    gate, readiness, workers = Gate(settings), Readiness(compilers=compilers), Workers(settings)
    signer = Signer(Path(settings.signing_key_file)) if settings.signing_key_file else None
    answering = Answering(settings, signer)
    return Parts(
        settings=settings,
        workers=workers,
        moments=Moments(workers),
        metrics=Metrics(),
        readiness=readiness,
        gate=gate,
        asking=[gate.guard, readiness.guard] if at_once else [gate.guard],
        asking_many=[gate.guard, readiness.guard_all] if at_once else [gate.guard],
        signer=signer,
        answering=answering,
        peers=Peers(folder, answering, workers, lambda: readiness.complete),
        tracer=tracing.create(settings.trace_endpoint),
    )
