"""The pages that all operations share: the first one, refusals and findings, units."""

from __future__ import annotations

from collections.abc import Iterator
from http import HTTPStatus
from typing import Final

from airbough_service.api.document.pages import contents, samples, schema_words
from airbough_service.api.document.pages.markup import Node, listing, method, pairs, paragraphs, prose, text

_STEPS: Final = (
    (
        "First",
        'Send <a href="/docs/operating-point">an invented shop</a> as it stands and read what flows. Then change a '
        "diameter and send it again.",
    ),
    (
        "Key",
        "Where this server asks for one, put it into the field at the top. A page of yours needs a publishable key, "
        "your server a secret one.",
    ),
    ("Your shop", 'From a tape measure to a tree of ducts: <a href="/docs/guide-first-shop">a first shop</a>.'),
    ("Your page", 'A visitor\'s machines in, diameters and price out: <a href="/docs/guide-embed">a quoting page</a>.'),
    ("Your sheet", 'Cells that ask, workbooks that are filled: <a href="/docs/guide-sheet">a sheet</a>.'),
    ("Many", 'Thousands of designs at once: <a href="/docs/guide-batch">many designs</a>.'),
)


def start(document: Node) -> str:
    """Return the first page."""
    return "".join(_start(document))


def _start(document: Node) -> Iterator[str]:
    info = document["info"]
    yield f"<h1>{info['title']}</h1>" + paragraphs(info["description"])
    yield '<section id="minutes"><h2>In twenty minutes</h2><ol class="steps">'
    yield "".join(f"<li><b>{name}</b> {words}</li>" for name, words in _STEPS) + "</ol>"
    operation = next(one for one in contents.operations(document) if one.name == "friction-loss")
    for language in samples.LANGUAGES:
        code = listing(samples.sample(operation, language), language)
        shown = "" if language != "curl" else " open"
        yield f'<details class="sample" name="language" data-language="{language}"{shown}>'
        yield f"<summary>{language}</summary>{code}</details>"
    yield "</section>"
    for tag, members in contents.groups(document):
        yield f"<section><h2>{text(tag['name'].capitalize())}</h2><p>{prose(tag['description'])}</p>"
        yield pairs(((_operation(one), prose(one.node["summary"]) + ".") for one in members), "operations")
        yield "</section>"
    yield '<section><h2>The document itself</h2><p><a href="/openapi.json">/openapi.json</a>, OpenAPI 3.1.</p>'
    yield "</section>"


def _operation(one: contents.Operation) -> str:
    address = f"{method(one.method)} <code>{text(one.path)}</code>"
    return f'<a href="/docs/{one.name}">{text(one.title)}</a> {address}'


def codes(document: Node) -> str:
    """Return the page of types of problem, codes of faults and codes of findings."""
    problems = pairs(
        (f'<a href="{kind}"><code>{kind}</code></a> {told["status"]}', prose(told["meaning"]))
        for kind, told in document["x-problems"].items()
    )
    findings = pairs(
        (f'<code>{code}</code> <span class="{told["severity"]}">{told["severity"]}</span>', prose(told["meaning"]))
        for code, told in document["x-findings"].items()
    )
    schemas = document["components"]["schemas"]
    faults = " ".join(f"<code>{code}</code>" for code in schemas["FaultCode"]["anyOf"][0]["enum"])
    return (
        "<h1>Refusals and findings</h1>"
        '<p class="lead">A refusal has no answer: the request is to be changed, or sent later. A finding stands in an '
        "answer and tells what to know of it.</p>"
        f'<section id="problems"><h2>Types of problem</h2>{problems}</section>'
        '<section id="faults"><h2>Codes of faults</h2><p>A problem names every fault of its level with the path of its '
        f"field, such as <code>runs[3].diameter</code>.</p><p>{faults}</p></section>"
        f'<section id="findings"><h2>Findings</h2>{findings}</section>'
    )


def problem(document: Node, kind: str) -> str:
    """Return the page of one type of problem."""
    told = document["x-problems"][f"/problems/{kind}"]
    return (
        f'<h1>{text(told["title"])}</h1><p class="address"><code>/problems/{kind}</code>, status {told["status"]} '
        f"({HTTPStatus(told['status']).phrase})</p>{paragraphs(told['meaning'])}"
        '<p><a href="/docs/codes">All refusals and findings</a></p>'
    )


def units(document: Node) -> str:
    """Return the page of units, and of the quantities that requests take."""
    told = document["x-units"]
    parts = [f'<h1>Units</h1><p class="lead">{prose(told["description"])}</p>']
    for kind, known in told["kinds"].items():
        rows = (
            (f"<code>{text(unit)}</code>", " ".join(f"<code>{text(word)}</code>" for word in one["also"]))
            for unit, one in known.items()
        )
        parts.append(f"<section><h2>{text(kind.replace('_', ' ').capitalize())}</h2>{pairs(rows, 'units')}</section>")
    schemas = document["components"]["schemas"]
    parts.append("<section><h2>Ranges of what requests take</h2>")
    parts.append('<dl class="fields">')
    for name, schema in schemas.items():
        if schema_words.is_quantity(schema):
            kinds = schema_words.kind(schemas, schema)
            parts.append(
                f'<div id="{name}"><dt><b>{name}</b> <span class="type">{kinds}</span></dt>'
                f"<dd>{prose(schema.get('description', ''))}</dd></div>"
            )
    return "".join([*parts, "</dl></section>"])
