"""A shop at its design flows: what each open hood is meant to take, and what then flows in every run."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from airbough.wire.problem import Fault
from airbough_service.catalogue.checks import check
from airbough_service.core.network import columns
from airbough_service.core.network import governing as core
from airbough_service.shop import gates
from airbough_service.shop.shop import Shop
from airbough_service.solving.absorbing import places
from airbough_service.terms.refusal import Refusal

Floats = NDArray[np.float64]


class DesignFlows(Struct, frozen=True):
    """The design flows of one state of the gates.

    Attributes:
        flow: shape (runs,), m3/s: of each run the sum of the open hoods upstream; 0 where none is.
        missing: runs whose open hoods have no design flow, by number; they count as 0.
    """

    flow: Floats
    missing: tuple[int, ...]

    @property
    def faults(self) -> list[Fault]:
        """A fault for each open hood without a design flow."""
        detail = "this question needs the design flow of each open hood"
        return [
            Fault(path=f"runs[{index}].hood.flow", code="design-flow-missing", detail=detail) for index in self.missing
        ]


def design_flows(
    shop: Shop, openings: gates.Openings | None = None, own: Mapping[int, float] | None = None
) -> DesignFlows:
    """Return the design flow of every run.

    Args:
        shop: the tree.
        openings: of the state's gates, where they depart from the document.
        own: run number -> design flow in place of its hood's.
    """
    is_open = gates.open_hoods(shop, openings)
    flow, missing = [0.0] * len(shop.runs), []
    for index in reversed(shop.shape.order):
        hood, parent = shop.runs[index].run.hood, shop.shape.parents[index]
        if hood is not None and is_open[index]:
            stated = None if hood.flow is None else float(hood.flow)
            asked = (own or {}).get(index, stated)
            if asked is None:
                missing.append(index)
            flow[index] += asked or 0.0
        if parent >= 0:
            flow[parent] += flow[index]
    return DesignFlows(np.array(flow), tuple(sorted(missing)))


def by_row(shop: Shop, found: DesignFlows, openings: gates.Openings | None = None) -> Floats:
    """Return the flow of every packed row when each open hood takes its design flow, with what then leaks in, m3/s."""
    flow = _of_hoods(shop, found)
    if shop.parted is not None:
        way = core.Way("gates", "square-root", limits(), places(shop, openings=openings))
        return core.balance(shop.tree, shop.gates(openings), flow, way).flow
    for row in range(flow.size - 1, 0, -1):
        flow[shop.tree.links[row, columns.PARENT]] += flow[row]
    return flow


def _of_hoods(shop: Shop, found: DesignFlows) -> Floats:
    """Return the flow of the packed rows of hoods, 0 elsewhere."""
    hoods, flow = np.flatnonzero([run.run.hood is not None for run in shop.runs]), np.zeros(shop.tree.table.shape[0])
    flow[shop.tree.place[hoods]] = found.flow[hoods]
    return flow


def at_hoods(shop: Shop) -> Floats:
    """Return the design flow of every packed row of an open hood in the document's state, 0 elsewhere, m3/s.

    Raises:
        Refusal: an open hood has no design flow, or every hood is shut.
    """
    found = design_flows(shop)
    faults = found.faults
    if not faults and not any(found.flow.tolist()):
        detail = "every gate is shut; nothing is left to balance"
        faults = [Fault(path="runs", code="all-gates-shut", detail=detail)]
    if faults:
        raise Refusal("not-computable", faults)
    return _of_hoods(shop, found)


def limits() -> core.Limits:
    """Return up to which ratio of pressures a branch is left, and up to which its flow is raised."""
    return core.Limits(check("balance-left").value, check("balance-raised").value)
