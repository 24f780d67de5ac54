"""The page at `/docs`: the whole document as plain HTML, readable without scripts and without a network."""

from __future__ import annotations

import html as escaping
import json
from collections.abc import Iterator
from importlib import resources
from typing import Any, Final

from airbough.wire.batch import MEDIA_TYPE as NDJSON
from airbough_service.api.document import measuring_sheet

Node = dict[str, Any]

STATIC: Final = {
    "docs.css": "text/css; charset=utf-8",
    "docs.js": "text/javascript; charset=utf-8",
    "validation": "text/html; charset=utf-8",
    **dict.fromkeys(measuring_sheet.NAMES, "text/html; charset=utf-8"),
}
"""What `/docs/` serves by name."""

_FILES: Final = {"validation": "validation.html"}


def static(name: str) -> bytes:
    """Return a file that the page needs or names."""
    if name in measuring_sheet.NAMES:
        return measuring_sheet.html(measuring_sheet.NAMES[name]).encode()
    return (resources.files("airbough_service.api.document") / "static" / _FILES.get(name, name)).read_bytes()


def html(document: Node) -> str:
    """Return the page for a document."""
    return "".join(_parts(document))


def _parts(document: Node) -> Iterator[str]:
    info = document["info"]
    yield '<!doctype html><html lang="en"><head><meta charset="utf-8">'
    yield '<meta name="viewport" content="width=device-width, initial-scale=1">'
    yield f'<title>{info["title"]} {info["version"]}</title><link rel="icon" href="data:,">'
    yield '<link rel="stylesheet" href="/docs/docs.css"><script src="/docs/docs.js" defer></script></head><body>'
    yield f"<header><h1>{info['title']} <small>{info['version']}</small></h1>"
    yield "".join(f"<p>{_prose(part)}</p>" for part in info["description"].split("\n\n"))
    yield '<p>The document itself: <a href="/openapi.json">/openapi.json</a></p>'
    yield '<p><a href="/docs/validation">What the numbers were checked against</a></p>'
    yield '<p>A measuring sheet to print: <a href="/docs/measuring-sheet-us">in feet and inches</a>, '
    yield '<a href="/docs/measuring-sheet-metric">in metres and millimetres</a></p></header>'
    yield _contents(document)
    yield "<main>"
    for tag in document["tags"]:
        yield f"<h2>{_text(tag['name'])}</h2><p>{_prose(tag['description'])}</p>"
        for path, method, operation in _operations(document):
            if tag["name"] in operation["tags"]:
                yield _operation(path, method, operation)
    yield _problems(document) + _findings(document)
    yield "<h2>Schemas</h2>"
    for name, schema in document["components"]["schemas"].items():
        yield _schema(name, schema)
    yield "</main></body></html>"


def _operations(document: Node) -> Iterator[tuple[str, str, Node]]:
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            yield path, method.upper(), operation


def _contents(document: Node) -> str:
    items = "".join(
        f'<li><a href="#{operation["operationId"]}"><b class="{method.lower()}">{method}</b> {_text(path)}</a></li>'
        for path, method, operation in _operations(document)
    )
    return f"<nav><ul>{items}</ul></nav>"


def _operation(path: str, method: str, operation: Node) -> str:
    name = operation["operationId"]
    parts = [
        f'<section id="{name}"><h3><b class="{method.lower()}">{method}</b> <code>{_text(path)}</code></h3>',
        f"<p>{_prose(operation['summary'])}.</p>",
        f'<form class="try" data-method="{method}" data-path="{_text(path)}">',
    ]
    if operation.get("parameters"):
        parts.append(_parameters(name, operation["parameters"]))
    if "requestBody" in operation:
        parts.append(_body(name, operation["requestBody"]))
    parts.append('<p class="send" hidden><button>Try it</button></p><pre class="answer" hidden></pre></form>')
    answers = "".join(
        f"<tr><td>{status}</td><td>{_answer(answer)}</td></tr>"
        for status, answer in sorted(operation["responses"].items())
    )
    parts.append(f"<details><summary>Answers</summary><table>{answers}</table></details></section>")
    return "".join(parts)


