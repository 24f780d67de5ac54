"""POST /v1/trees/operating-point: what really flows in this state of the gates."""

from __future__ import annotations

from collections.abc import Container
from typing import Final

import numpy as np
from msgspec import structs
from numpy.typing import NDArray

from airbough.wire.answer import (
    Finding,
)
from airbough.wire.collector import (
    Collector,
    Fan,
)
from airbough.wire.operating_point import (
    FanOutcome,
    OperatingPointAnswer,
    OperatingPointRequest,
)
from airbough.wire.problem import Fault
from airbough.wire.tree import Tree
from airbough_service.judging.state_findings import motor_findings, over_speed, point_findings, state_findings
from airbough_service.shop import collector as fans
from airbough_service.shop.gates import AS_STATED, GateState, setting
from airbough_service.shop.shop import (
    Shop,
    build,
)
from airbough_service.solving import (
    tree_answer,
)
from airbough_service.solving.solved_state import Solved, most_starved, solve, system
from airbough_service.solving.told_state import Answered, of_point
from airbough_service.terms.finding import (
    ordered,
)
from airbough_service.terms.refusal import Refusal

Floats = NDArray[np.float64]
_WHOLE: Final = OperatingPointAnswer.__struct_fields__


def answer(request: OperatingPointRequest) -> OperatingPointAnswer:
    """Answer the question in SI; raises as `answered`."""
    return answered(request).answer


def answered(request: OperatingPointRequest, wanted: Container[str] = _WHOLE) -> Answered[OperatingPointAnswer]:
    """Answer the question in SI; findings and sources that are not wanted are not looked for.

    Raises:
        Refusal: with every fault of tree and fan.
    """
    if request.fans:
        shop = build(request)
        return _several(shop, request, _state(shop, request))
    solved = point(request)
    found = point_findings(solved) if "findings" in wanted else ()
    return Answered(_answer(request, solved, found, wanted), of_point(solved))


def point(request: OperatingPointRequest) -> Solved:
    """Return the state asked for with the collector's own fan, solved.

    Raises:
        Refusal: with every fault of tree, state and fan.
    """
    shop = build(request)
    state = _state(shop, request)
    return solve(shop, fans.build(shop), state)


def _state(shop: Shop, request: OperatingPointRequest) -> GateState:
    """Return how the gates stand.

    Raises:
        Refusal: a word that names nothing.
    """
    if request.state is None:
        return AS_STATED
    faults: list[Fault] = []
    state = setting(shop, request.state, "state", faults)
    if faults:
        raise Refusal("not-a-duct-tree", faults)
    return state


def _several(shop: Shop, request: OperatingPointRequest, state: GateState) -> Answered[OperatingPointAnswer]:
    """Answer for several fans: the document's own fan, or else the first, gives the runs."""
    collector = request.collector or Collector()
    several = [fans.build(shop, named.fan, f"fans[{index}].fan") for index, named in enumerate(request.fans)]
    each = [solve(shop, fan, state) for fan in several]
    main = each[0] if collector.fan is None else solve(shop, fans.build(shop), state)
    outcomes = tuple(
        _outcome(named.name, named.fan, f"fans[{index}]", solved)
        for index, (named, solved) in enumerate(zip(request.fans, each, strict=True))
    )
    told = structs.replace(_answer(request, main, point_findings(main)), fans=outcomes)
    return Answered(told, of_point(main, None if collector.fan is not None else request.fans[0].fan))


def _outcome(name: str, fan: Fan, path: str, solved: Solved) -> FanOutcome:
    """Return what one of several fans brings."""
    worst, whole = most_starved(solved.hoods), system(solved)
    found = ordered(
        [*state_findings(solved), *over_speed(solved.shop, fan, f"{path}.fan"), *motor_findings(solved, fan)]
    )
    return FanOutcome(
        fan=name,
        outcome=solved.operating.outcome,
        flow=whole.flow,
        fan_static_pressure=whole.fan_static_pressure,
        findings=tuple(dict.fromkeys(item.code for item in found)),
        most_starved_hood=None if worst is None else worst.run,
        share_of_design=None if worst is None else worst.share_of_design,
    )


def _answer(
    request: Tree, solved: Solved, items: tuple[Finding, ...], wanted: Container[str] = _WHOLE
) -> OperatingPointAnswer:
    """Put the answer together, in SI."""
    shop = solved.shop
    return OperatingPointAnswer(
        engine=tree_answer.engine(request),
        units={},
        preset=request.units,
        air=shop.air,
        name=request.name,
        outcome=solved.operating.outcome,
        runs=solved.runs,
        hoods=solved.hoods,
        system=system(solved),
        findings=items,
        sources=tree_answer.told_sources(shop) if "sources" in wanted else (),
        cautions=tree_answer.cautions(shop, items),
        assumed=shop.assumed,
    )
