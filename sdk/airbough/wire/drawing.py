"""POST /v1/trees/drawing: a tree, a fan with its systems, or the shop to scale, as an SVG picture."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta

from airbough.wire.answer import (
    Engine,
    Finding,
)
from airbough.wire.base import (
    Told,
)
from airbough.wire.layout import LayoutBox
from airbough.wire.quantity import (
    FloorPoint,
    Length,
    Preset,
)
from airbough.wire.state import NamedState
from airbough.wire.tree import Tree


class DrawingRequest(Tree, kw_only=True):
    """A tree to draw in one state of the gates, or its fan with the document's state and up to eleven more."""

    of: Annotated[
        Literal["tree", "fan", "plan", "side", "pairs"],
        Meta(
            description="The tree of runs, or the fan's curve with the system's curves; to scale, of the runs that "
            "have a `path`, the shop from above or from the side; or which two machines can run together."
        ),
    ]
    walls: Annotated[
        tuple[FloorPoint, ...],
        Meta(max_length=100, description="Of plan and side: corners `[x, y]` of the room, in turn."),
    ] = ()
    boxes: Annotated[
        tuple[LayoutBox, ...],
        Meta(max_length=20, description="Of the plan: places that are kept free of ducts, between opposite corners."),
    ] = ()
    corridors: Annotated[
        tuple[LayoutBox, ...],
        Meta(max_length=20, description="Of the plan: where ducts may run, between opposite corners."),
    ] = ()
    ceiling: Annotated[Length | None, Meta(description="Of the side: its height over z = 0, the floor.")] = None
    states: Annotated[
        tuple[NamedState, ...],
        Meta(max_length=11, description="For a fan: drawn beside the document's own. For a tree: one, in its place."),
    ] = ()
    width: (
        Annotated[int, Meta(ge=100, le=10000, description="Displayed width in px. Left out: the drawing's own.")] | None
    ) = None


class DrawingAnswer(Told, kw_only=True):
    """A drawing that needs nothing from elsewhere: no script, style sheet, font or link."""

    engine: Engine
    preset: Preset
    units: Annotated[dict[str, str], Meta(description="Empty: the picture names its units.")]
    svg: Annotated[str, Meta(description="An SVG 1.1 document.")]
    title: str
    description: Annotated[str, Meta(description="The picture in words; it also stands in the picture's `desc`.")]
    width: Annotated[float, Meta(description="Displayed, px.")]
    height: Annotated[float, Meta(description="Displayed, px.")]
    findings: Annotated[tuple[Finding, ...], Meta(description="Those that the picture marks.")]
    cautions: tuple[str, ...]
    name: str | None = None

    def _repr_html_(self) -> str:
        from airbough.wire.in_html import Picture

        return Picture(self.svg)._repr_html_()

    def _repr_svg_(self) -> str:
        return self.svg
