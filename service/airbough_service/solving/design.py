"""A shop at its design flows."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from airbough.wire.problem import Fault
from airbough_service.catalogue.checks import check
from airbough_service.core.network import balance as core
from airbough_service.shop import gates
from airbough_service.shop.shop import (
    Shop,
)
from airbough_service.terms.refusal import Refusal

Floats = NDArray[np.float64]


def limits() -> core.Limits:
    """Return up to which ratio of pressures a branch is left, and up to which its flow is raised."""
    return core.Limits(check("balance-left").value, check("balance-raised").value)


def design_flows(shop: Shop) -> Floats:
    """Return the design flow of every packed row: the open hoods' own, 0 elsewhere.

    Raises:
        Refusal: an open hood has no design flow, or every hood is shut.
    """
    live = gates.served(shop)
    flow = np.zeros(shop.tree.table.shape[0])
    faults = []
    reached = _reached(shop, live)
    for run in shop.runs:
        if run.run.hood is None or not reached[run.index]:
            continue
        if run.run.hood.flow is None:
            path = f"runs[{run.index}].hood.flow"
            faults.append(
                Fault(path=path, code="design-flow-missing", detail="this question needs each open hood's flow")
            )
            continue
        flow[shop.row(run.index)] = float(run.run.hood.flow)
    if not faults and not flow.any():
        faults.append(
            Fault(path="runs", code="all-gates-shut", detail="every gate is shut; nothing is left to balance")
        )
    if faults:
        raise Refusal("not-a-duct-tree", faults)
    return flow


def _reached(shop: Shop, live: list[bool]) -> list[bool]:
    """Return, by run, whether it and every run downstream are open."""
    out = [False] * len(live)
    order: list[int] = list(shop.shape.roots)
    for index in order:
        parent = shop.shape.parents[index]
        out[index] = live[index] and (parent < 0 or out[parent])
        order.extend(shop.shape.children[index])
    return out
