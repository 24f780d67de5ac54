"""The findings of a parts list."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from airbough.wire.answer import (
    Finding,
    Suggestion,
)
from airbough.wire.parts_list import (
    CuttingPlan,
    PartsListJoint,
    PartsListLine,
)
from airbough.wire.quantity import Preset
from airbough_service.catalogue.fitter_rules import workaround
from airbough_service.questions.parts_list.joints import Made
from airbough_service.questions.parts_list.lines import Wanted
from airbough_service.questions.parts_list.needs import RunNeeds
from airbough_service.questions.parts_list.parts import Need
from airbough_service.terms import units
from airbough_service.terms.finding import (
    finding,
    plain,
    show,
)


def of_needs(preset: Preset, needs: Sequence[RunNeeds]) -> Iterator[Finding]:
    """Give what was not told of runs and fittings."""
    for run in needs:
        if not run.stretches_told:
            yield finding(
                preset,
                "stretches-not-given",
                f"where the fittings of {run.id} sit was not given: its straight duct counts as one piece before them, "
                "so joints and cuts may be more",
                at=run.at,
                run=run.id,
                suggestion=Suggestion(text="give the straight lengths before, between and after its fittings"),
            )
        for path in run.unknown_lengths:
            yield finding(
                preset,
                "fitting-length-unknown",
                f"the length of a fitting in {run.id} is not known, so none of the centreline was taken off for it",
                at=path,
                run=run.id,
                suggestion=Suggestion(text="give the fitting's length in the stock list"),
            )


def of_centrelines(preset: Preset, runs: Sequence[RunNeeds]) -> Iterator[Finding]:
    """Give that the lengths of some runs count their fittings though they were taken as straight duct alone."""
    if not runs:
        return
    first, *further = runs
    more = "" if not further else f" and of {len(further)} more" if len(further) > 1 else f" and of {further[0].id}"
    yield finding(
        preset,
        "lengths-count-fittings",
        f"the length of {first.id}{more} is along the centreline, fittings and all, yet is bought and cut as straight "
        "duct, so there will be too much of it",
        at=f"{first.at}.length",
        run=first.id,
        suggestion=Suggestion(
            text="cut each duct to what is left between its fittings, or ask for a parts list with lengths along the "
            "centreline, which takes them off"
        ),
    )


def of_stock(preset: Preset, missing: dict[Need, Wanted]) -> Iterator[Finding]:
    """Give what the stock list has not."""
    for need, entry in missing.items():
        size = " x ".join(show(preset, "diameter", bore) for bore in need.bores)
        angle = "" if need.angle is None else f" of {need.angle:g} deg"
        duct = "" if need.duct is None else f", of {plain(need.duct)}"
        runs = tuple(entry.runs or ())
        instead = workaround(need.type)
        advice = "add it to the stock list, or have it made" + ("" if instead is None else f"; {instead[0]}")
        yield finding(
            preset,
            "not-stocked",
            f"the stock list has no {plain(need.type)}{angle}, {size}{duct}",
            at=entry.at,
            run=runs[0] if runs else None,
            suggestion=Suggestion(text=advice),
            source=None if instead is None else instead[1].source,
        )


def of_shortage(preset: Preset, lines: Sequence[PartsListLine]) -> Iterator[Finding]:
    """Give the lines of which fewer are there than are needed."""
    for line in lines:
        if line.in_stock is None:
            continue
        length = units.value("length", line.length or 0.0, preset)
        needed = length if line.quantity is None else float(line.quantity)
        advice = "ask the seller when more arrive" if line.substitute is None else f"take {line.substitute} instead"
        yield finding(
            preset,
            "out-of-stock",
            f"of {line.item or plain(line.what)} fewer are there than the tree needs",
            at=line.at,
            quantity="in_stock",
            value=float(line.in_stock),
            minimum=needed,
            suggestion=Suggestion(text=advice),
        )


def of_joints(preset: Preset, joints: Sequence[Made]) -> Iterator[Finding]:
    """Give, by run, the joints that do not hold with the flow, keep an edge, or were not judged."""
    by_run: dict[tuple[str, str], list[Made]] = {}
    for made in joints:
        for code in _codes(made):
            by_run.setdefault((code, made.run), []).append(made)
    for (code, run), some in by_run.items():
        where = f"{some[0].upstream} to {some[0].downstream}"
        more = f" and {len(some) - 1} more" if len(some) > 1 else ""
        yield finding(
            preset,
            code,
            _SAID[code].format(where=where + more),
            at=some[0].at or None,
            run=run,
            quantity="joints",
            value=float(len(some)),
            suggestion=Suggestion(text=_DO[code]),
        )


_SAID = {
    "lip-against-flow": "{where}: made for supply air, the lip would face the flow and catch chips; this joint "
    "does not hold without a sleeve",
    "edge-faces-flow": "{where}: an inner edge stays that faces the flow",
    "end-not-judged": "{where}: the end of one of them is not known, so this joint was not judged",
}
_DO = {
    "lip-against-flow": "lay the piece the other way round if it may be turned, else take both ends from outside with "
    "a sleeve, the pieces end to end within it",
    "edge-faces-flow": "keep the edge thin, file off burrs, or choose pieces that enter with the flow",
    "end-not-judged": "say how the ends are made: in the stock list, at the machines' ports, at the collector's inlet",
}


def _codes(made: Made) -> Iterator[str]:
    if made.joint.kind == "lip-against-flow":
        yield "lip-against-flow"
    if made.joint.kind == "not-judged":
        yield "end-not-judged"
    if made.joint.edge_faces_flow:
        yield "edge-faces-flow"


def of_plans(preset: Preset, plans: Sequence[CuttingPlan]) -> Iterator[Finding]:
    """Give what a cutter should know: plain cut ends, and plans that may be bettered."""
    sawn = [one for plan in plans for one in plan.lengths_bought if len(one.cuts) > 1 or one.offcut > 0.0]
    count = sum(len(one.cuts) for one in sawn)
    if count:
        yield finding(
            preset,
            "plain-cut-end",
            f"{count} pieces are cut: a cut takes the formed end off, and the plain end left there joins as "
            "the stock list says of cut ends",
            quantity="pieces",
            value=float(count),
        )
    for plan in plans:
        if plan.proof == "gap":
            yield finding(
                preset,
                "cutting-not-proved",
                f"the cuts of {plain(plan.duct)}, {show(preset, 'diameter', float(plan.diameter))}, may not be "
                "the best",
                quantity="bought_length" if plan.objective == "length" else None,
                kind="length" if plan.objective == "length" else None,
                value=float(plan.bought_length) if plan.objective == "length" else None,
                minimum=None if plan.bound_length is None else float(plan.bound_length),
            )


def of_turning(preset: Preset, joints: Sequence[PartsListJoint]) -> Iterator[Finding]:
    """Give one note of the pieces that are laid the other way round."""
    turned = Counter(name for joint in joints for name in joint.turned)
    if turned:
        first = next(iter(turned))
        more = f" and {len(turned) - 1} more" if len(turned) > 1 else ""
        yield finding(
            preset,
            "piece-turned",
            f"{first}{more}: laid the other way round, so that the joints hold",
            quantity="pieces",
            value=float(len(turned)),
        )
