"""From a request to the bytes of its answer, the same way for every call."""

from __future__ import annotations

import functools
import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

from litestar import Request, Response
from litestar.exceptions import InternalServerException
from msgspec import Struct

from airbough.calls import Call
from airbough.wire.reference import CatalogueRequest
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
    sheet,
)
from airbough_service.api.http.body import JSON
from airbough_service.api.http.leaving import CallerLeftError
from airbough_service.api.http.query import Format
from airbough_service.api.observe import logs
from airbough_service.api.problems import HttpRefusal
from airbough_service.api.settings import Settings
from airbough_service.api.signing import Signer
from airbough_service.combined import registry

AnyRequest = Request[Any, Any, Any]
AnyCall = Call[Any, Any]
Words: TypeAlias = tuple[tuple[str, Any], ...]

_CALLER_LEFT: Final = 499
"""For the log and the counters alone: nobody is left to read it."""

_IN_A_CELL: Final = frozenset({400, 404, 422})
"""Refusals of the question itself; a program must see all others, a key that is missing or a rate that is spent."""

CACHE: Final = "max-age=3600"
_TAGS: Final = re.compile(r'"[^"]*"')


@dataclass(frozen=True, slots=True)
class Told:
    """The bytes of an answer that caches may keep.

    Attributes:
        body: the bytes.
        media_type: what they are.
        tag: their strong entity tag.
        findings: the codes of the answer's findings, for answers that are text.
    """

    body: bytes
    media_type: str
    tag: str
    findings: str = ""

    @classmethod
    def of(cls, body: bytes, media_type: str, answer: Struct | None = None) -> Told:
        """Return bytes with their tag."""
        as_text = media_type == negotiation.MEDIA_TYPES["text"]
        tag = f'"{hashlib.blake2b(body, digest_size=12).hexdigest()}"'
        return cls(body, media_type, tag, negotiation.codes(answer) if as_text else "")


def answer_get(request: AnyRequest, call: AnyCall) -> Response[bytes]:
    """Answer a question put in a query."""
    question, how = query.read(request.scope["query_string"], call.request)
    words = tuple(sorted(request.path_params.items()))
    wanted = how.format or ("text" if how.value is not None else _accepted(request))
    # Of the catalogue there are as many answers as it has words: each is made once.
    told = (_constant if call.request is CatalogueRequest else _told)(call, question, words, wanted, how.value)
    return cacheable(request, told)


def _accepted(request: AnyRequest) -> Format:
    return negotiation.chosen_format(",".join(request.headers.getall("accept", [])))


def _told(call: AnyCall, question: Struct, words: Words, wanted: Format, value: str | None) -> Told:
    answer = registry.answer(call.name, question, **dict(words))
    if value is not None:
        return Told.of(negotiation.one_value(answer, value), negotiation.MEDIA_TYPES["text"], answer)
    return Told.of(negotiation.render(answer, wanted), negotiation.MEDIA_TYPES[wanted], answer)


_constant = functools.lru_cache(maxsize=1024)(_told)


def cacheable(request: AnyRequest, told: Told, packed: bytes | None = None) -> Response[bytes]:
    """Return an answer that caches may keep; `packed`: its bytes as gzip, for those who take that."""
    state = request.scope["state"]
    shared = "private" if "key_name" in state else "public"
    tag, body, varied = told.tag, told.body, b"Accept"
    headers = {"cache-control": f"{shared}, {CACHE}", "content-type": told.media_type}
    if packed is not None:
        varied = b"Accept-Encoding"
        if negotiation.takes_gzip(",".join(request.headers.getall("accept-encoding", []))):
            # The tag of the plain bytes, made weak: what a packing proxy would do.
            tag, body = f"W/{told.tag}", packed
            headers["content-encoding"] = "gzip"
    headers["etag"] = tag
    state["more_headers"].append((b"vary", varied))
    if told.findings:
        headers["findings"] = told.findings
    if still_stands(told.tag, request.headers.getall("if-none-match", [])):
        kept = {name: text for name, text in headers.items() if name not in ("content-type", "content-encoding")}
        return Response(b"", status_code=304, headers=kept)
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


def question_of(
    body: bytes,
    call: AnyCall,
    settings: Settings,
    distinct: bool = False,
    media: str = JSON,
    table: sheet.Sheet | None = None,
) -> Any:
    """Return the question in a body, within the server's limits.

    Args:
        body: the bytes.
        call: the question.
        settings: the limits.
        distinct: as in `decoding.decode`.
        media: the body's type.
        table: how a table of runs is read; None where the body is none.
    """
    if table is not None:
        question = sheet.question(decoding.text_of(body), call.request, table)
    elif media == decoding.TABLE:
        question = decoding.decode_table(body, call.request)
    else:
        question = decoding.decode(body, call.request, distinct)
    limits.check(question, settings)
    return question


def answer_body(
    body: bytes, call: AnyCall, settings: Settings, distinct: bool = False, only: tuple[str, ...] | None = None
) -> Any:
    """Return the answer to the question in a body of JSON; `only`: as of `registry.answer`, the others as above."""
    return registry.answer(call.name, question_of(body, call, settings, distinct), only=only)


def refusal_response(request: AnyRequest, error: Exception) -> Response[bytes]:
    """Return the answer to a request that is refused or failed."""
    state = request.scope["state"]
    if isinstance(error, CallerLeftError):
        state["kind"] = "caller-left"
        return Response(b"", status_code=_CALLER_LEFT)
    if isinstance(error, InternalServerException) and "disconnected" in error.detail:
        error = HttpRefusal("incomplete-body", "the body ended before it was whole")
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
