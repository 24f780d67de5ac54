"""The OpenAPI document: paths from the calls, schemas from the wire types, and what both leave unsaid.

`python -m airbough_service.api.document.build` rewrites the checked-in copy.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

import msgspec

from airbough.calls import CALLS
from airbough.reading.units import TABLE
from airbough.wire import batch
from airbough.wire.batch import (
    BatchCounts,
    BatchLine,
    BatchResult,
)
from airbough.wire.problem import Problem
from airbough.wire.quantity import ALSO_READ
from airbough.wire.trimmed import TrimmedAnswer
from airbough_service import __version__
from airbough_service.api.document import (
    examples,
    links,
    schemas,
    shared,
    wording,
)
from airbough_service.api.http import body, negotiation, sheet
from airbough_service.api.http.respond import AnyCall
from airbough_service.api.problems import (
    MEDIA_TYPE,
    PROBLEMS,
    HttpRefusal,
    from_exception,
)
from airbough_service.combined import registry
from airbough_service.terms.codes import CODES

Node = dict[str, Any]

_GET_ERRORS: Final = (400, 401, 403, 405, 406, 422, 429, 500, 503)
_POST_ERRORS: Final = (400, 401, 403, 405, 406, 408, 413, 415, 422, 429, 500, 503)
_PLAIN_ERRORS: Final = (400, 405, 429, 500, 503)
_COUNTERS: Final[Node] = {"text/plain": {"schema": {"type": "string"}}}
_KEY_SET: Final[Node] = {
    "type": "object",
    "description": "A set of keys (RFC 7517).",
    "properties": {"keys": {"type": "array", "items": {"type": "object"}}},
    "required": ["keys"],
}
ROOT: Final = {"docs": "/docs", "openapi": "/openapi.json", "ready": "/health/ready", "version": __version__}
"""What `/` tells a program."""

_FOLDER: Final = Path(__file__).parents[4] / "openapi"


@cache
def text() -> bytes:
    """Return the document's text, always the same for the same code."""
    return (json.dumps(_built(), indent=1, ensure_ascii=False) + "\n").encode()


def build() -> Node:
    """Return the document as a reader of its text has it."""
    document: Node = json.loads(text())
    return document


def _built() -> Node:
    types = [call.request for call in CALLS] + [call.answer for call in CALLS]
    types += [Problem, BatchLine, BatchResult, BatchCounts, TrimmedAnswer]
    _, components = msgspec.json.schema_components(types, ref_template=shared.SCHEMA)
    parts = _parts(components)
    paths: Node = {}
    for call in CALLS:
        operation = _get(call, parts) if call.method == "GET" else _post(call)
        paths.setdefault(call.path, {})[call.method.lower()] = operation
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Airbough",
            "version": __version__,
            "description": wording.DESCRIPTION,
            "license": {"name": "MIT", "identifier": "MIT"},
        },
        "servers": [{"url": "/"}],
        "security": [{}, {"key": []}],
        "tags": _tags(),
        "paths": paths | {batch.PATH: {"post": _batches()}} | _running(),
        "components": {
            "schemas": {name: part for name, part in parts.items() if name not in _query_only()},
            "headers": shared.all_headers(),
            "responses": _problem_responses(),
            "securitySchemes": {
                "key": {"type": "http", "scheme": "bearer", "description": "Only where the server asks for keys."}
            },
        },
        "x-problems": {
            f"/problems/{kind}": {"status": of_type.status, "title": of_type.title, "meaning": of_type.meaning}
            for kind, of_type in PROBLEMS.items()
        },
        "x-findings": _finding_codes(),
        "x-units": _units(),
    }


def _parts(components: dict[str, Node]) -> Node:
    """Return the schemas of all structs, and of what they share."""
    common = shared.schemas()
    parts = {name: shared.named(schemas.finished(part), common) for name, part in components.items()}
    for name, always in shared.promised().items():
        if name in parts and always:
            parts[name]["required"] = [*parts[name]["required"], *always]
    parts["Finding"]["properties"]["code"] = _ref("FindingCode")
    parts["StateResult"]["properties"]["findings"]["items"] = _ref("FindingCode")
    parts["Fault"]["properties"]["code"] = _ref("FaultCode")
    parts["Problem"]["properties"]["type"] = _ref("ProblemType")
    posts = [call for call in CALLS if call.method == "POST"]
    line = parts["BatchLine"]["properties"]
    line["question"] |= {"type": "string", "enum": [call.name for call in posts]}
    line["request"]["anyOf"] = [_ref(call.request.__name__) for call in posts]
    answers: list[type[msgspec.Struct]] = [*(call.answer for call in posts), TrimmedAnswer]
    parts["BatchResult"]["properties"]["answer"] = {"anyOf": [_ref(answer.__name__) for answer in answers]}
    return dict(sorted((parts | common).items()))


