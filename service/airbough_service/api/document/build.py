"""The OpenAPI document: paths from the calls, schemas from the wire types, and what both leave unsaid.

`python -m airbough_service.api.document.build` rewrites the checked-in copy.
"""

from __future__ import annotations

import json
import sys
from functools import cache
from pathlib import Path
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
from airbough_service import __version__
from airbough_service.api.document import (
    examples,
    schemas,
    wording,
)
from airbough_service.api.http import body, negotiation
from airbough_service.api.http.respond import AnyCall
from airbough_service.api.problems import (
    MEDIA_TYPE,
    PROBLEMS,
)
from airbough_service.combined import registry
from airbough_service.terms.codes import CODES

Node = dict[str, Any]

_REFERENCE: Final = "#/components/schemas/{name}"
_GET_ERRORS: Final = (400, 401, 405, 406, 422, 429, 500, 503)
_POST_ERRORS: Final = (400, 401, 405, 406, 408, 413, 415, 422, 429, 500, 503)
_PLAIN_ERRORS: Final = (400, 405, 429, 500, 503)
_COUNTERS: Final[Node] = {"text/plain": {"schema": {"type": "string"}}}
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
    types += [Problem, BatchLine, BatchResult, BatchCounts]
    _, components = msgspec.json.schema_components(types, ref_template=_REFERENCE)
    parts = {name: schemas.finished(components[name]) for name in sorted(components)}
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


def _query_only() -> set[str]:
    return {call.request.__name__ for call in CALLS if call.method == "GET"}


def _tags() -> list[Node]:
    return [
        {"name": "air and ducts", "description": "One duct, one fitting, one flow."},
        {"name": "catalogue", "description": "What the service knows, with its sources."},
        {"name": "outlines", "description": "From what a person can measure to a whole system of ducts."},
        {"name": "trees", "description": "A whole system of ducts."},
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
        "headers": wording.HEADERS | wording.RATES | wording.SIGNATURE | wording.ETAG | wording.FINDINGS_HEADER,
        "content": {
            "application/json": {"schema": {"$ref": _REFERENCE.format(name=call.answer.__name__)}},
            "text/csv": text_like,
            "text/plain": text_like,
            "application/xml": {},
        },
    }
    operation["responses"]["304"] = {
        "description": "The answer that the caller has still stands.",
        "headers": wording.HEADERS,
    }
    return operation


def _post(call: AnyCall) -> Node:
    tag = call.path.split("/")[2]
    operation = _operation(call, tag, _POST_ERRORS)
    content: Node = {"schema": {"$ref": _REFERENCE.format(name=call.request.__name__)}}
    example = examples.request(call.name)
    if example is not None:
        content["example"] = example
    taken = {"application/json": content}
    if body.TABLE in body.media_types(call.request):
        taken[body.TABLE] = {"schema": {"type": "string", "minLength": 1, "description": wording.TABLE}}
    operation["requestBody"] = {"required": True, "content": taken}
    told: Node = {"application/json": {"schema": {"$ref": _REFERENCE.format(name=call.answer.__name__)}}}
    for media_type, part in negotiation.PARTS.items():
        if part in call.answer.__struct_fields__:
            told[media_type] = {"schema": {"type": "string", "description": f"`{part}` of the answer alone."}}
    operation["responses"]["200"] = {
        "description": "The answer.",
        "headers": wording.HEADERS | wording.RATES | wording.SIGNATURE,
        "content": told,
    }
    return operation


def _batches() -> Node:
    def lines(description: str, *names: str) -> Node:
        line = {"anyOf": [{"$ref": _REFERENCE.format(name=name)} for name in names]}
        return {batch.MEDIA_TYPE: {"schema": {"type": "string", "description": description, "x-line": line}}}

    asked = lines("One `BatchLine` a line. A line that is none is answered in its place.", "BatchLine")
    asked[batch.MEDIA_TYPE]["example"] = _batch_example()
    told = lines("One `BatchResult` for each line, in order, then `BatchCounts`.", "BatchResult", "BatchCounts")
    operation: Node = {
        "operationId": "batches",
        "tags": ["trees"],
        "summary": "Many questions in one request",
        "description": "The body is read to its end before the first answer comes. A stream without its last line, the "
        "counts, was cut off.",
        "requestBody": {"required": True, "content": asked},
        "responses": {str(status): {"$ref": f"#/components/responses/{status}"} for status in _POST_ERRORS},
    }
    operation["responses"]["200"] = {
        "description": "The answers.",
        "headers": wording.HEADERS | wording.RATES,
        "content": told,
    }
    return operation


