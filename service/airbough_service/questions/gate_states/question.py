"""POST /v1/trees/gate-states: many states of the gates at once, the worst of them, and which gates to open as well.

The states asked for (`states_asked`) are solved and judged together, as columns (`judge`): where a hood starves, where
dust settles. What is told of a failing run or hood is worded by `judging.checks`, as for one state, and told of its
worst state (`findings`). `fixes` looks for further gates to open.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough.wire.gate_states import (
    GateStatesAnswer,
    GateStatesRequest,
    GateStatesSystem,
    RunCleared,
    WorstStates,
)
from airbough.wire.problem import Fault
from airbough_service.core.network import states as core
from airbough_service.questions.gate_states import findings
from airbough_service.questions.gate_states.fixes import (
    Fix,
    Search,
    most_in_all,
)
from airbough_service.questions.gate_states.judge import Judge
from airbough_service.questions.gate_states.state_answer import Telling
from airbough_service.questions.gate_states.states_asked import (
    asked,
)
from airbough_service.questions.gate_states.states_judged import Examined, examine
from airbough_service.shop import collector
from airbough_service.shop.shop import build
from airbough_service.solving import suction as suctions
from airbough_service.solving import tree_answer
from airbough_service.solving.grades import settles, starves
from airbough_service.solving.solved_state import solve
from airbough_service.solving.told_state import Answered, of_point
from airbough_service.terms.refusal import Refusal

Floats = NDArray[np.float64]
MOST_FIXED: Final = 100  # named states that further gates are searched for


def answer(request: GateStatesRequest) -> GateStatesAnswer:
    """Answer the question in SI; raises as `answered`."""
    return answered(request).answer


def answered(request: GateStatesRequest) -> Answered[GateStatesAnswer]:
    """Answer the question in SI.

    Raises:
        Refusal: with every fault of tree, fan and states; too many states; suction that one density cannot answer.
    """
    shop = build(request)
    fan = collector.build(shop)
    examined = examine(Judge(shop, fan), asked(shop, request, once=fan.crosses_once))
    _refuse_unsolved(examined)
    _refuse_deep_suction(examined)
    worst = examined.worst()
    fixes, left_out = fixed(examined, worst)
    telling = Telling(examined.judge, examined.judged, fixes, with_runs=request.detail == "runs")
    shown = _shown(examined)
    solved = solve(shop, fan, examined.state(shown).gates)
    all_listed = examined.asked.count <= request.listed
    listed = examined.all() if all_listed else iter(examined.first)
    items = findings.findings(examined, worst, fixes, left_out)
    told = GateStatesAnswer(
        engine=tree_answer.engine(request),
        units={},
        preset=request.units,
        air=shop.air,
        name=request.name,
        runs=solved.runs,
        hoods=solved.hoods,
        system=_system(examined, shown, all_listed=all_listed),
        worst=WorstStates(**{kind: telling.state(number, examined.state(number)) for kind, number in worst.items()}),
        states=tuple(telling.state(number, state) for number, state in enumerate(listed)),
        settling=_settling(examined),
        findings=items,
        sources=tree_answer.told_sources(shop),
        cautions=tree_answer.cautions(shop, items, ("all-hoods-open",)),
        assumed=shop.assumed,
    )
    return Answered(told, of_point(solved))


def _settling(examined: Examined) -> tuple[RunCleared, ...]:
    """Return the runs in which dust settles in some state, each with the first state that carries it off."""
    noted, found = examined.noted, []
    for run in examined.judge.shop.runs:
        index = run.index
        if noted.slow[index]:
            carried = int(noted.carried_state[index])
            found.append(
                RunCleared(
                    run=run.id,
                    states=int(noted.slow[index]),
                    worst_state=examined.state(int(noted.margin_state[index])).name,
                    worst_ratio=float(noted.margin[index]),
                    cleared_by=None if carried < 0 else examined.state(carried).name,
                    cleared_ratio=None if carried < 0 else float(noted.carried[index]),
                )
            )
    return tuple(found)


def fixed(examined: Examined, worst: dict[str, int]) -> tuple[dict[int, Fix], int]:
    """Return what fixes all gates shut, the worst states and the named ones, where they fail; and how many are left."""
    failing = ~examined.judged.holds
    wanted = [0, *(worst[kind] for kind in ("settling", "starving") if kind in worst)]
    wanted += [int(number) for number in np.flatnonzero(failing[1 : len(examined.first)]) + 1]
    wanted = [number for number in dict.fromkeys(wanted) if failing[number]]
    found: dict[int, Fix] = {}
    for number in wanted[:MOST_FIXED]:
        spent = sum(fix.tried for fix in found.values())
        if spent >= most_in_all(examined.judge):
            break
        found[number] = Search(examined.judge, examined.asked, examined.state(number), spent).find()
    return found, len(wanted) - len(found)


def _shown(examined: Examined) -> int:
    """Return the state whose runs the answer tells, one that was asked for.

    The worst for settling if dust settles in it, else the worst for starving if a hood starves in it, else the first in
    which air flows, else the first. All gates shut, which is always examined, only where nothing else is asked for.
    """
    judged, asked = examined.judged, 1 if examined.asked.count > 1 else 0
    for score, fails in ((judged.margin[asked:], settles), (judged.share[asked:], starves)):
        worst = int(np.argmin(score))
        if fails(float(score[worst])):
            return asked + worst
    flowing = np.flatnonzero(judged.known[asked:])
    return asked + (int(flowing[0]) if len(flowing) else 0)


def _system(examined: Examined, shown: int, *, all_listed: bool) -> GateStatesSystem:
    """Return the counts."""
    judged = examined.judged

    def how_many(flags: NDArray[np.bool_]) -> int:
        return int(np.count_nonzero(flags))

    return GateStatesSystem(
        states=examined.asked.count,
        failing=how_many(~judged.holds),
        settling=how_many(judged.settling),
        starving=how_many(judged.starving),
        no_flow=how_many(judged.outcome == core.NOTHING),
        beyond_curve=how_many(judged.outcome == core.BEYOND),
        several_operating_points=how_many(judged.outcome == core.SEVERAL),
        motor_overloaded=how_many(judged.overloaded),
        state=examined.state(shown).name,
        machines=tuple(group.name for group in examined.asked.combined),
        all_listed=all_listed,
    )


def _refuse_unsolved(examined: Examined) -> None:
    """Refuse states in which the laws of junctions leave no flow that enters every open hood."""
    unsolved = np.flatnonzero(examined.judged.outcome == core.UNSOLVED)
    if not len(unsolved):
        return
    state = examined.state(int(unsolved[0]))
    detail = (
        f"in {len(unsolved)} of {examined.asked.count} states of the gates, as {state.name!r}, no flow was found that "
        "enters every open hood; a branch much wider than the run it joins may send air back out of another"
    )
    raise Refusal("not-computable", [Fault(path=state.path or "runs", code="no-distribution-of-flow", detail=detail)])


def _refuse_deep_suction(examined: Examined) -> None:
    """Refuse what a constant density cannot answer."""
    number = int(np.argmax(examined.judged.suction))
    index, suction = int(examined.judged.suction_run[number]), float(examined.judged.suction[number])
    suctions.refuse(examined.judge.shop, index, suction, examined.state(number).name)
