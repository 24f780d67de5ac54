"""The table of contents of the service: every question and what answers it."""

from __future__ import annotations

from collections.abc import AsyncIterator

from litestar import Response, get, post
from litestar.handlers import HTTPRouteHandler
from litestar.response import Stream

from airbough.calls import CALLS
from airbough_service.api.assembly import Parts
from airbough_service.api.compute import batches
from airbough_service.api.http import (
    body as decoding,
)
from airbough_service.api.http import (
    negotiation,
    query,
    respond,
)
from airbough_service.api.http.respond import (
    AnyCall,
    AnyRequest,
)
from airbough_service.api.problems import HttpRefusal


def routes(parts: Parts) -> list[HTTPRouteHandler]:
    """Return the handlers of all questions, made from the list of calls."""
    questions = [_get(call, parts) if call.method == "GET" else _post(call, parts) for call in CALLS]
    return [*questions, _batches(parts)]


def _get(call: AnyCall, parts: Parts) -> HTTPRouteHandler:
    path = call.path.replace("}", ":str}")

    @get(path, operation_id=call.name, name=call.name, sync_to_thread=False, guards=[parts.gate.guard])
    def answer(request: AnyRequest) -> Response[bytes]:
        return respond.sign(request, request.scope["query_string"], respond.answer_get(request, call), parts.signer)

    return answer


def _post(call: AnyCall, parts: Parts) -> HTTPRouteHandler:
    @post(call.path, operation_id=call.name, name=call.name, status_code=200, guards=[parts.gate.guard])
    async def answer(request: AnyRequest) -> Response[bytes]:
        query.read_nothing(request.scope["query_string"])
        decoding.check_headers(request.headers.get("content-type", ""), request.headers.get("content-encoding", ""))
        accept = ",".join(request.headers.getall("accept", []))
        negotiation.chosen_part(accept, call.answer)
        body = await respond.read_body(request, parts.settings)

        def compute() -> tuple[bytes, str]:
            return negotiation.rendered(respond.answer_body(body, call, parts.settings), accept)

        answered, media_type = await parts.workers.run(compute)
        headers = {"content-type": media_type, "cache-control": "no-store", "vary": "Accept"}
        response = Response(answered, headers=headers)
        return respond.sign(request, body, response, parts.signer)

    return answer


def _batches(parts: Parts) -> HTTPRouteHandler:
    under_way: set[batches.Batch] = set()
    settings = parts.settings

    async def answers(batch: batches.Batch) -> AsyncIterator[bytes]:
        under_way.add(batch)
        try:
            async for block in batch.answers(parts.workers):
                yield block
        finally:
            under_way.discard(batch)

    @post(
        "/v1/batches",
        operation_id="batches",
        status_code=200,
        guards=[parts.gate.guard],
        request_max_body_size=settings.batch_body_limit,
    )
    async def answer(request: AnyRequest) -> Stream:
        query.read_nothing(request.scope["query_string"])
        batches.check_headers(request.headers.get("content-type", ""), request.headers.get("content-encoding", ""))
        negotiation.chosen(",".join(request.headers.getall("accept", [])), [batches.MEDIA_TYPE])
        if len(under_way) >= settings.batches:
            raise HttpRefusal("busy", "too many batches are being answered; send it again in a moment")
        batch = batches.Batch(settings, request.scope["state"]["request_id"], parts.signer)
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