def _batch_example() -> str:
    lines = (
        {"id": name, "question": name, "request": examples.request(name)} for name in ("balance", "operating-point")
    )
    return "".join(json.dumps(line, ensure_ascii=False, separators=(",", ":")) + "\n" for line in lines)


def _running() -> Node:
    def told(name: str) -> Node:
        schema = {"type": "object", "properties": {name: {"const": True}}, "required": [name]}
        return {"application/json": {"schema": schema}}

    return {
        "/health/live": {"get": _plain("live", "The process lives", told("alive"))},
        "/health/ready": {"get": _plain("ready", "The solver is warm; questions are answered", told("ready"))},
        "/metrics": {"get": _plain("metrics", "Counters, in the text format of Prometheus", _COUNTERS)},
    }


def _plain(operation_id: str, summary: str, content: Node) -> Node:
    responses: Node = {str(status): {"$ref": f"#/components/responses/{status}"} for status in _PLAIN_ERRORS}
    responses["200"] = {"description": summary + ".", "headers": wording.HEADERS, "content": content}
    return {
        "operationId": operation_id,
        "tags": ["running"],
        "summary": summary,
        "responses": responses,
        "security": [{}],
    }


def _problem_responses() -> Node:
    by_status: dict[int, list[str]] = {}
    for kind, of_type in PROBLEMS.items():
        by_status.setdefault(of_type.status, []).append(f"`/problems/{kind}`: {of_type.meaning}")
    answers: Node = {}
    for status, meanings in sorted(by_status.items()):
        headers = wording.HEADERS | wording.RATES if status == 429 else dict(wording.HEADERS)
        if status in (429, 503):
            headers["Retry-After"] = {"description": "Seconds to wait.", "schema": {"type": "integer"}}
        if status == 405:
            headers["Allow"] = {"description": "Methods of this path.", "schema": {"type": "string"}}
        if status == 401:
            headers["WWW-Authenticate"] = {"description": "How to send a key.", "schema": {"type": "string"}}
        answers[str(status)] = {
            "description": "\n\n".join(meanings),
            "headers": headers,
            "content": {MEDIA_TYPE: {"schema": {"$ref": _REFERENCE.format(name="Problem")}}},
        }
    return answers


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
    """Write each call's example with the answer that this engine gives."""
    for call in CALLS:
        asked = examples.request(call.name)
        words = {name: asked[name] for name in call.path_words}
        question = msgspec.convert({name: item for name, item in asked.items() if name not in words}, call.request)
        answer = registry.answer(call.name, question, **words)
        told = {"request": asked, "answer": msgspec.json.decode(msgspec.json.encode(answer))}
        written = json.dumps(told, indent=1, ensure_ascii=False)
        (folder / f"{call.name}.json").write_text(written + "\n", "utf-8")


def javascript_calls() -> bytes:
    """Return the table of calls as the JavaScript module has it."""
    table = json.dumps({call.name: f"{call.method} {call.path}" for call in CALLS}, indent=1)
    return f"// Made by airbough_service.api.document.build; do not edit.\nexport const CALLS = {table};\n".encode()


def main() -> None:
    """Rewrite the checked-in document, its examples and the JavaScript module's table of calls."""
    _FOLDER.mkdir(exist_ok=True)
    (_FOLDER / "v1.json").write_bytes(text())
    (_FOLDER / "examples").mkdir(exist_ok=True)
    write_examples(_FOLDER / "examples")
    (_FOLDER.parent / "sdk/js/calls.js").write_bytes(javascript_calls())
    sys.stderr.write(f"openapi/v1.json: {len(text())} bytes, {len(CALLS)} examples\n")


if __name__ == "__main__":
    main()
