"""Traces, where an OpenTelemetry collector is named: one span a request, nothing of the caller's data in it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, Final

from airbough_service import __version__
from airbough_service.api.settings import SettingError

_ADDRESS: Final = re.compile(r"https?://[^/\s]+(/\S*)?")
_CARRIED: Final = ("traceparent", "tracestate")


class Tracer:
    """Starts and ends the span of a request; a caller's `traceparent` is its parent."""

    def __init__(self, exporter: Any) -> None:
        from opentelemetry.sdk.resources import Resource
        from opentelemetry.sdk.trace import TracerProvider
        from opentelemetry.sdk.trace.export import BatchSpanProcessor
        from opentelemetry.trace import SpanKind
        from opentelemetry.trace.propagation.tracecontext import TraceContextTextMapPropagator

        resource = Resource.create({"service.name": "airbough", "service.version": __version__})
        self._provider = TracerProvider(resource=resource)
        self._provider.add_span_processor(BatchSpanProcessor(exporter))
        self._tracer = self._provider.get_tracer("airbough")
        self._parents = TraceContextTextMapPropagator()
        self._kind = SpanKind.SERVER

    def start(self, method: str, headers: Iterable[tuple[bytes, bytes]]) -> Any:
        """Return the span of a request that begins."""
        told = {name.decode("latin-1").lower(): value.decode("latin-1") for name, value in headers}
        parent = self._parents.extract({name: told[name] for name in _CARRIED if name in told})
        return self._tracer.start_span(method, context=parent, kind=self._kind)

    def end(self, span: Any, method: str, route: str, status: int, kind: str | None) -> None:
        """End the span; names of attributes are OpenTelemetry's semantic conventions for HTTP."""
        span.update_name(f"{method} {route}")
        span.set_attribute("http.request.method", method)
        span.set_attribute("http.route", route)
        span.set_attribute("http.response.status_code", status)
        if kind:
            span.set_attribute("error.type", kind)
        span.end()

    def close(self) -> None:
        """Send what is left."""
        self._provider.shutdown()


def create(endpoint: str) -> Tracer | None:
    """Return the tracer for a collector's address, or None where there is none.

    Raises:
        SettingError: where the libraries are missing, or it is no address.
    """
    exporter = check(endpoint)
    return None if exporter is None else Tracer(exporter(endpoint=endpoint.rstrip("/") + "/v1/traces", timeout=5))


def check(endpoint: str) -> Any:
    """Return what sends traces to an address; None where there is none. Raises as `create`."""
    if not endpoint:
        return None
    if not _ADDRESS.fullmatch(endpoint):
        raise SettingError(f"AIRBOUGH_TRACE_ENDPOINT: `{endpoint}` is no address such as `http://127.0.0.1:4318`")
    try:
        from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter
    except ImportError:
        raise SettingError("AIRBOUGH_TRACE_ENDPOINT: install airbough-service[tracing]") from None
    return OTLPSpanExporter
