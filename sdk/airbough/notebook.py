"""Answers shown in a notebook; whatever comes from a document is escaped."""

from __future__ import annotations

from msgspec import Struct

from airbough.wire.in_html import (
    Picture,
    Table,
)


def table(answer: Struct) -> Table:
    """Return an answer as an object that a notebook shows as tables."""
    return Table(answer)


def picture(drawing: str | Struct) -> Picture:
    """Return an SVG, or an answer that has one, as an object that a notebook shows as an image.

    Raises:
        TypeError: where the answer has no picture.
    """
    svg = drawing if isinstance(drawing, str) else getattr(drawing, "svg", None)
    if not isinstance(svg, str):
        raise TypeError(f"a {type(drawing).__name__} has no picture")
    return Picture(svg)
