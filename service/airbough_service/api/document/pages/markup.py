"""Small pieces of HTML."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from typing import Any, TypeAlias

Node: TypeAlias = dict[str, Any]


def text(words: object) -> str:
    """Return words that stand for themselves, in an attribute too."""
    return escape(str(words))


def prose(words: str) -> str:
    """Return words in which what stands between backticks is code."""
    pieces = text(words).split("`")
    return "".join(f"<code>{piece}</code>" if index % 2 else piece for index, piece in enumerate(pieces))


def paragraphs(words: str) -> str:
    """Return words parted by empty lines."""
    return "".join(f"<p>{prose(part)}</p>" for part in words.split("\n\n") if part.strip())


def method(name: str) -> str:
    """Return the word of an HTTP method."""
    return f'<b class="method {name.lower()}">{name}</b>'


def listing(code: str, label: str) -> str:
    """Return code that may be wider than the page: it scrolls by itself, by keys too."""
    return f'<pre tabindex="0" role="group" aria-label="{text(label)}"><code>{text(code)}</code></pre>'


def pairs(rows: Iterable[tuple[str, str]], kind: str = "fields") -> str:
    """Return a list of terms and what is said of each, both HTML already."""
    return f'<dl class="{kind}">{"".join(f"<div><dt>{term}</dt><dd>{said}</dd></div>" for term, said in rows)}</dl>'
