"""POST /v1/trees/balance: design flows given, what the fan must do and what each branch must absorb or take.

`core.network.governing` finds the flows, with what leaks in, and what each run needs; `solving.balanced_tree` tells
what gates must absorb and the duty required of the fan.
"""

from __future__ import annotations

from collections.abc import Container

import numpy as np
from numpy.typing import NDArray

from airbough.wire.balance import (
    BalanceAnswer,
    BalanceRequest,
)
from airbough_service.judging.balance_findings import findings
from airbough_service.shop.shop import (
    build,
)
from airbough_service.solving import tree_answer
from airbough_service.solving.balanced_tree import balanced
from airbough_service.solving.suction import refuse_deep_suction
from airbough_service.solving.told_state import Answered, of_balance
from airbough_service.terms.refusal import Refusal, no_run

Floats = NDArray[np.float64]


def answer(request: BalanceRequest) -> BalanceAnswer:
    """Answer the question in SI; raises as `answered`."""
    return answered(request).answer


def answered(
    request: BalanceRequest, wanted: Container[str] = BalanceAnswer.__struct_fields__
) -> Answered[BalanceAnswer]:
    """Answer the question in SI; findings and sources that are not wanted are not looked for.

    Raises:
        Refusal: with every fault of the tree, and a fault for each open hood without a design flow; suction that one
            density cannot answer.
    """
    shop = build(request)
    _known(request)
    found = balanced(shop, request.by, request.correction, request.gates_may_stand)
    refuse_deep_suction(shop, found.runs)
    items = findings(found) if "findings" in wanted else ()
    told = BalanceAnswer(
        engine=tree_answer.engine(request),
        units={},
        preset=request.units,
        air=shop.air,
        name=request.name,
        runs=found.runs,
        hoods=found.hoods,
        system=found.system,
        branches=found.branches,
        findings=items,
        sources=tree_answer.told_sources(shop) if "sources" in wanted else (),
        cautions=tree_answer.cautions(shop, items),
        assumed=shop.assumed,
    )
    return Answered(told, of_balance(found))


def _known(request: BalanceRequest) -> None:
    """Refuse ids of no run under `gates_may_stand`."""
    ids = {run.id for run in request.runs}
    faults = [
        no_run(f"gates_may_stand[{place}]", "unknown-id", name, ids)
        for place, name in enumerate(request.gates_may_stand)
        if name not in ids
    ]
    if faults:
        raise Refusal("not-a-duct-tree", faults)
