import pytest
from litestar.testing import TestClient
from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter

from airbough_service.api.app import create_app
from airbough_service.api.observe import tracing
from airbough_service.api.settings import Settings

TRACE = "0af7651916cd43dd8448eb211c80319c"


@pytest.fixture
def spans():
    exporter = InMemorySpanExporter()
    application = create_app(Settings())
    application.frame._tracer = tracer = tracing.Tracer(exporter)
    with TestClient(application) as client:
        client.get("/v1/fittings/some-secret?units=us", headers={"traceparent": f"00-{TRACE}-b7ad6b7169203331-01"})
        client.get("/nowhere/some-secret")
    tracer.close()
    return exporter.get_finished_spans()


def test_each_request_is_a_span_under_its_callers(spans):
    first, second = spans
    assert first.name == "GET /v1/fittings/{type}"
    assert f"{first.context.trace_id:032x}" == TRACE
    assert first.attributes["http.response.status_code"] == 422
    assert first.attributes["error.type"] == "unknown-word"
    assert second.name == "GET unrouted"
    assert second.attributes["http.response.status_code"] == 404


def test_nothing_of_the_callers_data_is_traced(spans):
    assert "some-secret" not in "".join(span.to_json() for span in spans)


def test_without_a_collector_there_are_no_traces():
    assert tracing.create("") is None


def test_with_a_collectors_address_there_is_a_tracer():
    tracer = tracing.create("http://127.0.0.1:9")
    assert isinstance(tracer, tracing.Tracer)
    tracer.close()
