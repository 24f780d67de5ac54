"""The request's fan made ready: rated air, speed, what its pressure means, and the collector's losses."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from airbough.wire.air import AirTold
from airbough.wire.collector import Collector, CollectorLoss, Fan
from airbough.wire.problem import Fault
from airbough_service.core import fan as curves
from airbough_service.core.tree import dynamic
from airbough_service.edge.airs import air_of, standard
from airbough_service.edge.refusal import Refusal
from airbough_service.edge.shop import Shop

LEAST_STEP = 1.0e-6  # of the curve's last flow: nearer points make slopes that no number holds


@dataclass(slots=True)
class _Notes:
    """The faults found so far."""

    faults: list[Fault] = field(default_factory=list)

    def add(self, path: str, code: str, detail: str) -> None:
        self.faults.append(Fault(path=path, code=code, detail=detail))


def build(shop: Shop, fan: Fan | None = None, path: str = "collector.fan") -> curves.Fan:
    """Return what the collector leaves for the tree.

    Args:
        shop: the tree; its request's collector gives losses and discharge.
        fan: in place of the collector's own.
        path: of the fan in the document.

    Raises:
        Refusal: with every fault of the fan and the losses.
    """
    collector = shop.request.collector or Collector()
    chosen = collector.fan if fan is None else fan
    notes = _Notes()
    if chosen is None:
        notes.add(path, "fan-missing", "this question needs a fan: its curve under collector.fan")
        raise Refusal("not-a-duct-tree", notes.faults)
    pieces = _pieces(notes, chosen, shop, path)
    quadratic = _off_curve(notes, chosen, shop, path)
    terms = _terms(notes, collector, chosen, shop.air, path)
    if notes.faults:
        raise Refusal("not-a-duct-tree", notes.faults)
    return curves.Fan(pieces, terms, quadratic, recovery(shop, chosen))


def loss_terms(shop: Shop) -> list[tuple[float, float]]:
    """Return a and n of each collector loss a * flow^n at the tree's air, those inside the curve too."""
    collector = shop.request.collector or Collector()
    notes = _Notes()
    losses = [(_term(notes, one, shop.air, f"collector.losses[{k}]"), one) for k, one in enumerate(collector.losses)]
    if notes.faults:
        raise Refusal("not-a-duct-tree", notes.faults)
    return [(constant, one.exponent) for constant, one in losses]


def outlet_diameter(shop: Shop, fan: Fan | None) -> float:
    """Return the fan's outlet bore, m: the caller's, else the first discharge piece's, else the widest at the inlet."""
    if fan is not None and fan.outlet_diameter is not None:
        return float(fan.outlet_diameter)
    if shop.discharge:
        return shop.discharge[0].start
    return max(shop.runs[root].end for root in shop.shape.roots)


def _pieces(notes: _Notes, fan: Fan, shop: Shop, path: str) -> np.ndarray:
    """Return the curve at this speed and air."""
    flows, pressures = [float(p.flow) for p in fan.curve], [float(p.pressure) for p in fan.curve]
    for index in range(1, len(flows)):
        if flows[index] - flows[index - 1] < LEAST_STEP * flows[-1] or flows[-1] <= 0.0:
            detail = "flows of the curve rise from point to point, by at least a millionth of the last"
            notes.add(f"{path}.curve[{index}].flow", "curve-not-rising", detail)
    rated, faults = air_of(fan.rated_air, f"{path}.rated_air") if fan.rated_air is not None else (standard(), [])
    notes.faults += faults
    if notes.faults:
        return np.zeros((1, 6))
    pieces = curves.curve_pieces(flows, pressures, linear=fan.interpolation == "linear")
    return curves.scale(pieces, fan.speed_ratio, shop.density / float(rated.density))


def _off_curve(notes: _Notes, fan: Fan, shop: Shop, path: str) -> float:
    """Return the velocity pressure to take off the curve so that fan static pressure is left, Pa per (m3/s)^2.

    A discharge duct is fed from the outlet: its losses are charged as total pressure, so the outlet's velocity
    pressure, which a fan static rating leaves out, is given back.
    """
    if fan.rated_as == "fan-total" and fan.outlet_diameter is None:
        notes.add(f"{path}.outlet_diameter", "parameter-missing", "`fan-total` needs the outlet's diameter")
        return 0.0
    if fan.rated_as == "inlet-static" and fan.inlet_diameter is None:
        notes.add(f"{path}.inlet_diameter", "parameter-missing", "`inlet-static` needs the test inlet's diameter")
        return 0.0
    if fan.rated_as == "inlet-static":
        assert fan.inlet_diameter is not None
        return dynamic(shop.density, float(fan.inlet_diameter))
    if fan.rated_as == "fan-total":
        assert fan.outlet_diameter is not None
        return dynamic(shop.density, float(fan.outlet_diameter))
    return 0.0


def recovery(shop: Shop, fan: Fan | None) -> float:
    """Return the outlet velocity pressure that a discharge duct receives, Pa per (m3/s)^2; 0 with free discharge."""
    return dynamic(shop.density, outlet_diameter(shop, fan)) if shop.discharge else 0.0


def _terms(notes: _Notes, collector: Collector, fan: Fan, air: AirTold, path: str) -> np.ndarray:
    """Return the collector's losses that are not inside the curve, shape (losses, 2): a and n of a * flow^n."""
    names = [loss.name for loss in collector.losses]
    for index, name in enumerate(names):
        if name in names[:index]:
            notes.add(f"collector.losses[{index}].name", "duplicate-name", f"{name!r} already stands among the losses")
    if collector.losses and fan.includes is None:
        notes.add(f"{path}.includes", "includes-missing", "say which losses the curve already includes; [] for none")
    for index, name in enumerate(fan.includes or ()):
        if name not in names:
            notes.add(f"{path}.includes[{index}]", "unknown-loss", f"no loss is named {name!r}")
    terms = []
    for index, loss in enumerate(collector.losses):
        constant = _term(notes, loss, air, f"collector.losses[{index}]")
        if loss.name not in (fan.includes or ()):
            terms.append((constant, loss.exponent))
    return np.array(terms, float).reshape(-1, 2)


def _term(notes: _Notes, loss: CollectorLoss, air: AirTold, path: str) -> float:
    """Return a of a loss a * flow^n at the tree's air: pressure (1/flow)^n (rho/rho_r)^(n-1) (mu/mu_r)^(2-n)."""
    rated, faults = air_of(loss.rated_air, f"{path}.rated_air") if loss.rated_air is not None else (standard(), [])
    notes.faults += faults
    n = loss.exponent
    density = (float(air.density) / float(rated.density)) ** (n - 1.0)
    viscosity = (float(air.viscosity) / float(rated.viscosity)) ** (2.0 - n)
    return float(float(loss.pressure) / float(loss.flow) ** n * density * viscosity)
