"""The table of contents of the service: every path and what answers it."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Final

import msgspec
from litestar import Response, get, post
from litestar.handlers import HTTPRouteHandler
from litestar.response import Stream

from airbough.calls import CALLS
from airbough_service.api import answering, batches, decoding, metrics, page, problems, query
from airbough_service.api.answering import AnyCall, AnyRequest
from airbough_service.api.health import Readiness
from airbough_service.api.problems import HttpRefusal
from airbough_service.api.settings import Settings
from airbough_service.api.workers import Workers

_DOCUMENT_MEDIA_TYPE: Final = "application/vnd.oai.openapi+json;version=3.1"


def routes(
    settings: Settings, workers: Workers, counted: metrics.Metrics, readiness: Readiness, document: bytes
) -> list[HTTPRouteHandler]:
    """Return every handler of the service."""
    questions = [_get(call) if call.method == "GET" else _post(call, settings, workers) for call in CALLS]
    return [*questions, _batches(settings, workers), *_health(readiness), *_documents(document), _metrics(counted)]


def _get(call: AnyCall) -> HTTPRouteHandler:
    @get(_path(call), operation_id=call.name, name=call.name, sync_to_thread=False)
    def answer(request: AnyRequest) -> Response[bytes]:
        return answering.answer_get(request, call)

    return answer


def _post(call: AnyCall, settings: Settings, workers: Workers) -> HTTPRouteHandler:
    @post(call.path, operation_id=call.name, name=call.name, status_code=200)
    async def answer(request: AnyRequest) -> Response[bytes]:
        query.read_nothing(request.scope["query_string"])
        body = await json_body(request, settings)
        answered = await workers.run(lambda: answering.answer_body(body, call, settings))
        return Response(answered, headers={"content-type": "application/json", "cache-control": "no-store"})

    return answer


def _batches(settings: Settings, workers: Workers) -> HTTPRouteHandler:
    under_way: set[batches.Batch] = set()

    async def answers(batch: batches.Batch) -> AsyncIterator[bytes]:
        under_way.add(batch)
        try:
            async for block in batch.answers(workers):
                yield block
        finally:
            under_way.discard(batch)

    @post("/v1/batches", operation_id="batches", status_code=200, request_max_body_size=settings.batch_body_limit)
    async def answer(request: AnyRequest) -> Stream:
        query.read_nothing(request.scope["query_string"])
        batches.check_headers(request.headers.get("content-type", ""), request.headers.get("content-encoding", ""))
        if len(under_way) >= settings.batches:
            raise HttpRefusal("busy", "too many batches are being answered; send it again in a moment")
        batch = batches.Batch(settings, request.scope["state"]["request_id"])
        under_way.add(batch)
        try:
            await batch.receive(request)
        except BaseException:
            batch.close()
            raise
        finally:
            under_way.discard(batch)
        headers = {"content-type": batches.MEDIA_TYPE, "cache-control": "no-store", "x-accel-buffering": "no"}
        return Stream(answers(batch), headers=headers)

    return answer


async def json_body(request: AnyRequest, settings: Settings) -> bytes:
    """Return the body of a request that says it is JSON."""
    decoding.check_headers(request.headers.get("content-type", ""), request.headers.get("content-encoding", ""))
    return await answering.read_body(request, settings)


def _path(call: AnyCall) -> str:
    return call.path.replace("}", ":str}")


def _health(readiness: Readiness) -> list[HTTPRouteHandler]:
    @get("/health/live", sync_to_thread=False)
    def live(request: AnyRequest) -> Response[bytes]:
        query.read_nothing(request.scope["query_string"])
        return _fresh({"alive": True}, 200)

    @get("/health/ready", sync_to_thread=False)
    def ready(request: AnyRequest) -> Response[bytes]:
        query.read_nothing(request.scope["query_string"])
        if not readiness.ready:
            raise HttpRefusal("busy", "the solver is still being compiled")
        return _fresh({"ready": True}, 200)

    return [live, ready]


def _fresh(said: dict[str, bool], status: int) -> Response[bytes]:
    headers = {"content-type": "application/json", "cache-control": "no-store"}
    return Response(msgspec.json.encode(said), status_code=status, headers=headers)


def _documents(document: bytes) -> list[HTTPRouteHandler]:
    html = page.html(msgspec.json.decode(document)).encode()

    @get("/openapi.json", sync_to_thread=False)
    def openapi(request: AnyRequest) -> Response[bytes]:
        return answering.cacheable(request, document, _DOCUMENT_MEDIA_TYPE)

    @get("/docs", sync_to_thread=False)
    def docs(request: AnyRequest) -> Response[bytes]:
        return answering.cacheable(request, html, "text/html; charset=utf-8")

    @get("/docs/{name:str}", sync_to_thread=False)
    def static(request: AnyRequest) -> Response[bytes]:
        name = request.path_params["name"]
        if name not in page.STATIC:
            raise HttpRefusal("not-found", "no such file")
        return answering.cacheable(request, page.static(name), page.STATIC[name])

    @get("/problems/{kind:str}", sync_to_thread=False)
    def problem(request: AnyRequest) -> Response[bytes]:
        explained = problems.page(request.path_params["kind"])
        if explained is None:
            raise HttpRefusal("not-found", "no such type of problem")
        return answering.cacheable(request, explained.encode(), "text/html; charset=utf-8")

    return [openapi, docs, static, problem]


def _metrics(counted: metrics.Metrics) -> HTTPRouteHandler:
    @get("/metrics", sync_to_thread=False)
    def text(request: AnyRequest) -> Response[bytes]:
        query.read_nothing(request.scope["query_string"])
        return Response(counted.text(), headers={"content-type": metrics.MEDIA_TYPE, "cache-control": "no-store"})

    return text
