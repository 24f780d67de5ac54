"""What every page has around its own words: its head, the key, the way to all others."""

from __future__ import annotations

from typing import Final

from airbough_service.api.document.pages import contents
from airbough_service.api.document.pages.markup import Node, text

_KEY: Final = (
    '<div class="key" hidden><label for="key">Key</label>'
    '<input id="key" autocomplete="off" spellcheck="false" aria-describedby="key-told">'
    '<details><summary>Secret or publishable?</summary><div id="key-told">'
    "<p>Only where this server asks for one. It stays in this page: nothing stores it, a reload forgets it, and it "
    "goes to this server alone, as <code>Authorization: Bearer</code>.</p>"
    "<p>A <b>secret</b> key opens every question. It belongs on a server of yours and never into a page that others "
    "load.</p><p>A <b>publishable</b> key may stand in such a page. It opens only the questions that it names, only to "
    "pages of the origins that it names, and each address has a rate of its own. An origin stops browsers, not "
    "scripts. Tried here it must name the origin of this page, and it answers no GET: with a GET to its own server a "
    "browser sends no origin.</p></div></details></div>"
)


def page(document: Node, name: str, title: str, main: str) -> str:
    """Return a whole page.

    Args:
        document: the OpenAPI document.
        name: the page's name under `/docs/`; empty: the first page.
        title: in the window's title.
        main: its own words, HTML.
    """
    info = document["info"]
    return "".join(
        (
            '<!doctype html><html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f'<title>{text(title)} · {info["title"]}</title><link rel="icon" href="data:,">',
            '<link rel="stylesheet" href="/docs/docs.css"><script src="/docs/docs.js" defer></script></head><body>',
            '<a class="skip" href="#main">To the content</a>',
            f'<header class="top"><a class="home" href="/docs">{info["title"]} <small>{info["version"]}</small></a>',
            _KEY,
            "</header>",
            contents.navigation(document, name),
            f'<main id="main" tabindex="-1">{main}</main></body></html>\n',
        )
    )
