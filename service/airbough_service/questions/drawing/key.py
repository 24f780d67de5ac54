"""The key under a tree: only the signs that the drawing uses."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeAlias

from airbough_service.questions.drawing import signs
from airbough_service.questions.drawing.picture import (
    DrawnRun,
    TreePicture,
)
from airbough_service.questions.drawing.svg import (
    Sheet,
    marker_width,
)
from airbough_service.questions.drawing.text import measure

Sign: TypeAlias = Callable[[Sheet, float, float], None]
_WIDE, _SIGN = 8.0, 34.0


def draw(
    sheet: Sheet, picture: TreePicture, left: float, top: float, right: float, size: float, *, zones: bool
) -> float:
    """Write the key from `top` on; return where it ends."""
    return write(sheet, _entries(picture, zones=zones), left, top, right, size)


def write(
    sheet: Sheet, entries: Sequence[tuple[str, Sign]], left: float, top: float, right: float, size: float
) -> float:
    """Write signs and their words in lines from `top` on; return where they end."""
    x, y = left, top + size
    for words, sign in entries:
        wide = _SIGN + 8.0 + measure(words, size) + 22.0
        if x > left and x + wide > right:
            x, y = left, y + size * 2.0
        sign(sheet, x, y - size * 0.35)
        sheet.text(x + _SIGN + 8.0, y, words, size=size)
        x += wide
    return y + size * 0.8


def _entries(picture: TreePicture, *, zones: bool) -> list[tuple[str, Sign]]:
    runs = picture.runs
    flows = any(run.flow is not None for run in runs)
    found: list[tuple[bool, str, Sign]] = [
        (flows and any(not run.idle for run in runs), "air flows, arrow to the collector", _flowing),
        (any(run.idle for run in runs), "no open machine, leaks at most", _idle),
        (not flows, "duct, flow not known", _unknown),
        (any(run.hose for run in runs), "hose", _hose),
        (zones, "one junction or inlet chamber, drawn long", _zone),
        (_gates(runs, 1.0), "gate open", _gate(1.0)),
        (any(run.opening is not None and 0.0 < run.opening < 1.0 for run in runs), "gate partly open", _gate(0.5)),
        (_gates(runs, 0.0), "gate shut", _gate(0.0)),
    ]
    for severity in ("danger", "warning", "note"):
        used = any(remark.severity == severity for remark in picture.remarks)
        found.append((used, f"{severity} number n below", _marker(severity)))
    return [(words, sign) for used, words, sign in found if used]


def _gates(runs: Sequence[DrawnRun], opening: float) -> bool:
    return any(run.opening == opening for run in runs)


def _piece(sheet: Sheet, x: float, y: float, filling: signs.Filling, *, hose: bool = False) -> None:
    course = [(x, y), (x + _SIGN, y)]
    signs.wall(sheet, course, _WIDE)
    signs.inside(sheet, course, _WIDE, filling, hose=hose)


def _flowing(sheet: Sheet, x: float, y: float) -> None:
    _piece(sheet, x, y, "flowing")
    signs.arrow(sheet, x + _SIGN / 2, y, _WIDE, upright=False)


def _idle(sheet: Sheet, x: float, y: float) -> None:
    _piece(sheet, x, y, "idle")


def _unknown(sheet: Sheet, x: float, y: float) -> None:
    _piece(sheet, x, y, "unknown")


def _hose(sheet: Sheet, x: float, y: float) -> None:
    _piece(sheet, x, y, "unknown", hose=True)


def _zone(sheet: Sheet, x: float, y: float) -> None:
    signs.zone(sheet, (x, y), (x + _SIGN, y), _WIDE)


def _gate(opening: float) -> Sign:
    def sign(sheet: Sheet, x: float, y: float) -> None:
        _piece(sheet, x, y, "unknown")
        signs.gate(sheet, x + _SIGN / 2, y, _WIDE, opening, upright=False)

    return sign


def _marker(severity: str) -> Sign:
    def sign(sheet: Sheet, x: float, y: float) -> None:
        sheet.marker(x + (_SIGN - marker_width("n", 10.0, severity)) / 2, y, 10.0, "n", severity)

    return sign
