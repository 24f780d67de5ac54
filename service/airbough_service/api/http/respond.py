"""From a request to the bytes of its answer, the same way for every call."""

from __future__ import annotations

import asyncio
import hashlib
import re
from collections.abc import Sequence
from typing import Any, Final

from litestar import Request, Response
from litestar.exceptions import InternalServerException
from msgspec import Struct

from airbough.calls import Call
from airbough_service.api import (
    problems,
    signing,
)
from airbough_service.api.admission import limits
from airbough_service.api.http import (
    body as decoding,
)
from airbough_service.api.http import (
    negotiation,
    query,
)
from airbough_service.api.observe import logs
from airbough_service.api.problems import HttpRefusal
from airbough_service.api.settings import Settings
from airbough_service.api.signing import Signer
from airbough_service.combined import registry

AnyRequest = Request[Any, Any, Any]
AnyCall = Call[Any, Any]

_CALLER_LEFT: Final = 499
"""For the log and the counters alone: nobody is left to read it."""

_IN_A_CELL: Final = frozenset({400, 404, 422})
"""Refusals of the question itself; a program must see all others, a key that is missing or a rate that is spent."""

CACHE: Final = "max-age=3600"
_TAGS: Final = re.compile(r'"[^"]*"')


def answer_get(request: AnyRequest, call: AnyCall) -> Response[bytes]:
    """Answer a question put in a query."""
    question, how = query.read(request.scope["query_string"], call.request)
    answer = registry.answer(call.name, question, **request.path_params)
    if how.value is not None:
        return cacheable(request, negotiation.one_value(answer, how.value), negotiation.MEDIA_TYPES["text"], answer)
    wanted = how.format or negotiation.chosen_format(",".join(request.headers.getall("accept", [])))
    return cacheable(request, negotiation.render(answer, wanted), negotiation.MEDIA_TYPES[wanted], answer)


def cacheable(request: AnyRequest, body: bytes, media_type: str, answer: Struct | None = None) -> Response[bytes]:
    """Return a body that caches may keep; text tells the codes of the answer's findings in a header."""
    tag = f'"{hashlib.blake2b(body, digest_size=12).hexdigest()}"'
    shared = "private" if "key_name" in request.scope["state"] else "public"
    headers = {"etag": tag, "cache-control": f"{shared}, {CACHE}", "content-type": media_type}
    request.scope["state"]["more_headers"].append((b"vary", b"Accept"))
    found = negotiation.codes(answer)
    if found and media_type == negotiation.MEDIA_TYPES["text"]:
        headers["findings"] = found
    if still_stands(tag, request.headers.getall("if-none-match", [])):
        del headers["content-type"]
        return Response(b"", status_code=304, headers=headers)
    return Response(body, headers=headers)


def still_stands(tag: str, given: Sequence[str]) -> bool:
    """Return whether `If-None-Match` names a tag, be it as a weak one: a proxy that packs makes tags weak."""
    return any(line.strip() == "*" or tag in _TAGS.findall(line) for line in given)


def sign(request: AnyRequest, question: bytes, response: Response[bytes], signer: Signer | None) -> Response[bytes]:
    """Return the response, with a signature over question and answer where this server signs."""
    if signer is not None and response.status_code in (None, 200):
        signature = signer.signature(request.scope["path"], question, response.content)
        response.headers[signing.HEADER] = signature
    return response


async def read_body(request: AnyRequest, settings: Settings) -> bytes:
    """Return the whole body.

    Raises:
        HttpRefusal: `too-slow` where it has not arrived in time.
    """
    try:
        async with asyncio.timeout(settings.read_timeout):
            return await request.body()
    except TimeoutError:
        detail = f"the body did not arrive within {settings.read_timeout:g} s"
        raise HttpRefusal("too-slow", detail, headers={"Connection": "close"}) from None


def answer_body(body: bytes, call: AnyCall, settings: Settings, distinct: bool = False) -> Any:
    """Return the answer to the question in a body; `distinct` as in `decoding.decode`."""
    question = decoding.decode(body, call.request, distinct)
    limits.check(question, settings)
    return registry.answer(call.name, question)


def refusal_response(request: AnyRequest, error: Exception) -> Response[bytes]:
    """Return the answer to a request that is refused or failed."""
    state = request.scope["state"]
    if isinstance(error, InternalServerException) and "disconnected" in error.detail:
        state["kind"] = "caller-left"
        return Response(b"", status_code=_CALLER_LEFT)
    refused = problems.from_exception(error, state["request_id"])
    state["kind"] = refused.kind
    if refused.status == 500:
        logs.fault(state["request_id"], error)
    as_cell = request.method == "GET" and query.wants_cell(request.scope["query_string"])
    if as_cell and refused.status in _IN_A_CELL:
        headers = {"content-type": negotiation.MEDIA_TYPES["text"], "cache-control": "no-store"}
        return Response(refused.cell().encode(), status_code=200, headers=headers)
    headers = {"content-type": problems.MEDIA_TYPE, "cache-control": "no-store", **refused.headers}
    return Response(refused.body(), status_code=refused.status, headers=headers)
