"""The plans of layouts, by the drawing question, and all beside one another."""

from __future__ import annotations

from typing import Final

from airbough.wire.drawing import DrawingAnswer, DrawingRequest
from airbough.wire.layout import LayoutBox, LayoutRequest
from airbough.wire.tree import Tree
from airbough_service.drafting.following import followed
from airbough_service.questions import drawing
from airbough_service.terms import units

_GAP: Final = 24.0  # px


def plan(request: LayoutRequest, tree: Tree, title: str) -> DrawingAnswer:
    """Return the plan of a layout.

    Args:
        request: in SI.
        tree: in its preset.
        title: its name in the picture.
    """
    in_si = followed(units.to_si(tree))[0]
    fields = {name: getattr(in_si, name) for name in Tree.__struct_fields__} | {"name": title}
    boxes = tuple(LayoutBox(corner=box.corner, opposite=box.opposite) for box in request.room.forbidden)
    corridors = tuple(LayoutBox(corner=box.corner, opposite=box.opposite) for box in request.room.corridors)
    asked = DrawingRequest(**fields, of="plan", walls=request.room.corners, boxes=boxes, corridors=corridors)
    return drawing.answer(asked)


def beside(plans: list[DrawingAnswer]) -> str:
    """Return one picture of several, from left to right."""
    wide = sum(one.width for one in plans) + _GAP * (len(plans) - 1)
    high = max(one.height for one in plans)
    out, at = [], 0.0
    for one in plans:
        out.append(one.svg.replace("<svg ", f'<svg x="{at:.3f}" ', 1).rstrip("\n"))
        at += one.width + _GAP
    head = f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" viewBox="0 0 {wide:.3f} {high:.3f}" '
    return "\n".join([f'{head}width="{wide:.3f}" height="{high:.3f}">', *out, "</svg>"]) + "\n"
