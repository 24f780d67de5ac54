"""A sheet of SVG 1.1: shapes and texts, every text escaped and its box kept; no style sheet, script or reference."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final
from xml.sax.saxutils import escape, quoteattr

from airbough_service.questions.drawing.text import (
    clean,
    measure,
    shorten,
)

Point = tuple[float, float]

INK: Final = "#1b1f24"
SOFT_INK: Final = "#4d5761"
HAIR: Final = "#aab2bb"
PAPER: Final = "#ffffff"
AMBER: Final = "#e69f00"
FAMILY: Final = "Arial, Helvetica, 'Liberation Sans', 'DejaVu Sans', sans-serif"
_ASCENT: Final = 0.95
_DESCENT: Final = 0.25


@dataclass(frozen=True, slots=True)
class Box:
    """The room that a text or a marker may take."""

    left: float
    top: float
    right: float
    bottom: float
    words: str

    def meets(self, other: Box) -> bool:
        """Return whether two boxes share any area."""
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )


def figure(number: float) -> str:
    """Return a coordinate, to a hundredth."""
    text = f"{number:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


@dataclass(slots=True)
class Sheet:
    """What has been drawn so far, in the order of drawing.

    Attributes:
        parts: the elements.
        boxes: the boxes of all texts and markers; none may meet another.
        right, bottom: how far the drawing reaches.
    """

    parts: list[str] = field(default_factory=list)
    boxes: list[Box] = field(default_factory=list)
    right: float = 0.0
    bottom: float = 0.0

    def path(self, points: Sequence[Point], *, stroke: str = INK, width: float = 1.0, fill: str = "none",
             dash: str = "", close: bool = False) -> None:  # fmt: skip
        """Draw a line through points."""
        steps = "L".join(f"{figure(x)} {figure(y)}" for x, y in points) + ("Z" if close else "")
        extra = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(f'<path d="M{steps}" fill="{fill}" stroke="{stroke}" stroke-width="{figure(width)}"{extra}/>')

    def rectangle(self, x: float, y: float, width: float, height: float, *, stroke: str = "none",
                  fill: str = "none", line: float = 1.0) -> None:  # fmt: skip
        """Draw a rectangle."""
        self.parts.append(
            f'<rect x="{figure(x)}" y="{figure(y)}" width="{figure(width)}" height="{figure(height)}" '
            f'fill="{fill}" stroke="{stroke}" stroke-width="{figure(line)}"/>'
        )

    def circle(self, x: float, y: float, radius: float, *, stroke: str = INK, fill: str = "none",
               line: float = 1.2) -> None:  # fmt: skip
        """Draw a circle."""
        self.parts.append(
            f'<circle cx="{figure(x)}" cy="{figure(y)}" r="{figure(radius)}" '
            f'fill="{fill}" stroke="{stroke}" stroke-width="{figure(line)}"/>'
        )

    def text(self, x: float, y: float, words: str, *, size: float = 11.0, bold: bool = False, anchor: str = "start",
             fill: str = INK, room: float | None = None) -> float:  # fmt: skip
        """Write words with their baseline at y, cut to the room where one is given.

        Returns:
            The width that the words take at most; words cut tell their full length to a pointer and a screen reader.
        """
        whole = clean(words)
        shown = whole if room is None else shorten(whole, size, room)
        wide = measure(shown, size)
        left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        self.boxes.append(Box(left, y - _ASCENT * size, left + wide, y + _DESCENT * size, shown))
        attributes = f'x="{figure(x)}" y="{figure(y)}" font-size="{figure(size)}" fill="{fill}"'
        attributes += ' font-weight="bold"' if bold else ""
        attributes += f' text-anchor="{anchor}"' if anchor != "start" else ""
        told = f"<title>{escape(whole)}</title>" if shown != whole else ""
        self.parts.append(f"<text {attributes}>{told}{escape(shown)}</text>")
        self.reach(left + wide, y + _DESCENT * size)
        return wide

    def marker(self, x: float, y: float, size: float, words: str, severity: str) -> float:
        """Draw a numbered marker from x on, its middle at y; shape and shade both tell the severity.

        Returns:
            Its width.
        """
        half = size * 0.72
        lean = half * 0.55 if severity == "warning" else 0.0
        taken = marker_width(words, size, severity)
        top, bottom, right = y - half, y + half, x + taken
        if severity == "danger":
            self.rectangle(x, top, taken, 2 * half, fill=INK, stroke=INK)
        elif severity == "warning":
            corners = [(x, y), (x + lean, top), (right - lean, top), (right, y), (right - lean, bottom),
                       (x + lean, bottom)]  # fmt: skip
            self.path(corners, close=True, fill=AMBER, width=1.2)
        else:
            self.parts.append(
                f'<rect x="{figure(x)}" y="{figure(top)}" width="{figure(taken)}" height="{figure(2 * half)}" '
                f'rx="{figure(half)}" fill="{PAPER}" stroke="{INK}" stroke-width="1"/>'
            )
        self.parts.append(
            f'<text x="{figure(x + taken / 2)}" y="{figure(y + size * 0.3)}" font-size="{figure(size * 0.85)}" '
            f'font-weight="bold" text-anchor="middle" fill="{PAPER if severity == "danger" else INK}">{words}</text>'
        )
        self.boxes.append(Box(x, top, right, bottom, words))
        self.reach(right, bottom)
        return taken

    def reach(self, x: float, y: float) -> None:
        """Let the sheet be at least this large."""
        self.right, self.bottom = max(self.right, x), max(self.bottom, y)

    def render(self, title: str, description: str, margin: float, width: int | None = None) -> tuple[str, float, float]:
        """Return the document and its displayed size; `width` is that width in place of the drawing's own."""
        wide, high = self.right + margin, self.bottom + margin
        shown = float(width) if width else wide
        name, told = clean(title), clean(description)
        mark = hashlib.blake2b("".join([name, told, *self.parts]).encode(), digest_size=6).hexdigest()
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" role="img" '
            f"aria-labelledby={quoteattr(f'title-{mark} desc-{mark}')} "
            f'viewBox="0 0 {figure(wide)} {figure(high)}" width="{figure(shown)}" '
            f'height="{figure(high * shown / wide)}" font-family="{FAMILY}" stroke-linejoin="round">'
        )
        texts = f'<title id="title-{mark}">{escape(name)}</title><desc id="desc-{mark}">{escape(told)}</desc>'
        paper = f'<rect width="{figure(wide)}" height="{figure(high)}" fill="{PAPER}"/>'
        document = "\n".join([head, texts, paper, *self.parts, "</svg>"]) + "\n"
        return document, shown, high * shown / wide


def marker_width(words: str, size: float, severity: str) -> float:
    """Return the width of a numbered marker."""
    half = size * 0.72
    wide = max(2 * half, measure(words, size * 0.85) + size * 0.5)
    return wide + (2 * half * 0.55 if severity == "warning" else 0.0)