def _ref(name: str) -> Node:
    return {"$ref": shared.SCHEMA.format(name=name)}


def _query_only() -> set[str]:
    return {call.request.__name__ for call in CALLS if call.method == "GET"}


def _tags() -> list[Node]:
    return [
        {"name": "air and ducts", "description": "One duct, one fitting, one flow."},
        {"name": "catalogue", "description": "What the service knows, with its sources."},
        {"name": "outlines", "description": "From what a person can measure to a whole system of ducts."},
        {"name": "trees", "description": "A whole system of ducts."},
        {"name": "quotes", "description": "A whole shop from machines and a stock to its price."},
        {"name": "measurements", "description": "From readings on site to flow."},
        {"name": "running", "description": "Whether the service is well."},
    ]


def _operation(call: AnyCall, tag: str, errors: tuple[int, ...]) -> Node:
    return {
        "operationId": call.name,
        "tags": [tag],
        "summary": _summary(call),
        "responses": {str(status): {"$ref": f"#/components/responses/{status}"} for status in errors},
    }


def _summary(call: AnyCall) -> str:
    return (call.answer.__doc__ or call.name).strip().partition("\n")[0].rstrip(".")


def _get(call: AnyCall, parts: Node) -> Node:
    tag = "catalogue" if call.request.__name__ == "CatalogueRequest" else "air and ducts"
    tag = "outlines" if call.path.startswith("/v1/outlines/") else tag
    operation = _operation(call, tag, _GET_ERRORS)
    example = examples.request(call.name) or {}
    request = parts[call.request.__name__]
    named = [
        {"name": name, "in": "path", "required": True, "schema": {"type": "string", "minLength": 1, "maxLength": 64}}
        for name in call.path_words
    ]
    named += [schemas.parameter(name, schema, name in request["required"]) for name, schema in
              request["properties"].items()]  # fmt: skip
    for parameter in named:
        if parameter["name"] in example:
            parameter["example"] = example[parameter["name"]]
    operation["parameters"] = named + wording.HOW
    text_like = {"schema": {"type": "string"}}
    operation["responses"]["200"] = {
        "description": "The answer.",
        "headers": shared.headers(
            wording.HEADERS, wording.RATES, wording.SIGNATURE, wording.ETAG, wording.FINDINGS_HEADER
        ),
        "content": {
            "application/json": {"schema": _ref(call.answer.__name__), "example": examples.answer(call.name)},
            "text/csv": text_like,
            "text/plain": text_like,
            "application/xml": {},
        },
        **_links(call),
    }
    operation["responses"]["304"] = {
        "description": "The answer that the caller has still stands.",
        "headers": shared.headers(wording.HEADERS, wording.ETAG),
    }
    return operation


def _post(call: AnyCall) -> Node:
    tag = call.path.split("/")[2]
    operation = _operation(call, tag, _POST_ERRORS)
    content: Node = {"schema": _ref(call.request.__name__)}
    example = examples.request(call.name)
    if example is not None:
        content["example"] = example
    taken = {"application/json": content}
    if body.TABLE in body.media_types(call.request):
        of_runs = call.request in sheet.TREES
        said = wording.TREE_TABLE if of_runs else wording.TABLE
        taken[body.TABLE] = {"schema": {"type": "string", "minLength": 1, "description": said}}
        if of_runs:
            operation["parameters"] = wording.SHEET
    operation["requestBody"] = {"required": True, "content": taken}
    told: Node = {"application/json": {"schema": _ref(call.answer.__name__), "example": examples.answer(call.name)}}
    if call.request in sheet.TREES:
        told[body.TABLE] = {
            "schema": {
                "type": "string",
                "description": "A list of the answer as a table; the usual answer to a table of runs.",
            }
        }
    for media_type, part in negotiation.PARTS.items():
        if part in call.answer.__struct_fields__:
            told[media_type] = {"schema": {"type": "string", "description": f"`{part}` of the answer alone."}}
    operation["responses"]["200"] = {
        "description": "The answer.",
        "headers": shared.headers(wording.HEADERS, wording.RATES, wording.SIGNATURE),
        "content": told,
        **_links(call),
    }
    return operation


