"""Everything under `/docs/`, by name: the pages, and the files that they need."""

from __future__ import annotations

from functools import cache
from importlib import resources
from typing import Final

from airbough_service.api.document import build, measuring_sheet
from airbough_service.api.document.pages import contents, operation, reference, shell
from airbough_service.api.document.pages.markup import Node

HTML: Final = "text/html; charset=utf-8"
FILES: Final = {"docs.css": "text/css; charset=utf-8", "docs.js": "text/javascript; charset=utf-8"}
"""What pages need beside their words, with its media type."""


@cache
def _document() -> Node:
    return build.build()


@cache
def names() -> frozenset[str]:
    """Return the names of everything under `/docs/`; empty: the first page."""
    of_operations = [one.name for one in contents.operations(_document())]
    return frozenset(["", *FILES, *contents.GUIDES, *contents.REFERENCE, *of_operations])


def content(name: str) -> bytes:
    """Return a page or a file by its name.

    Raises:
        KeyError: where there is none of that name.
    """
    if name not in names():
        raise KeyError(name)
    if name in FILES:
        return _static(name)
    if name in measuring_sheet.NAMES:
        return measuring_sheet.html(measuring_sheet.NAMES[name]).encode()
    return _made(name).encode()


def problem(kind: str) -> bytes:
    """Return the page that explains a type of problem."""
    title = _document()["x-problems"][f"/problems/{kind}"]["title"]
    return shell.page(_document(), f"problems/{kind}", title, reference.problem(_document(), kind)).encode()


def _made(name: str) -> str:
    document = _document()
    told = contents.REFERENCE
    written = {
        "": ("Start", reference.start),
        "codes": (told["codes"], reference.codes),
        "units": (told["units"], reference.units),
    }
    if name in contents.GUIDES or name == "validation":
        title = (contents.GUIDES | contents.REFERENCE)[name]
        return shell.page(document, name, title, _static(f"{name}.html").decode())
    if name in written:
        title, main = written[name]
        return shell.page(document, name, title, main(document))
    found = next(one for one in contents.operations(document) if one.name == name)
    return shell.page(document, name, found.title, operation.main(document, found))


def _static(name: str) -> bytes:
    return (resources.files("airbough_service.api.document") / "static" / name).read_bytes()
