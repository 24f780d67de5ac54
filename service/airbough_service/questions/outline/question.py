"""POST /v1/outlines/tree: from machines and distances, or places, to a document that every other question takes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, NoReturn

from msgspec import structs

from airbough.wire.answer import Assumed, Finding, Suggestion
from airbough.wire.outline import OutlineAnswer, OutlineMachine, OutlineRequest
from airbough.wire.problem import Fault
from airbough.wire.tree import Tree
from airbough_service.catalogue.checks import check
from airbough_service.judging import machine_findings
from airbough_service.questions.outline import choosing, words
from airbough_service.questions.outline.document import Writer
from airbough_service.questions.outline.geometry import ALIKE
from airbough_service.questions.outline.placing import place
from airbough_service.questions.outline.runs import planned
from airbough_service.questions.outline.ways import Ledger, Way, tied
from airbough_service.shop import collector_checks
from airbough_service.shop.air import air_of
from airbough_service.shop.filling import Filled
from airbough_service.shop.shop import Shop, build
from airbough_service.solving import tree_answer
from airbough_service.terms import sources, units
from airbough_service.terms.finding import finding, ordered, show
from airbough_service.terms.refusal import Refusal

_ROW: Final = re.compile(r"(lines|machines)\[(\d+)\]")
_RUN: Final = re.compile(r"runs\[(\d+)\]\.?(.*)", re.DOTALL)


def answer(request: OutlineRequest) -> OutlineAnswer:
    """Answer the question; the request is in SI, the tree of the answer in its preset.

    Raises:
        Refusal: with every fault of the rows, each with its path, and of collector and air.
    """
    ledger = Ledger(request.units)
    every, ways = tied(request, ledger)
    words.read(request, every, ledger)
    if request.dust is not None:
        words.dust(None, "dust", request.dust, ledger)
    place(request, ways, ledger)
    ledger.faults += _collector(request)
    laid = [way for way in ways if way.course is not None]
    left_out = _pruned(laid)
    if ledger.faults or not laid:
        _refuse(ledger)
    choosing.choose(request, laid, ledger)
    writer = Writer(request, planned(laid), ledger, [], {})
    writer.write(laid)
    if ledger.faults:
        _refuse(ledger)
    tree = _tree(request, writer)
    shop = _built(tree, writer, ways)
    found = ordered([*_findings(request, laid, left_out)])
    return OutlineAnswer(
        engine=tree_answer.engine(tree),
        preset=request.units,
        tree=units.document(tree, request.units),
        rows=writer.rows,
        assumed=tuple(_told(item, request, every) for item in sorted(ledger.assumed, key=_in_order)),
        findings=found,
        sources=sources.told(
            origin for item in ledger.assumed if item.passport for origin in sources.origins(item.passport)
        ),
        cautions=tree_answer.cautions(shop, found),
        name=request.name,
    )


def _refuse(ledger: Ledger) -> NoReturn:
    words_only = all(fault.code == "unknown-word" for fault in ledger.faults)
    raise Refusal("unknown-word" if words_only else "not-a-duct-tree", ledger.faults)


def _collector(request: OutlineRequest) -> list[Fault]:
    """Return the faults of collector and air, so that they are told with those of the rows."""
    bare = Tree(units=request.units, runs=(), collector=request.collector)
    return [*air_of(request.air, "air")[1], *collector_checks.of_request(bare)]


def _pruned(ways: list[Way]) -> list[Way]:
    """Take out the lines that serve no machine; return them."""
    for way in reversed(ways):
        way.serves = not way.line or any(guest.serves for guest in way.guests)
    out = [way for way in ways if not way.serves]
    for way in out:
        ways.remove(way)
        if way.host is not None:
            way.host.guests.remove(way)
    return out


def _tree(request: OutlineRequest, writer: Writer) -> Tree:
    """Return the tree document, in SI."""
    return Tree(
        units=request.units,
        runs=tuple(writer.runs),
        name=request.name,
        air=request.air,
        dust=request.dust,
        collector=request.collector,
        model=request.model,
    )


def _built(tree: Tree, writer: Writer, ways: list[Way]) -> Shop:
    """Return the tree made ready; what is wrong with a run is told of its row."""
    try:
        return build(tree)
    except Refusal as refusal:
        paths = {way.id: way.path for way in ways}
        faults = [_of_row(fault, tree, writer.rows, paths) for fault in refusal.faults]
        raise Refusal(refusal.kind, faults) from None


def _of_row(fault: Fault, tree: Tree, rows: dict[str, str], paths: dict[str, str]) -> Fault:
    """Return a fault of a run as one of the row that it is of."""
    found = _RUN.fullmatch(fault.path)
    if found is None:
        return fault
    run = tree.runs[int(found[1])]
    where = f" ({found[2]} of its run {run.id})" if found[2] else f" (its run {run.id})"
    return structs.replace(fault, path=paths[rows[run.id]], detail=fault.detail + where)


def _told(item: Filled, request: OutlineRequest, ways: list[Way]) -> Assumed:
    """Return what was assumed with the name of its row."""
    found = _ROW.match(item.path)
    row = "" if found is None else f"{found[1]}[{found[2]}]"
    return structs.replace(item.told(request.units), run=next((way.id for way in ways if way.path == row), None))


def _in_order(item: Filled) -> tuple[int, int]:
    """Return the place of what was assumed: of all first, then of lines, then of machines."""
    found = _ROW.match(item.path)
    return (0, 0) if found is None else (1 + (found[1] == "machines"), int(found[2]))


def _findings(request: OutlineRequest, ways: list[Way], left_out: list[Way]) -> Iterator[Finding]:
    """Yield what a person should know of the tree that was made."""
    preset = request.units
    for way in left_out:
        yield finding(
            preset,
            "line-left-out",
            f"no machine joins {way.id} or a line that flows into it, so it was left out",
            at=way.path,
            run=way.id,
        )
    for way in ways:
        beyond = way.run.length - way.reach
        if way.line and beyond > ALIKE:
            yield _beyond(request, way, beyond)
    yield from choosing.findings(request, ways)
    rows = [(way, way.row) for way in ways if isinstance(way.row, OutlineMachine)]
    for way, row in rows:
        if row.machine is not None and way.known is None:
            path, without_flow = f"{way.path}.machine", all(spout.flow is None for spout in way.spouts)
            yield from machine_findings.unknown(preset, row.machine, path, way.id, without_flow=without_flow)
    filled = [
        (way.known, way.path, way.id)
        for way, row in rows
        if way.known is not None and any(spout.flow is None for spout in way.spouts)
    ]
    yield from machine_findings.of_known(preset, filled)
    yield from _inside(request, [way for way, row in rows if _tells_no_inside(row)])


def _tells_no_inside(row: OutlineMachine) -> bool:
    """Return whether a machine says nothing of what is lost inside it."""
    return row.resistance is None and all(port.resistance is None for port in row.ports)


def _inside(request: OutlineRequest, ways: list[Way]) -> Iterator[Finding]:
    """Yield the note of machines whose inside counts as nothing, once for all."""
    if not ways:
        return
    most = check("machine-suction")
    names = ", ".join(way.id for way in ways)
    yield finding(
        request.units,
        "machine-inside-not-known",
        f"what {names} lose inside is in no open source and counts as nothing, so they may get less air than is told; "
        f"makers ask for up to {show(request.units, 'pressure', most.value)} of suction at the port",
        at=ways[0].path,
        run=ways[0].id,
        quantity="suction",
        kind="pressure",
        value=0.0,
        maximum=most.value,
        suggestion=Suggestion(
            text="ask the makers which suction they want at the port and at which flow; what of it is not the entry "
            "and the air's own velocity pressure is the machine's resistance"
        ),
        source=most.passport.source,
    )


def _beyond(request: OutlineRequest, way: Way, beyond: float) -> Finding:
    """Return the note of what lies beyond the last that joins a line."""
    preset = request.units
    return finding(
        preset,
        "beyond-last-machine",
        f"{show(preset, 'length', beyond)} of {way.id} lie beyond the last that joins it and were left out; the last "
        "goes on from the line's end there",
        at=f"{way.path}.length",
        run=way.id,
        quantity="length",
        kind="length",
        value=way.run.length,
        maximum=way.reach,
        suggestion=Suggestion(text="give the line's length up to there, or say what joins it beyond"),
    )