def _parameters(operation: str, parameters: list[Node]) -> str:
    rows = []
    for parameter in parameters:
        name, example = parameter["name"], parameter.get("example", "")
        field = f"{operation}.{name}"
        needed = "needed" if parameter.get("required") else ""
        rows.append(
            f'<tr><td><label for="{field}"><code>{name}</code></label></td><td>{_type(parameter["schema"])}</td>'
            f"<td>{needed}</td><td>{_prose(_said(parameter['schema'] | parameter))}</td>"
            f'<td><input id="{field}" name="{name}" data-in="{parameter["in"]}" value="{_text(str(example))}">'
            "</td></tr>"
        )
    head = "<tr><th>parameter</th><th>type</th><th></th><th></th><th>value</th></tr>"
    return f"<table>{head}{''.join(rows)}</table>"


def _body(operation: str, body: Node) -> str:
    media_type, content = next(iter(body["content"].items()))
    example = content.get("example")
    shown = json.dumps(example, indent=1, ensure_ascii=False)
    if media_type == NDJSON:
        shown = "".join(json.dumps(line, ensure_ascii=False) + "\n" for line in example)
    field = f"{operation}.body"
    return (
        f'<p><label for="{field}">Body</label>, <code>{media_type}</code>: {_type(content["schema"])}. '
        "Shop, fan and prices in it are invented.</p>"
        f'<textarea id="{field}" data-type="{media_type}" rows="16" spellcheck="false">'
        f"{_text(shown if example is not None else '')}</textarea>"
    )


def _answer(answer: Node) -> str:
    if "$ref" in answer:
        return '<a href="#Problem">Problem</a>'
    types = ", ".join(
        f"<code>{media_type}</code> {_type(content.get('schema', {}))}"
        for media_type, content in answer.get("content", {}).items()
    )
    return f"{_prose(answer['description'])} {types}"


def _problems(document: Node) -> str:
    rows = "".join(
        f'<tr><td><a href="{kind}">{kind}</a></td><td>{told["status"]}</td><td>{_prose(told["meaning"])}</td></tr>'
        for kind, told in document["x-problems"].items()
    )
    return f"<h2>Types of problem</h2><table><tr><th>type</th><th>status</th><th></th></tr>{rows}</table>"


def _findings(document: Node) -> str:
    rows = "".join(
        f"<tr><td><code>{code}</code></td><td>{told['severity']}</td><td>{_prose(told['meaning'])}</td></tr>"
        for code, told in document["x-findings"].items()
    )
    return f"<h2>Findings</h2><table><tr><th>code</th><th>severity</th><th></th></tr>{rows}</table>" if rows else ""


def _schema(name: str, schema: Node) -> str:
    required = schema.get("required", ())
    rows = (
        "".join(
            f"<tr><td><code>{field}</code></td><td>{_type(part)}</td><td>{'needed' if field in required else ''}</td>"
            f"<td>{_prose(_said(part))}</td></tr>"
            for field, part in schema.get("properties", {}).items()
        )
        or f"<tr><td>{_type(schema)}</td></tr>"
    )
    return (
        f'<details id="{name}" open><summary><b>{name}</b> {_prose(schema.get("description", ""))}</summary>'
        f"<table>{rows}</table></details>"
    )


def _said(schema: Node) -> str:
    """Return a field's description, with what holds where it is left out."""
    left_out = f"Left out: `{json.dumps(schema['x-default'])}`." if schema.get("x-default") not in (None, []) else ""
    return " ".join(filter(None, (schema.get("description", ""), left_out)))


def _type(schema: Node) -> str:
    if "$ref" in schema:
        name = schema["$ref"].rpartition("/")[2]
        return f'<a href="#{name}">{name}</a>'
    if "x-extensible" in schema:
        return " or ".join([_type(schema["anyOf"][0]), "another word"])
    for key in ("anyOf", "oneOf"):
        if key in schema:
            return " or ".join(dict.fromkeys(_type(part) for part in schema[key]))
    if "enum" in schema or "const" in schema:
        words = schema.get("enum", [schema.get("const")])
        return " or ".join(f"<code>{_text(json.dumps(word))}</code>" for word in words)
    if schema.get("type") == "array":
        return f"list of {_type(schema.get('items', {}))}"
    bounds = [f"{sign} {schema[key]:g}" for key, sign in (("minimum", "≥"), ("maximum", "≤")) if key in schema]
    kind = "text with a unit" if "pattern" in schema else schema.get("type", "anything")
    return " ".join([kind, *bounds])


def _text(text: str) -> str:
    return escaping.escape(text)


def _prose(text: str) -> str:
    """Return text with what stands between backticks as code."""
    pieces = _text(text).split("`")
    return "".join(f"<code>{piece}</code>" if index % 2 else piece for index, piece in enumerate(pieces))
