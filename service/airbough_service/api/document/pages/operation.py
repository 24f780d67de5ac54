"""The page of one operation: try it, in your code, what it takes, what it answers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from airbough.wire import batch
from airbough_service.api.document.pages import contents, samples, schema_words
from airbough_service.api.document.pages.contents import Operation
from airbough_service.api.document.pages.literals import JSON, written
from airbough_service.api.document.pages.markup import Node, listing, method, pairs, paragraphs, prose, text

_WIDE: Final = 10**6


def main(document: Node, operation: Operation) -> str:
    """Return the page's own words."""
    return "".join(_parts(document, operation))


def _parts(document: Node, operation: Operation) -> Iterator[str]:
    node = operation.node
    yield f"<h1>{text(operation.title)}</h1>"
    yield f'<p class="address">{method(operation.method)} <code>{text(operation.path)}</code></p>'
    yield f'<p class="lead">{prose(node["summary"])}.</p>{paragraphs(node.get("description", ""))}'
    yield _try(document, operation)
    yield f'<section id="samples"><h2>In your code</h2>{_samples(operation)}</section>'
    schemas = document["components"]["schemas"]
    body = node.get("requestBody", {}).get("content", {})
    if body:
        yield '<section id="takes"><h2>What it takes</h2>'
        yield "".join(f"<p>{_media(schemas, media, content)}</p>" for media, content in body.items())
        names = schema_words.reached(schemas, *body.values())
        yield "".join(schema_words.section(schemas, name, shown=name == names[0]) for name in names) + "</section>"
    elif names := schema_words.reached(schemas, *node.get("parameters", ())):
        yield '<section id="takes"><h2>Words it takes</h2>'
        yield "".join(schema_words.section(schemas, name) for name in names) + "</section>"
    yield _answers(document, operation)
    yield _next(document, operation)


def _try(document: Node, operation: Operation) -> str:
    parts = [
        f'<section id="try"><h2>Try it</h2><form class="try" data-method="{operation.method}" '
        f'data-path="{text(operation.path)}">'
    ]
    schemas = document["components"]["schemas"]
    parameters = operation.node.get("parameters", ())
    asked: list[Node] = []
    further: list[Node] = []
    for parameter in parameters:
        (asked if parameter.get("required") or "example" in parameter else further).append(parameter)
    parts += [_parameter(schemas, parameter) for parameter in asked]
    body = operation.node.get("requestBody", {}).get("content", {})
    if body:
        parts.append(_body(*next(iter(body.items()))))
    parts.append(_accept(operation))
    if further:
        names = ", ".join(f"<code>{text(parameter['name'])}</code>" for parameter in further)
        parts.append(f'<details class="further"><summary>Further: {names}</summary>')
        parts += [*(_parameter(schemas, parameter) for parameter in further), "</details>"]
    parts.append('<p class="send" hidden><button>Send</button> <button type="reset">Put the example back</button></p>')
    return "".join([*parts, "</form>", _ANSWER, "</section>"])


_ANSWER: Final = (
    '<div class="answer" hidden><p class="line" role="status"></p><p class="hint" hidden></p>'
    '<div class="faults" hidden><h3>What is wrong</h3><ul></ul></div><div class="pictures"></div>'
    '<details class="told" open><summary>Headers</summary><dl></dl></details>'
    '<details class="told" open><summary>Body</summary>'
    '<pre tabindex="0" role="group" aria-label="Body of the answer"></pre></details></div>'
)


def _parameter(schemas: Node, parameter: Node) -> str:
    name, schema = parameter["name"], parameter["schema"]
    value, field = parameter.get("example", ""), f"of-{parameter['name']}"
    described = schema_words.said(schemas, schema | {"description": parameter.get("description", "")})
    words = schema.get("enum")
    known = words or _words(schemas, schema)
    if words and not parameter.get("required"):
        words = ["", *words]
    common = f'id="{field}" name="{text(name)}" data-in="{parameter["in"]}" aria-describedby="{field}-told"'
    if words:
        chosen = "".join(
            f'<option value="{text(word)}"{" selected" if word == value else ""}>{text(word) or "(left out)"}</option>'
            for word in words
        )
        box = f"<select {common}>{chosen}</select>"
    else:
        listed = f' list="{field}-words"' if known else ""
        box = f'<input {common}{listed} value="{text(value)}" spellcheck="false" autocomplete="off">'
        if known:
            options = "".join(f"<option>{text(word)}</option>" for word in known)
            box += f'<datalist id="{field}-words">{options}</datalist>'
    needed = ' <span class="needed">needed</span>' if parameter.get("required") else ""
    kind = "" if words else f'<span class="type">{schema_words.kind(schemas, schema)}</span> '
    return (
        f'<div class="field"><label for="{field}"><code>{text(name)}</code>{needed}</label>{box}'
        f'<div class="told" id="{field}-told">{kind}{described}</div></div>'
    )


