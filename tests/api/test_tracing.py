import threading
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest
from litestar.testing import TestClient
from opentelemetry.proto.collector.trace.v1.trace_service_pb2 import ExportTraceServiceRequest

from airbough_service.api.app import create_app
from airbough_service.api.observe import tracing
from airbough_service.api.settings import Settings

TRACE = "0af7651916cd43dd8448eb211c80319c"


@pytest.fixture(scope="module")
def sent():
    """Return what a collector of traces on loopback was sent by a service that was told its address."""
    bodies = []

    class Collector(BaseHTTPRequestHandler):
        def do_POST(self):
            bodies.append((self.path, self.rfile.read(int(self.headers["content-length"]))))
            self.send_response(200)
            self.end_headers()

        def log_message(self, *_):
            pass

    with HTTPServer(("127.0.0.1", 0), Collector) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        settings = Settings(trace_endpoint=f"http://127.0.0.1:{server.server_port}")
        with TestClient(create_app(settings)) as client:
            client.get("/v1/fittings/some-secret?units=us", headers={"traceparent": f"00-{TRACE}-b7ad6b7169203331-01"})
            client.get("/nowhere/some-secret")
        server.shutdown()
    return bodies


@pytest.fixture
def spans(sent):
    requests = [ExportTraceServiceRequest.FromString(body) for path, body in sent if path == "/v1/traces"]
    return [
        span
        for request in requests
        for of_resource in request.resource_spans
        for of_scope in of_resource.scope_spans
        for span in of_scope.spans
    ]


def told(span):
    return {item.key: item.value.int_value or item.value.string_value for item in span.attributes}


def test_each_request_is_a_span_under_its_callers(spans):
    first, second = sorted(spans, key=lambda span: span.start_time_unix_nano)
    assert first.name == "GET /v1/fittings/{type}"
    assert first.trace_id.hex() == TRACE
    assert first.parent_span_id.hex() == "b7ad6b7169203331"
    assert told(first)["http.response.status_code"] == 422
    assert told(first)["error.type"] == "unknown-word"
    assert second.name == "GET unrouted"
    assert second.trace_id.hex() != TRACE
    assert told(second)["http.response.status_code"] == 404


def test_nothing_of_the_callers_data_is_traced(sent):
    assert sent
    assert all(b"some-secret" not in body for _, body in sent)


def test_without_a_collector_there_are_no_traces():
    assert tracing.create("") is None


def test_with_a_collectors_address_there_is_a_tracer():
    tracer = tracing.create("http://127.0.0.1:9")
    assert isinstance(tracer, tracing.Tracer)
    tracer.close()
