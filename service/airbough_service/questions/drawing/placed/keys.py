"""The key under a picture to scale: only the signs that it uses."""

from __future__ import annotations

from airbough_service.questions.drawing import key
from airbough_service.questions.drawing.placed import marks
from airbough_service.questions.drawing.placed.picture import PlacedPicture
from airbough_service.questions.drawing.svg import Sheet
from airbough_service.shop.opening import is_shut

_WIDE, _BORE = 34.0, 9.0


def signs_used(picture: PlacedPicture, *, crossed: bool, numbered: bool) -> list[tuple[str, key.Sign]]:
    """Return words and sign of each.

    Args:
        picture: what is drawn.
        crossed: whether duct goes away from the eye somewhere.
        numbered: whether wyes bear their numbers.
    """
    runs = [run for run in picture.runs if run.line]
    found: list[tuple[bool, str, key.Sign]] = [
        (any(not run.hose for run in runs), "duct", _duct),
        (any(run.hose for run in runs), "hose", _hose),
        (crossed, "duct goes away from the eye", _drop),
        (numbered and bool(picture.wyes), "wye, number in the list", _wye),
        (bool(picture.corridors), "ducts may run here", _corridor),
        (any(run.opening for run in runs), "gate open", _gate(1.0)),
        (any(run.opening is not None and is_shut(run.opening) for run in runs), "gate shut", _gate(0.0)),
    ]
    return [(words, sign) for used, words, sign in found if used]


def _duct(sheet: Sheet, x: float, y: float) -> None:
    marks.outline(sheet, [(x, y), (x + _WIDE, y)], _BORE)
    marks.inside(sheet, [(x, y), (x + _WIDE, y)], _BORE, hose=False)


def _hose(sheet: Sheet, x: float, y: float) -> None:
    marks.outline(sheet, [(x, y), (x + _WIDE, y)], _BORE)
    marks.inside(sheet, [(x, y), (x + _WIDE, y)], _BORE, hose=True)


def _drop(sheet: Sheet, x: float, y: float) -> None:
    marks.drop(sheet, (x + _WIDE / 2, y), _BORE + 4.0)


def _wye(sheet: Sheet, x: float, y: float) -> None:
    marks.wye(sheet, (x + _WIDE / 2, y), 1)


def _corridor(sheet: Sheet, x: float, y: float) -> None:
    marks.corridors(sheet, [((x, y - _BORE), (x + _WIDE, y + _BORE))])


def _gate(opening: float) -> key.Sign:
    def sign(sheet: Sheet, x: float, y: float) -> None:
        _duct(sheet, x, y)
        marks.gate(sheet, (x + _WIDE / 2, y), _BORE, opening, (1.0, 0.0))

    return sign
