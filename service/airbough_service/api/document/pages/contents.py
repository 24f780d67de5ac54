"""What pages there are, and the way from each to all others."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from airbough_service.api.document.pages.markup import Node, method, text

GUIDES: Final = {
    "guide-first-shop": "A first shop",
    "guide-layout": "Which way the duct runs",
    "guide-embed": "A quoting page",
    "guide-sheet": "A sheet",
    "guide-batch": "Many designs",
}
"""Name under `/docs/` -> title."""

REFERENCE: Final = {
    "codes": "Refusals and findings",
    "units": "Units",
    "validation": "What numbers were checked against",
    "measuring-sheet-us": "Measuring sheet, feet",
    "measuring-sheet-metric": "Measuring sheet, metres",
}


@dataclass(frozen=True, slots=True)
class Operation:
    """One operation of the document."""

    name: str
    method: str
    path: str
    node: Node

    @property
    def title(self) -> str:
        """Its name as words."""
        words = self.name.replace("-", " ")
        return words[0].upper() + words[1:]


def operations(document: Node) -> list[Operation]:
    """Return all operations, in the document's order."""
    return [
        Operation(node["operationId"], verb.upper(), path, node)
        for path, verbs in document["paths"].items()
        for verb, node in verbs.items()
    ]


def groups(document: Node) -> Iterator[tuple[Node, list[Operation]]]:
    """Yield each tag with its operations."""
    known = operations(document)
    for tag in document["tags"]:
        yield tag, [operation for operation in known if tag["name"] in operation.node["tags"]]


def navigation(document: Node, here: str) -> str:
    """Return links to every page.

    Args:
        document: the OpenAPI document.
        here: the name of the page that they stand on; empty: the first page.
    """
    parts = ['<nav aria-label="Pages"><details open><summary>All pages</summary><ul>']
    parts += [_link("", "Start", here), "</ul>", _group("Guides", GUIDES, here)]
    for tag, members in groups(document):
        parts.append(f"<h2>{text(tag['name'].capitalize())}</h2><ul>")
        parts += [_link(one.name, one.title, here, method(one.method)) for one in members]
        parts.append("</ul>")
    return "".join([*parts, _group("Reference", REFERENCE, here), "</details></nav>"])


def _group(title: str, pages: dict[str, str], here: str) -> str:
    return f"<h2>{title}</h2><ul>{''.join(_link(name, words, here) for name, words in pages.items())}</ul>"


def _link(name: str, words: str, here: str, before: str = "") -> str:
    current = ' aria-current="page"' if name == here else ""
    return f'<li><a href="/docs{"/" if name else ""}{name}"{current}><span>{text(words)}</span>{before}</a></li>'
