"""What a picture to scale shows: the runs that have a path, their wyes, gates and machines, and the room."""

from __future__ import annotations

from airbough.wire.answer import Finding
from airbough.wire.drawing import DrawingRequest
from airbough.wire.problem import Fault
from airbough.wire.quantity import FloorPoint
from airbough.wire.tree import Branch, Straight
from airbough_service.core.laws import polyline
from airbough_service.judging import path_findings as judged
from airbough_service.questions.drawing.numbering import by_code
from airbough_service.questions.drawing.placed.holes import holes
from airbough_service.questions.drawing.placed.hoses import hangs, sagged
from airbough_service.questions.drawing.placed.picture import PlacedPicture, PlacedRun, Wye
from airbough_service.shop import gates, paths
from airbough_service.shop.shop import Shop, ShopRun
from airbough_service.terms.finding import ordered, plain
from airbough_service.terms.refusal import Refusal


def picture(request: DrawingRequest, shop: Shop) -> tuple[PlacedPicture, tuple[Finding, ...]]:
    """Return what to draw, and the findings that it marks: those of the paths.

    Raises:
        Refusal: no run has a path, or more than one state is named.
    """
    _drawable(request)
    states = gates.named_states(shop, request.states)
    state = states[0] if states else gates.AS_STATED
    runs = tuple(_run(run, state.openings) for run in shop.runs)
    findings = ordered(judged.of_tree(shop))
    walls = tuple((float(x), float(y)) for x, y in request.walls)
    lines = (f"State of the gates: {state.name}",) if request.states else ()
    return PlacedPicture(
        title=f"{request.name or 'Duct tree'}, {'plan' if request.of == 'plan' else 'side view'}",
        lines=lines,
        preset=request.units,
        runs=runs,
        wyes=_wyes(shop, runs),
        inlets=tuple(runs[root].line[0] for root in shop.shape.roots if runs[root].line),
        walls=walls,
        boxes=tuple((_corner(box.corner), _corner(box.opposite)) for box in request.boxes),
        corridors=tuple((_corner(box.corner), _corner(box.opposite)) for box in request.corridors),
        holes=holes(runs, walls),
        ceiling=None if request.ceiling is None else float(request.ceiling),
        remarks=by_code(findings, [run.id for run in shop.runs]),
        unplaced=tuple(run.id for run in runs if not run.line),
    ), findings


def _drawable(request: DrawingRequest) -> None:
    """Refuse what cannot be drawn to scale."""
    if all(run.path is None for run in request.runs):
        detail = f"`of`: {request.of!r} draws the runs that have a `path`, and none has one"
        raise Refusal("not-computable", [Fault(path="runs", code="no-path", detail=detail)])
    if len(request.states) > 1:
        detail = "gates are drawn in one state"
        raise Refusal("not-a-duct-tree", [Fault(path="states", code="one-state-a-drawing", detail=detail)])


def _run(run: ShopRun, openings: dict[int, float]) -> PlacedRun:
    """Return one run."""
    line, gate, hood = paths.points(run.run), run.run.gate, run.run.hood
    name = "" if hood is None else hood.machine_id or plain(hood.machine or "") or run.id
    hose = run.wall.duct is not None and run.wall.duct.kind == "hose"
    return PlacedRun(
        id=run.id,
        line=line,
        start=run.start,
        end=run.end,
        length=run.length,
        turns=tuple(turn.angle for turn in polyline.turns(line[::-1], paths.STRAIGHT_ON)),
        machine=name,
        machine_id=None if hood is None else hood.machine_id,
        has_hood=hood is not None,
        hose=hose,
        opening=None if gate is None else openings.get(run.index, float(gate.opening)),
        hanging=sagged(line, run.length, max(run.start, run.end)) if hose and hangs(line, run.length) else (),
    )


def _corner(place: FloorPoint) -> tuple[float, float]:
    x, y = (float(number) for number in place)
    return x, y


def _wyes(shop: Shop, runs: tuple[PlacedRun, ...]) -> tuple[Wye, ...]:
    """Return the junctions with a branch whose place is known, from the collector on."""
    out: list[Wye] = []
    for index in shop.shape.order:
        arms = shop.shape.children[index]
        branches = [arm for arm in arms if isinstance(shop.runs[arm].run.join, Branch)]
        ends = [*runs[index].line[-1:], *(runs[arm].line[0] for arm in arms if runs[arm].line)]
        if not branches or not ends:
            continue
        straight = next((runs[arm].end for arm in arms if isinstance(shop.runs[arm].run.join, Straight)), None)
        sides = tuple((runs[arm].end, _angle(shop.runs[arm])) for arm in branches)
        out.append(Wye(len(out) + 1, ends[0], runs[index].start, straight, sides))
    return tuple(out)


def _angle(run: ShopRun) -> float:
    """Return the angle of a branch, deg."""
    assert isinstance(run.run.join, Branch)
    return float(run.run.join.angle)