def _links(call: AnyCall) -> Node:
    found = links.of(call.name)
    return {"links": found} if found else {}


def _batches() -> Node:
    def lines(description: str, example: list[Node], *names: str) -> Node:
        # As OpenAPI 3.2 has it (4.14.4): the schema of a text of lines is that of the list of its lines.
        line = _ref(names[0]) if len(names) == 1 else {"anyOf": [_ref(name) for name in names]}
        return {
            batch.MEDIA_TYPE: {
                "schema": {"type": "array", "description": description, "items": line},
                "example": example,
            }
        }

    asked = lines("One `BatchLine` a line. A line that is none is answered in its place.", _lines(), "BatchLine")
    told = lines(
        "One `BatchResult` for each line, in order, then `BatchCounts`.", _results(), "BatchResult", "BatchCounts"
    )
    operation: Node = {
        "operationId": "batches",
        "tags": ["trees"],
        "summary": "Many questions in one request",
        "description": "Lines of JSON (NDJSON), each a question. The body is read to its end before the first answer "
        "comes. A stream without its last line, the counts, was cut off. Each line spends one request of the rate.",
        "requestBody": {"required": True, "content": asked},
        "responses": {str(status): {"$ref": f"#/components/responses/{status}"} for status in _POST_ERRORS},
    }
    operation["responses"]["200"] = {
        "description": "The answers.",
        "headers": shared.headers(wording.HEADERS, wording.RATES),
        "content": told,
    }
    return operation


_IN_BATCH: Final = ("traverse", "hood-static-pressure")


def _lines() -> list[Node]:
    return [{"id": name, "question": name, "request": examples.request(name)} for name in _IN_BATCH]


def _results() -> list[Node]:
    results = [{"id": name, "status": 200, "answer": examples.answer(name)} for name in _IN_BATCH]
    return [*results, {"lines": len(results), "answered": len(results), "refused": 0}]


_COMPLETE: Final[Node] = {
    "type": "boolean",
    "description": "Whether all questions are answered. After a first start without compiled code sizing, quotes, "
    "layouts, diagnoses, `uncertainty` and batches are told 503 with `Retry-After` until all is compiled.",
}


def _running() -> Node:
    def told(name: str, **beside: Node) -> Node:
        properties = {name: {"type": "boolean", "const": True}, **beside}
        schema = {"type": "object", "properties": properties, "required": list(properties)}
        return {"application/json": {"schema": schema, "example": dict.fromkeys(properties, True)}}

    page: Node = {"text/html": {"schema": {"type": "string"}}}
    document: Node = {"application/vnd.oai.openapi+json": {"schema": {"type": "object"}}}
    keys: Node = {"application/jwk-set+json": {"schema": _KEY_SET}}
    kept = (304, 400, 405, 429, 500)
    return {
        "/": {"get": _root()},
        "/health/live": {"get": _plain("live", "The process lives", told("alive"))},
        "/health/ready": {
            "get": _plain("ready", "Questions are answered, or the light ones are", told("ready", complete=_COMPLETE))
        },
        "/metrics": {
            "get": _plain("metrics", "Counters, in the text format of Prometheus", _COUNTERS, (*_PLAIN_ERRORS, 401))
            | {"security": [{}, {"key": []}]}
        },
        "/openapi.json": {"get": _plain("openapi", "This document", document, kept)},
        "/docs": {"get": _plain("docs", "This document as pages, the first of them", page, kept)},
        "/docs/{name}": {"get": _plain("docs-file", "One of its pages", page, (*kept, 404), {"name": "units"})},
        "/problems/{kind}": {
            "get": _plain("problem", "What a type of problem means", page, (*kept, 404), {"kind": "too-large"})
        },
        "/.well-known/jwks.json": {
            "get": _plain("public-keys", "The keys that check signatures, where answers are signed", keys, (*kept, 404))
        },
    }


def _root() -> Node:
    schema = {"type": "object", "additionalProperties": {"type": "string"}}
    told: Node = {"application/json": {"schema": schema, "example": ROOT}}
    operation = _plain("root", "Where everything is", told, (304, *_PLAIN_ERRORS, 406))
    operation["responses"]["302"] = {
        "description": "To a browser: the address of the pages.",
        "headers": shared.headers(wording.HEADERS, wording.MOVED),
    }
    return operation


