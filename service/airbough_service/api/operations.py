"""The paths beside the questions: health, metrics, the document, its page, types of problem, public keys."""

from __future__ import annotations

import gzip
from dataclasses import dataclass
from functools import cache
from typing import Final

import msgspec
from litestar import Response, get
from litestar.handlers import HTTPRouteHandler

from airbough_service.api import problems
from airbough_service.api.admission.guard import Gate
from airbough_service.api.assembly import Parts
from airbough_service.api.document import (
    build,
    page,
)
from airbough_service.api.http import (
    negotiation,
    query,
    respond,
)
from airbough_service.api.http.respond import AnyRequest, Told
from airbough_service.api.observe import metrics
from airbough_service.api.problems import HttpRefusal
from airbough_service.api.readiness import Readiness

DOCUMENT_MEDIA_TYPE: Final = "application/vnd.oai.openapi+json;version=3.1"


def routes(parts: Parts) -> list[HTTPRouteHandler]:
    """Return the handlers."""
    beside = [_metrics(parts), _public_keys(parts), *_documents(parts.gate), _problem(parts.gate)]
    return [_root(parts.gate), *_health(parts.readiness), *beside]


def _health(readiness: Readiness) -> list[HTTPRouteHandler]:
    # A probe may add what it likes to the query, lest a cache between answer it.
    @get("/health/live", sync_to_thread=False)
    def live() -> Response[bytes]:
        return _fresh({"alive": True})

    @get("/health/ready", sync_to_thread=False)
    def ready() -> Response[bytes]:
        readiness.refuse_until_ready()
        return _fresh({"ready": True, "complete": readiness.complete})

    return [live, ready]


def _fresh(said: dict[str, bool]) -> Response[bytes]:
    headers = {"content-type": "application/json", "cache-control": "no-store"}
    return Response(msgspec.json.encode(said), headers=headers)


def _metrics(parts: Parts) -> HTTPRouteHandler:
    @get("/metrics", guards=[parts.gate.guard])
    async def text(request: AnyRequest) -> Response[bytes]:
        query.read_nothing(request.scope["query_string"])
        headers = {"content-type": metrics.MEDIA_TYPE, "cache-control": "no-store"}
        return Response(await parts.workers.look_up(parts.metrics.text), headers=headers)

    return text


def _public_keys(parts: Parts) -> HTTPRouteHandler:
    signer = parts.signer
    told = Told.of(msgspec.json.encode(signer.public_keys()), "application/jwk-set+json") if signer else None

    @get("/.well-known/jwks.json", sync_to_thread=False, guards=[parts.gate.guard_open])
    def keys(request: AnyRequest) -> Response[bytes]:
        if told is None:
            raise HttpRefusal("not-found", "answers are not signed here")
        return respond.cacheable(request, told)

    return keys


def _root(gate: Gate) -> HTTPRouteHandler:
    told = Told.of(msgspec.json.encode(build.ROOT), "application/json")

    @get("/", sync_to_thread=False, guards=[gate.guard_open])
    def root(request: AnyRequest) -> Response[bytes]:
        accept = ",".join(request.headers.getall("accept", []))
        if negotiation.from_a_browser(accept):
            headers = {"location": build.ROOT["docs"], "cache-control": "no-store", "vary": "Accept"}
            return Response(b"", status_code=302, headers=headers)
        negotiation.chosen(accept, ["application/json"])
        return respond.cacheable(request, told)

    return root


def _documents(gate: Gate) -> list[HTTPRouteHandler]:
    document, pages = _document(), page.names()  # slow to make, so before the first request

    @get("/openapi.json", sync_to_thread=False, guards=[gate.guard_open])
    def openapi(request: AnyRequest) -> Response[bytes]:
        return document.answer(request)

    @get("/docs", sync_to_thread=False, guards=[gate.guard_open])
    def docs(request: AnyRequest) -> Response[bytes]:
        return _page("").answer(request)

    @get("/docs/{name:str}", sync_to_thread=False, guards=[gate.guard_open])
    def static(request: AnyRequest) -> Response[bytes]:
        name = request.path_params["name"]
        if name not in pages:
            raise HttpRefusal("not-found", "no such page")
        return _page(name).answer(request)

    return [openapi, docs, static]


@dataclass(frozen=True, slots=True)
class _Packed:
    """A document that is the same for all: its bytes, and the same packed."""

    told: Told
    packed: bytes

    @classmethod
    def of(cls, body: bytes, media_type: str) -> _Packed:
        return cls(Told.of(body, media_type), gzip.compress(body, 9, mtime=0))

    def answer(self, request: AnyRequest) -> Response[bytes]:
        return respond.cacheable(request, self.told, self.packed)


@cache
def _document() -> _Packed:
    return _Packed.of(build.text(), DOCUMENT_MEDIA_TYPE)


@cache
def _page(name: str) -> _Packed:
    return _Packed.of(page.content(name), page.FILES.get(name, page.HTML))


@cache
def _of_problem(kind: str) -> _Packed:
    return _Packed.of(page.problem(kind), page.HTML)


def _problem(gate: Gate) -> HTTPRouteHandler:
    @get("/problems/{kind:str}", sync_to_thread=False, guards=[gate.guard_open])
    def problem(request: AnyRequest) -> Response[bytes]:
        kind = request.path_params["kind"]
        if kind not in problems.PROBLEMS:
            raise HttpRefusal("not-found", "no such type of problem")
        return _of_problem(kind).answer(request)

    return problem