def _words(schemas: Node, schema: Node) -> list[str]:
    """Return the words that a field is known to take, where more may come."""
    shared = schema_words.named(schemas, schema) or schema
    found: list[str] = shared["anyOf"][0].get("enum", []) if "x-extensible" in shared else []
    return found


def _body(media: str, content: Node) -> str:
    example = content["example"]
    shown = written(example, JSON)
    if media == batch.MEDIA_TYPE:
        shown = "\n".join(written(line, JSON, width=_WIDE) for line in example)
    rows = min(24, max(6, shown.count("\n") + 2))
    return (
        f'<div class="field"><label for="body">Body, <code>{media}</code></label>'
        f'<textarea id="body" data-type="{media}" rows="{rows}" spellcheck="false" aria-describedby="body-told">'
        f'{text(shown)}</textarea><div class="told" id="body-told">Shop, fan and prices in it are invented.</div></div>'
    )


def _accept(operation: Operation) -> str:
    """Return a choice of the answer's form, where a POST has several; a GET has `format`."""
    content = operation.node["responses"]["200"].get("content", {})
    if operation.method == "GET" or len(content) < 2:
        return ""
    choices = "".join(f"<option>{media}</option>" for media in content)
    return (
        '<div class="field"><label for="accept"><code>Accept</code></label>'
        f'<select id="accept">{choices}</select><div class="told">The form of the answer.</div></div>'
    )


def _samples(operation: Operation) -> str:
    return "".join(
        f'<details class="sample" name="language" data-language="{language}"{"" if number else " open"}>'
        f"<summary>{language}</summary>{listing(samples.sample(operation, language), language)}"
        '<p class="copy" hidden><button type="button">Copy</button></p></details>'
        for number, language in enumerate(samples.LANGUAGES)
    )


def _media(schemas: Node, media: str, content: Node) -> str:
    schema = content.get("schema", {})
    described = schema_words.said(schemas, schema) if "$ref" not in schema else ""
    return f"<code>{media}</code>: {schema_words.kind(schemas, schema)}. {described}"


def _answers(document: Node, operation: Operation) -> str:
    schemas, responses = document["components"]["schemas"], operation.node["responses"]
    parts = ['<section id="answers"><h2>What it answers</h2>']
    for status, response in sorted(responses.items()):
        told = response
        if "$ref" in response:
            told = document["components"]["responses"][response["$ref"].rpartition("/")[2]]
        media = "".join(f"<p>{_media(schemas, name, content)}</p>" for name, content in told.get("content", {}).items())
        first = _first(told)
        words = "" if prose(told["description"].rstrip(".")) == first else paragraphs(told["description"])
        inner = f"{words}{media}{_headers(document, told)}{_examples(told)}"
        shown = " open" if status == "200" else ""
        summary = f"<summary><b>{status}</b> {first}</summary>"
        parts.append(f'<details class="status"{shown}>{summary}{inner}</details>')
    taken = schema_words.reached(schemas, operation.node.get("requestBody", {}), *operation.node.get("parameters", ()))
    told_of = [responses["200"], {"$ref": "#/components/schemas/Problem"}]
    names = [name for name in schema_words.reached(schemas, *told_of) if name not in taken]
    parts.append("<h3>Their fields</h3>" + "".join(schema_words.section(schemas, name) for name in names))
    return "".join([*parts, "</section>"])


def _next(document: Node, operation: Operation) -> str:
    """Return what may be asked with this answer, from the document's links."""
    found = operation.node["responses"]["200"].get("links", {})
    if not found:
        return ""
    title = {one.name: one.title for one in contents.operations(document)}
    rows = [(_leads_to(title, link), f"{_taken(link)} {prose(link['description'])}") for link in found.values()]
    return f'<section id="next"><h2>What next</h2>{pairs(rows)}</section>'


def _leads_to(title: dict[str, str], link: Node) -> str:
    name = link["operationId"]
    return f'<a href="/docs/{name}">{text(title[name])}</a>'


def _taken(link: Node) -> str:
    """Return what is taken over, as the document writes it."""
    taken = {"body": link["requestBody"]} if "requestBody" in link else link["parameters"]
    return ", ".join(f"{text(name)} <code>{text(place)}</code>" for name, place in taken.items()) + "."


def _first(response: Node) -> str:
    """Return a few words about a status: what its problems are called, or its first sentence."""
    return prose(response["description"].partition(". ")[0].partition("\n")[0].rstrip("."))


def _headers(document: Node, response: Node) -> str:
    known = document["components"]["headers"]
    rows = [(f"<code>{name}</code>", prose(known[name]["description"])) for name in response.get("headers", ())]
    return f"<h3>Headers</h3>{pairs(rows)}" if rows else ""


def _examples(response: Node) -> str:
    return "".join(
        f"<details><summary>Example, <code>{media}</code></summary>"
        f"{listing(written(content['example'], JSON), 'Example of an answer')}</details>"
        for media, content in response.get("content", {}).items()
        if "example" in content
    )
