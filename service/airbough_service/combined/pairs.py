"""The drawing of pairs: every machine alone and every two together, judged as states of the gates."""

from __future__ import annotations

from itertools import combinations
from typing import Final

from airbough.wire.drawing import DrawingAnswer, DrawingRequest
from airbough.wire.gate_states import GateStatesAnswer, GateStatesRequest, StateResult
from airbough.wire.problem import Fault
from airbough.wire.state import NamedState
from airbough.wire.tree import Tree
from airbough_service.judging import fan_findings
from airbough_service.questions import drawing
from airbough_service.questions.drawing import pairs_svg
from airbough_service.questions.drawing.pairs_svg import Cell, PairsPicture, Verdict
from airbough_service.questions.gate_states import question as gate_states
from airbough_service.shop.machines import machines_of
from airbough_service.shop.topology import examine
from airbough_service.solving.grades import carrying, serving, settles, starves
from airbough_service.terms.finding import plain
from airbough_service.terms.refusal import Refusal

MOST_MACHINES: Final = 40
_ALONE: Final = "alone: {}"
_BOTH: Final = "together: {} + {}"


def answer(request: DrawingRequest) -> DrawingAnswer:
    """Draw the pairs in SI.

    Raises:
        Refusal: fewer than two machines with gates, or too many; faults of tree and fan.
    """
    names = _machines(request)
    states = [NamedState(name=_ALONE.format(place), open=(name,)) for place, name in enumerate(names)]
    states += [
        NamedState(name=_BOTH.format(one, two), open=(names[one], names[two]))
        for one, two in combinations(range(len(names)), 2)
    ]
    shared = {name: getattr(request, name) for name in Tree.__struct_fields__}
    found = gate_states.answer(GateStatesRequest(**shared, states=tuple(states), listed=0))
    picture = _picture(request, names, found)
    told = (pairs_svg.draw(picture), picture.title, pairs_svg.description(picture), found.findings[:0])
    return drawing.rendered(request, told, found.cautions)


def _machines(request: DrawingRequest) -> list[str]:
    """Return the machines that have gates."""
    drawing.refuse_unused(request)
    shape, faults = examine(request)
    machines, more = (None, []) if shape is None else machines_of(request.runs, shape)
    if machines is None or faults or more:
        raise Refusal("not-a-duct-tree", [*faults, *more])
    names = [machine.name for machine in machines.each if machine.gates]
    if len(names) < 2:
        detail = "pairs need at least two machines that have gates"
        raise Refusal("not-computable", [Fault(path="runs", code="no-gate", detail=detail)])
    if len(names) > MOST_MACHINES:
        detail = f"a drawing of pairs holds at most {MOST_MACHINES} machines"
        raise Refusal("not-computable", [Fault(path="runs", code="too-many-to-draw", detail=detail)])
    return names


def _picture(request: DrawingRequest, names: list[str], found: GateStatesAnswer) -> PairsPicture:
    """Return the stair of cells, and a summary that begins with what works."""
    by_name = {state.name: state for state in found.states}
    rows = []
    for row in range(len(names)):
        states = [by_name[_BOTH.format(column, row)] for column in range(row)] + [by_name[_ALONE.format(row)]]
        rows.append(tuple(cell(state, alone=column == row) for column, state in enumerate(states)))
    pairs = [one.verdict for row in rows for one in row[:-1]]
    alone = [row[-1].verdict for row in rows]
    lines = (f"Alone: {_counted(alone)}.", f"Two at once: {_counted(pairs)}.")
    notes = ["Two at once are rare where one person works; three are not shown"]
    notes += [item.message for item in fan_findings.of(request.units, request.collector)]
    return PairsPicture(
        f"{request.name or 'Duct tree'}, pairs", lines, tuple(map(plain, names)), tuple(rows), tuple(notes)
    )


def _counted(verdicts: list[Verdict]) -> str:
    """Return how many states have each verdict, what works first."""
    words: dict[Verdict, str] = {
        "together": "hold every check",
        "with": "hold with a further gate open",
        "short": "are just short",
        "apart": "do not hold",
    }
    found = [f"{verdicts.count(verdict)} {said}" for verdict, said in words.items() if verdict in verdicts]
    found[0] = found[0].replace(" ", f" of {len(verdicts)} ", 1)
    return ", ".join(found)


def cell(state: StateResult, *, alone: bool) -> Cell:
    """Return what is said of one state of the gates."""
    if "shut-off-downstream" in state.findings and "all-gates-shut" not in state.findings:
        return Cell("apart", "cut off", "by a shut gate")
    if state.holds and "motor-overloaded" not in state.findings:
        return Cell("together", "alone" if alone else "together", _spare(state))
    if state.fix is not None and state.fix.fixes and "motor-overloaded" not in state.findings:
        return Cell("with", "open also", ", ".join(map(plain, state.fix.open)))
    return _falls_short(state)


def _spare(state: StateResult) -> str:
    """Return how far a state that holds is from its nearest limit."""
    if state.transport_margin is None:
        return "" if state.share_of_design is None else f"gets {_percent(state.share_of_design)}"
    return f"carries {_percent(state.transport_margin)}"


def _falls_short(state: StateResult) -> Cell:
    """Return the gravest thing that keeps a state from holding, and by how much."""
    if state.outcome == "beyond-fan-curve":
        return Cell("apart", "off the curve", "beyond the fan's points")
    if state.outcome == "no-flow" or "all-gates-shut" in state.findings:
        return Cell("apart", "no air", "every way is shut")
    share = 1.0 if state.share_of_design is None else state.share_of_design
    margin = 1.0 if state.transport_margin is None else state.transport_margin
    if not (starves(share) or settles(margin)) or "motor-overloaded" in state.findings:
        return Cell("apart", "overloads", "the motor")
    by_hood, least = share < margin, min(share, margin)
    at = (state.most_starved_hood if by_hood else state.least_margin_run) or ""
    by = f"{at} by {_percent(1.0 - least)}"
    grade = serving(share) if by_hood else carrying(margin)
    return Cell("short", "just short", by) if grade == "short" else Cell("apart", grade, by)


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"
