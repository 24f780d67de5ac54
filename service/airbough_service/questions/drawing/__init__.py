"""POST /v1/trees/drawing: a tree, a fan with its systems, or the shop to scale, as an SVG picture of one file."""

from __future__ import annotations

from typing import TypeAlias

from airbough.wire.answer import Finding
from airbough.wire.drawing import (
    DrawingAnswer,
    DrawingRequest,
)
from airbough.wire.problem import Fault
from airbough_service.questions.drawing import (
    fan_svg,
    of_fan,
    of_tree,
    tree_svg,
)
from airbough_service.questions.drawing.placed import of_places, plan_svg, side_svg
from airbough_service.questions.drawing.svg import Sheet
from airbough_service.questions.drawing.text import clean
from airbough_service.shop.shop import (
    Shop,
    build,
)
from airbough_service.solving import tree_answer
from airbough_service.terms.refusal import Refusal

MOST_RUNS = 2000
Drawn: TypeAlias = tuple[Sheet, str, str, tuple[Finding, ...]]
"""A sheet, its title, the picture in words, and the findings that it marks."""


def answer(request: DrawingRequest) -> DrawingAnswer:
    """Draw; the request is in SI, the picture in its preset.

    Raises:
        Refusal: with every fault of tree, fan and states; `too-many-to-draw` above ``MOST_RUNS`` runs.
    """
    if len(request.runs) > MOST_RUNS:
        detail = f"a drawing holds at most {MOST_RUNS} runs"
        raise Refusal("not-computable", [Fault(path="runs", code="too-many-to-draw", detail=detail)])
    refuse_unused(request)
    shop = build(request)
    told = _drawn(request, shop)
    return rendered(request, told, tree_answer.cautions(shop, told[3]))


def rendered(request: DrawingRequest, told: Drawn, cautions: tuple[str, ...]) -> DrawingAnswer:
    """Return a sheet as the answer."""
    sheet, name, told_in_words, findings = told
    title, description = clean(name), clean(told_in_words)
    svg, width, height = sheet.render(title, description, tree_svg.MARGIN, request.width)
    return DrawingAnswer(
        engine=tree_answer.engine(request),
        preset=request.units,
        units={},
        svg=svg,
        title=title,
        description=description,
        width=width,
        height=height,
        findings=findings,
        cautions=cautions,
        name=request.name,
    )


def refuse_unused(request: DrawingRequest) -> None:
    """Refuse the room where a picture has none."""
    given = (
        ("walls", bool(request.walls), ("plan", "side")),
        ("boxes", bool(request.boxes), ("plan",)),
        ("corridors", bool(request.corridors), ("plan",)),
        ("ceiling", request.ceiling is not None, ("side",)),
    )
    faults = [
        Fault(path=path, code="not-for-this-picture", detail=f"only `of`: {' and '.join(of)} shows it")
        for path, is_given, of in given
        if is_given and request.of not in of
    ]
    if faults:
        raise Refusal("not-computable", faults)


def _drawn(request: DrawingRequest, shop: Shop) -> Drawn:
    if request.of == "fan":
        diagram, findings = of_fan.picture(request, shop)
        return fan_svg.draw(diagram), diagram.title, fan_svg.description(diagram), findings
    if request.of in ("plan", "side"):
        placed, findings = of_places.picture(request, shop)
        view = plan_svg if request.of == "plan" else side_svg
        return view.draw(placed), placed.title, view.description(placed), findings
    tree, findings = of_tree.picture(request, shop)
    return tree_svg.draw(tree), tree.title, tree_svg.description(tree), findings
