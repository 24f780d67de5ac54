"""A schema in words: kind of value, bounds, what each alternative means, what leaving it out means."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Final

from airbough_service.api.document.pages.markup import Node, prose, text

_COUNTED: Final = (
    ("minimum", "maximum", ""),
    ("minLength", "maxLength", " characters"),
    ("minItems", "maxItems", " entries"),
    ("minProperties", "maxProperties", " entries"),
)
_PLAIN: Final = {"string": "text", "number": "number", "integer": "whole number", "boolean": "true or false"}


def named(schemas: Node, node: Node) -> Node | None:
    """Return the shared schema that a schema names."""
    return schemas.get(node["$ref"].rpartition("/")[2]) if "$ref" in node else None


def is_quantity(node: Node | None) -> bool:
    """Return whether a shared schema is that of a quantity, which the page of units tells."""
    return node is not None and "x-range-si" in node


def alternatives(node: Node) -> list[Node]:
    """Return what a value may be; null, which comes to the same as leaving it out, stands last."""
    for key in ("anyOf", "oneOf"):
        if key in node:
            return sorted(node[key], key=lambda part: part.get("type") == "null")
    return [node]


def kind(schemas: Node, node: Node, *, needed: bool = True) -> str:
    """Return the kind of a value as HTML, with links to the schemas it names."""
    if "$ref" in node:
        name = node["$ref"].rpartition("/")[2]
        shared = schemas[name]
        if is_quantity(shared):
            return f'<a href="/docs/units#{name}">{text(shared["x-kind"].replace("_", " "))}</a>'
        return f'<a href="#{name}">{name}</a>'
    if "x-extensible" in node:
        return kind(schemas, node["anyOf"][0]) + " or another word"
    parts = alternatives(node)
    if parts != [node]:
        kept = [part for part in parts if needed or part.get("type") != "null"]
        return " or ".join(dict.fromkeys(kind(schemas, part) for part in kept))
    if "enum" in node or "const" in node:
        words = node.get("enum", [node.get("const")])
        return " or ".join(f"<code>{text(json.dumps(word))}</code>" for word in words)
    return _plain(schemas, node)


def _plain(schemas: Node, node: Node) -> str:
    told = node.get("type", "anything")
    if told == "array":
        told = f"list of {kind(schemas, node.get('items', {}))}"
    elif told == "object":
        values = node.get("additionalProperties")
        told = "names, each with " + kind(schemas, values) if isinstance(values, dict) and values else "object"
    elif "pattern" in node and "x-kind" in node:
        told = "text with a unit"
    else:
        told = _PLAIN.get(told, told)
    return ", ".join([told, *_bounds(node)])


def _bounds(node: Node) -> Iterator[str]:
    if "exclusiveMinimum" in node:
        yield f"above {node['exclusiveMinimum']:g}"
    for low, high, of in _COUNTED:
        if low in node and high in node:
            both = f"{node[low]:,g} to {node[high]:,g}" if node[low] != node[high] else f"{node[low]:,g}"
            yield both + of
        elif low in node and not (of and node[low] == 1):  # a text of at least one character goes without saying
            yield f"at least {node[low]:,g}{of}"
        elif high in node:
            yield f"at most {node[high]:,g}{of}"


def said(schemas: Node, node: Node) -> str:
    """Return what is said of a value as HTML: itself, each of its alternatives, and what leaving it out means."""
    own = [prose(part) for part in dict.fromkeys(_sentences(schemas, node))]
    parts = [part for part in alternatives(node) if part is not node and part.get("type") != "null"]
    told = [(part, list(dict.fromkeys(_sentences(schemas, part)))) for part in parts]
    if len(parts) > 1:
        own += [f"As {kind(schemas, part)}: {prose(' '.join(words))}" for part, words in told if words]
    else:
        own += [prose(word) for _, words in told for word in words if prose(word) not in own]
    return " ".join([*own, *_left_out(node), *(word for part in parts for word in _left_out(part))])


def _sentences(schemas: Node, node: Node) -> Iterator[str]:
    """Yield what a schema says of itself, without its alternatives."""
    if node.get("description"):
        yield node["description"]
    shared = named(schemas, node)
    if shared is not None and is_quantity(shared):
        yield shared["description"]
    if node.get("type") == "array":
        yield from _sentences(schemas, node.get("items", {}))


def _left_out(node: Node) -> Iterator[str]:
    if "x-default" in node:
        default = node["x-default"]
        yield "Left out: none." if default in ([], {}) else f"Left out: <code>{text(json.dumps(default))}</code>."


def reached(schemas: Node, *roots: Node) -> list[str]:
    """Return the names of the schemas that lie below some, nearest first; quantities left out."""
    found: dict[str, None] = {}
    waiting = list(roots)
    while waiting:
        node = waiting.pop(0)
        for name in _names(node):
            if name not in found and not is_quantity(schemas[name]):
                found[name] = None
                waiting.append(schemas[name])
    return list(found)


def _names(node: object) -> Iterator[str]:
    if isinstance(node, list):
        for item in node:
            yield from _names(item)
    if isinstance(node, dict):
        for key, item in node.items():
            if key == "$ref" and item.startswith("#/components/schemas/"):
                yield item.rpartition("/")[2]
            elif key not in ("discriminator", "example"):
                yield from _names(item)


def _typed(schemas: Node, node: Node, *, needed: bool) -> str:
    told = f'<span class="type">{kind(schemas, node, needed=needed)}</span>'
    return told + (' <span class="needed">needed</span>' if needed else "")


def section(schemas: Node, name: str, *, shown: bool = False) -> str:
    """Return a shared schema with its fields."""
    node = schemas[name]
    required = node.get("required", ())
    about = " ".join(node.get("description", "").split())
    first, _, rest = about.partition(". ")
    rows = "".join(
        f"<div><dt><code>{text(field)}</code> {_typed(schemas, part, needed=field in required)}</dt>"
        f"<dd>{said(schemas, part)}</dd></div>"
        for field, part in node.get("properties", {}).items()
    )
    whole = f'<dl class="fields">{rows}</dl>' if rows else f"<p>{kind(schemas, node)}</p>"
    more = f"<p>{prose(rest)}</p>" if rest else ""
    return (
        f'<details class="schema"{" open" if shown else ""}><summary><b>{name}</b> '
        f'<span class="about">{prose(first + "." if rest else first)}</span></summary>'
        f'<div id="{name}">{more}{whole}</div></details>'
    )
