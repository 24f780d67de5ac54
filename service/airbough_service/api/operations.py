"""The paths beside the questions: health, metrics, the document, its page, types of problem, public keys."""

from __future__ import annotations

from typing import Final

import msgspec
from litestar import Response, get
from litestar.handlers import HTTPRouteHandler

from airbough_service.api import problems
from airbough_service.api.assembly import Parts
from airbough_service.api.document import (
    build,
    page,
)
from airbough_service.api.http import (
    query,
    respond,
)
from airbough_service.api.http.respond import AnyRequest
from airbough_service.api.observe import metrics
from airbough_service.api.problems import HttpRefusal
from airbough_service.api.readiness import Readiness
from airbough_service.api.signing import Signer

DOCUMENT_MEDIA_TYPE: Final = "application/vnd.oai.openapi+json;version=3.1"
_HTML: Final = "text/html; charset=utf-8"


def routes(parts: Parts) -> list[HTTPRouteHandler]:
    """Return the handlers."""
    return [*_health(parts.readiness), _metrics(parts), _public_keys(parts.signer), *_documents(), _problem()]


def _health(readiness: Readiness) -> list[HTTPRouteHandler]:
    # A probe may add what it likes to the query, lest a cache between answer it.
    @get("/health/live", sync_to_thread=False)
    def live() -> Response[bytes]:
        return _fresh({"alive": True})

    @get("/health/ready", sync_to_thread=False)
    def ready() -> Response[bytes]:
        if not readiness.ready:
            raise HttpRefusal("busy", "the solver is still being compiled")
        return _fresh({"ready": True})

    return [live, ready]


def _fresh(said: dict[str, bool]) -> Response[bytes]:
    headers = {"content-type": "application/json", "cache-control": "no-store"}
    return Response(msgspec.json.encode(said), headers=headers)


def _metrics(parts: Parts) -> HTTPRouteHandler:
    @get("/metrics", sync_to_thread=False, guards=[parts.gate.guard])
    def text(request: AnyRequest) -> Response[bytes]:
        query.read_nothing(request.scope["query_string"])
        headers = {"content-type": metrics.MEDIA_TYPE, "cache-control": "no-store"}
        return Response(parts.metrics.text(), headers=headers)

    return text


def _public_keys(signer: Signer | None) -> HTTPRouteHandler:
    @get("/.well-known/jwks.json", sync_to_thread=False)
    def keys(request: AnyRequest) -> Response[bytes]:
        if signer is None:
            raise HttpRefusal("not-found", "answers are not signed here")
        return respond.cacheable(request, msgspec.json.encode(signer.public_keys()), "application/jwk-set+json")

    return keys


def _documents() -> list[HTTPRouteHandler]:
    html = page.html(build.build()).encode()

    @get("/openapi.json", sync_to_thread=False)
    def openapi(request: AnyRequest) -> Response[bytes]:
        return respond.cacheable(request, build.text(), DOCUMENT_MEDIA_TYPE)

    @get("/docs", sync_to_thread=False)
    def docs(request: AnyRequest) -> Response[bytes]:
        return respond.cacheable(request, html, _HTML)

    @get("/docs/{name:str}", sync_to_thread=False)
    def static(request: AnyRequest) -> Response[bytes]:
        name = request.path_params["name"]
        if name not in page.STATIC:
            raise HttpRefusal("not-found", "no such file")
        return respond.cacheable(request, page.static(name), page.STATIC[name])

    return [openapi, docs, static]


def _problem() -> HTTPRouteHandler:
    @get("/problems/{kind:str}", sync_to_thread=False)
    def problem(request: AnyRequest) -> Response[bytes]:
        explained = problems.page(request.path_params["kind"])
        if explained is None:
            raise HttpRefusal("not-found", "no such type of problem")
        return respond.cacheable(request, explained.encode(), _HTML)

    return problem
