"""What is counted, in the text format of Prometheus; labels are route templates, never the caller's words."""

from __future__ import annotations

import os
from typing import Final

from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector

MEDIA_TYPE: Final = CONTENT_TYPE_LATEST
_SECONDS: Final = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0)
_BYTES: Final = (100.0, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8)


class Metrics:
    """The counters of one process, or of all workers where `PROMETHEUS_MULTIPROC_DIR` is set."""

    def __init__(self) -> None:
        registry = self._registry = CollectorRegistry()
        self._seconds = Histogram(
            "airbough_request_seconds",
            "Seconds from a request's head to the end of its answer.",
            ("method", "route", "status"),
            registry=registry,
            buckets=_SECONDS,
        )
        self._request_bytes = Histogram(
            "airbough_request_bytes", "Bytes of request bodies.", ("route",), registry=registry, buckets=_BYTES
        )
        self._answer_bytes = Histogram(
            "airbough_answer_bytes", "Bytes of answers.", ("route",), registry=registry, buckets=_BYTES
        )
        self._refusals = Counter(
            "airbough_refusals", "Requests refused, by type of problem.", ("kind",), registry=registry
        )

    def count(self, method: str, route: str, status: int, seconds: float, received: int, sent: int) -> None:
        """Count one answered request."""
        self._seconds.labels(method, route, str(status)).observe(seconds)
        if received:
            self._request_bytes.labels(route).observe(received)
        self._answer_bytes.labels(route).observe(sent)

    def count_refusal(self, kind: str) -> None:
        """Count one refusal."""
        self._refusals.labels(kind).inc()

    def text(self) -> bytes:
        """Return all counters as text."""
        if not os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
            return generate_latest(self._registry)
        together = CollectorRegistry()
        MultiProcessCollector(together)  # type: ignore[no-untyped-call]  # the library leaves it untyped
        return generate_latest(together)
