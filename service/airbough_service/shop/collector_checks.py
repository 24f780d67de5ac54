"""Every fault of a request's fans and collector losses, told together with those of the tree."""

from __future__ import annotations

from airbough.wire.air import Air
from airbough.wire.collector import (
    Collector,
    CollectorLoss,
    Fan,
)
from airbough.wire.problem import Fault
from airbough.wire.tree import Tree
from airbough_service.shop import guessed_fan
from airbough_service.shop.air import air_of

LEAST_STEP = 1.0e-6  # of the curve's last flow: nearer points make slopes that no number holds


def of_request(request: Tree) -> list[Fault]:
    """Return the faults of the collector's losses, of its fan and of the fans to compare."""
    collector = request.collector or Collector()
    faults = _losses(collector.losses) + guessed_fan.faults(collector)
    if collector.fan is not None:
        faults += of_fan(collector, collector.fan, "collector.fan")
    for index, named in enumerate(getattr(request, "fans", ())):
        faults += of_fan(collector, named.fan, f"fans[{index}].fan")
    return faults


def of_fan(collector: Collector, fan: Fan, path: str) -> list[Fault]:
    """Return every fault of one fan."""
    faults = _rising(fan, path) + _rated(fan.rated_air, path)
    if fan.rated_as == "fan-total" and fan.outlet_diameter is None:
        faults.append(_missing(f"{path}.outlet_diameter", "`fan-total` needs the outlet's diameter"))
    if fan.rated_as == "inlet-static" and fan.inlet_diameter is None:
        faults.append(_missing(f"{path}.inlet_diameter", "`inlet-static` needs the test inlet's diameter"))
    return faults + _includes(collector, fan, path)


def _rising(fan: Fan, path: str) -> list[Fault]:
    """Return a fault for each point of the curve that does not lie beyond the one before."""
    flows = [float(point.flow) for point in fan.curve]
    detail = "flows of the curve rise from point to point, by at least a millionth of the last"
    return [
        Fault(path=f"{path}.curve[{index}].flow", code="curve-not-rising", detail=detail)
        for index in range(1, len(flows))
        if flows[index] - flows[index - 1] < LEAST_STEP * flows[-1] or flows[-1] <= 0.0
    ]


def _includes(collector: Collector, fan: Fan, path: str) -> list[Fault]:
    """Return the faults of what the curve is said to include."""
    faults, names = [], {loss.name for loss in collector.losses}
    if collector.losses and fan.includes is None:
        detail = "say which losses the curve already includes; [] for none"
        faults.append(Fault(path=f"{path}.includes", code="includes-missing", detail=detail))
    for index, name in enumerate(fan.includes or ()):
        if name not in names:
            detail = f"no loss is named {name!r}"
            faults.append(Fault(path=f"{path}.includes[{index}]", code="unknown-loss", detail=detail))
    return faults


def _losses(losses: tuple[CollectorLoss, ...]) -> list[Fault]:
    """Return the faults of the collector's losses."""
    faults, names = [], [loss.name for loss in losses]
    for index, loss in enumerate(losses):
        path = f"collector.losses[{index}]"
        if loss.name in names[:index]:
            detail = f"{loss.name!r} already stands among the losses"
            faults.append(Fault(path=f"{path}.name", code="duplicate-name", detail=detail))
        faults += _rated(loss.rated_air, path)
    return faults


def _rated(air: Air | None, path: str) -> list[Fault]:
    """Return the faults of the air at which something was rated."""
    return [] if air is None else air_of(air, f"{path}.rated_air")[1]


def _missing(path: str, detail: str) -> Fault:
    return Fault(path=path, code="parameter-missing", detail=detail)
