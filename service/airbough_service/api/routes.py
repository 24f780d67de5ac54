"""The table of contents of the service: every question and what answers it."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any, Final

from litestar import Response, get, post
from litestar.handlers import HTTPRouteHandler
from litestar.response import Stream

from airbough.calls import CALLS
from airbough.wire import batch as on_the_wire
from airbough_service.api.admission import limits
from airbough_service.api.admission.batch_places import BatchPlaces
from airbough_service.api.admission.guard import Connection
from airbough_service.api.assembly import Parts
from airbough_service.api.compute import batches, moments
from airbough_service.api.compute.spool import Spool
from airbough_service.api.http import (
    body as decoding,
)
from airbough_service.api.http import (
    leaving,
    negotiation,
    query,
    respond,
    sheet,
)
from airbough_service.api.http.respond import (
    AnyCall,
    AnyRequest,
)
from airbough_service.combined import registry


def routes(parts: Parts) -> list[HTTPRouteHandler]:
    """Return the handlers of all questions, made from the list of calls."""
    questions = [_get(call, parts) if call.method == "GET" else _post(call, parts) for call in CALLS]
    return [*questions, _batches(parts)]


class _Question(HTTPRouteHandler):
    """A question's handler, shown to its guards as it is: they change nothing, and a copy takes as long as they do."""

    async def authorize_connection(self, connection: Connection) -> None:
        """Ask every guard."""
        for guard in self.resolve_guards():
            await guard(connection, self)  # type: ignore[misc]  # each is made to be awaited


def _get(call: AnyCall, parts: Parts) -> HTTPRouteHandler:
    path = call.path.replace("}", ":str}")

    @get(path, operation_id=call.name, name=call.name, guards=parts.asking)
    async def answer(request: AnyRequest) -> Response[bytes]:
        def look_up() -> Response[bytes]:
            answered = respond.answer_get(request, call)
            return respond.sign(request, request.scope["query_string"], answered, parts.signer)

        return await parts.workers.look_up(look_up)

    return answer


def _post(call: AnyCall, parts: Parts) -> HTTPRouteHandler:
    @_Question(
        call.path,
        http_method="POST",
        operation_id=call.name,
        name=call.name,
        status_code=200,
        guards=parts.asking,
    )
    async def answer(request: AnyRequest) -> Response[bytes]:
        said = request.headers  # which are read anew each time
        named = said.get("content-type", ""), said.get("content-encoding", "")
        media = decoding.check_headers(*named, *decoding.media_types(call.request))
        table = _table(request, call, media)
        accept = ",".join(said.getall("accept", []))
        offered = _FOR_TABLES if media == decoding.TABLE else _FOR_TABLES[::-1]
        if table is None:
            negotiation.chosen_part(accept, call.answer)
        else:
            negotiation.chosen(accept, offered)
        asked = table if media == decoding.TABLE else None

        def compute(question: Any = None) -> tuple[bytes, str]:
            if question is None:
                question = respond.question_of(body, call, parts.settings, media=media, table=asked)
            told = registry.answer(call.name, question)
            if table is None:
                return negotiation.rendered(told, accept)
            if negotiation.chosen(accept, offered) == decoding.JSON:
                return negotiation.rendered(told, decoding.JSON)
            text = "" if asked is None else decoding.text_of(body)
            return sheet.answered(told, table, text), negotiation.MEDIA_TYPES["csv"]

        with parts.moments.asked():
            body = await leaving.read_body(request, parts.settings)
            found = None
            if media == decoding.JSON and parts.moments.at_leisure:
                found = _at_once(parts, call, body, compute)
            if found is None:
                caller = request.scope["state"]["caller"]
                found = await leaving.unless_gone(request, parts.workers.run(compute, caller))
        answered, media_type = found
        headers = {"content-type": media_type, "cache-control": "no-store", "vary": "Accept"}
        response = Response(answered, headers=headers)
        return respond.sign(request, body, response, parts.signer)

    return answer


def _at_once(
    parts: Parts, call: AnyCall, body: bytes, compute: Callable[[Any], tuple[bytes, str]]
) -> tuple[bytes, str] | None:
    """Return what `compute` returns of a question that takes a moment; None where it may take longer."""
    if call.request not in moments.QUESTIONS or len(body) > moments.MOST_BYTES:
        return None
    question = decoding.at_first_sight(body, call.request)
    if not moments.takes_a_moment(question):
        return None
    limits.check(question, parts.settings)
    return parts.moments.answer(functools.partial(compute, question))


_FOR_TABLES: Final = (decoding.TABLE, decoding.JSON)
"""What the answer to a table of runs may be, the usual first."""


def _table(request: AnyRequest, call: AnyCall, media: str) -> sheet.Sheet | None:
    """Return how a question about a tree is read from a table and answered as one; None for other questions."""
    given = request.scope["query_string"]
    if call.request not in sheet.TREES:
        query.read_nothing(given)
        return None
    found = sheet.read(query.pairs(given))
    if found.settings and media != decoding.TABLE:
        query.refuse([name for name, _ in found.settings])
    return found


def _batches(parts: Parts) -> HTTPRouteHandler:
    settings, gate = parts.settings, parts.gate
    places = BatchPlaces(settings)

    @post(
        on_the_wire.PATH,
        operation_id="batches",
        status_code=200,
        guards=parts.asking_many,
        request_max_body_size=settings.batch_body_limit,
    )
    async def answer(request: AnyRequest) -> Stream:
        query.read_nothing(request.scope["query_string"])
        batches.check_headers(request.headers.get("content-type", ""), request.headers.get("content-encoding", ""))
        negotiation.chosen(",".join(request.headers.getall("accept", [])), [on_the_wire.MEDIA_TYPE])
        places.look()
        state = request.scope["state"]
        body = Spool(settings, places)
        state["at_end"].callback(body.close)
        await body.receive(request.stream())
        await leaving.unless_gone(request, places.take())
        state["at_end"].callback(places.leave)
        caller, instance = state["caller"], state["request_id"]
        others = parts.peers.others(instance, caller)
        for other in others:
            state["at_end"].callback(other.close)
        batch = batches.Batch(instance, body, parts.answering)
        answers = batch.answers(parts.workers, caller, functools.partial(gate.spend, caller), others)
        headers = {"content-type": on_the_wire.MEDIA_TYPE, "cache-control": "no-store", "x-accel-buffering": "no"}
        return Stream(answers, headers=headers)

    return answer