def _plain(
    operation_id: str,
    summary: str,
    content: Node,
    errors: tuple[int, ...] = _PLAIN_ERRORS,
    words: Mapping[str, str] = MappingProxyType({}),
) -> Node:
    responses: Node = {
        str(status): {"$ref": f"#/components/responses/{status}"} for status in sorted(errors) if status != 304
    }
    responses["200"] = {"description": summary + ".", "headers": shared.headers(wording.HEADERS), "content": content}
    if 304 in errors:
        cached = shared.headers(wording.HEADERS, wording.ETAG)
        responses["200"]["headers"] = cached
        responses["304"] = {"description": "What the caller has still stands.", "headers": cached}
    operation: Node = {
        "operationId": operation_id,
        "tags": ["running"],
        "summary": summary,
        "responses": dict(sorted(responses.items())),
        "security": [{}],
    }
    if words:
        operation["parameters"] = [
            {
                "name": word,
                "in": "path",
                "required": True,
                "schema": {"type": "string", "minLength": 1},
                "example": example,
            }
            for word, example in words.items()
        ]
    return operation


def _problem_responses() -> Node:
    by_status: dict[int, list[str]] = {}
    for kind, of_type in PROBLEMS.items():
        by_status.setdefault(of_type.status, []).append(kind)
    beside = {429: ("Retry-After",), 503: ("Retry-After",), 405: ("Allow",), 401: ("WWW-Authenticate",)}
    answers: Node = {}
    for status, kinds in sorted(by_status.items()):
        told = [wording.HEADERS, *([wording.RATES] if status == 429 else [])]
        also = {name: wording.REFUSAL[name] for name in beside.get(status, ())}
        answers[str(status)] = {
            "description": "\n\n".join(f"`/problems/{kind}`: {PROBLEMS[kind].meaning}" for kind in kinds),
            "headers": shared.headers(*told, also),
            "content": {MEDIA_TYPE: {"schema": _ref("Problem"), "example": _problem(kinds[0])}},
        }
    return answers


def _problem(kind: str) -> Node:
    refused = from_exception(HttpRefusal(kind, PROBLEMS[kind].meaning), "4f0c6a2d")
    told: Node = json.loads(refused.body())
    return told


def _units() -> Node:
    """Return every unit of each kind, its other spellings, and its factor and offset into SI."""
    kinds = {
        kind: {
            unit: {"also": list(ALSO_READ.get(unit, ())), "factor": factor, "offset": offset}
            for unit, (factor, offset) in units.items()
        }
        for kind, units in TABLE.items()
    }
    return {"description": wording.UNITS, "kinds": kinds}


def _finding_codes() -> Node:
    return {code: {"severity": told.severity, "meaning": told.meaning} for code, told in sorted(CODES.items())}


def write_examples(folder: Path) -> None:
    """Write each call's example with the answer that this engine gives, and all answers for the document."""
    answers = {}
    for call in CALLS:
        asked = examples.request(call.name)
        words = {name: asked[name] for name in call.path_words}
        question = msgspec.convert({name: item for name, item in asked.items() if name not in words}, call.request)
        answer = registry.answer(call.name, question, **words)
        answers[call.name] = msgspec.json.decode(msgspec.json.encode(answer))
        written = json.dumps({"request": asked, "answer": answers[call.name]}, indent=1, ensure_ascii=False)
        (folder / f"{call.name}.json").write_text(written + "\n", "utf-8")
    # One call a line.
    lines = ",\n".join(f"{json.dumps(name)}: {json.dumps(item, ensure_ascii=False)}" for name, item in answers.items())
    (Path(examples.__file__).parent / examples.ANSWERS).write_text(f"{{\n{lines}\n}}\n", "utf-8")


def javascript_calls() -> bytes:
    """Return the table of calls as the JavaScript module has it."""
    table = json.dumps({call.name: f"{call.method} {call.path}" for call in CALLS}, separators=(",", ":"))
    return f"// Made by airbough_service.api.document.build.\nexport const CALLS = {table};\n".encode()


def main() -> None:
    """Rewrite the checked-in document, its examples and the JavaScript module's table of calls."""
    (_FOLDER / "examples").mkdir(exist_ok=True, parents=True)
    write_examples(_FOLDER / "examples")
    (_FOLDER / "v1.json").write_bytes(text())
    (_FOLDER.parent / "sdk/js/calls.js").write_bytes(javascript_calls())
    sys.stderr.write(f"openapi/v1.json: {len(text())} bytes, {len(CALLS)} examples\n")


if __name__ == "__main__":
    main()
