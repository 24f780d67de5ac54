"""The terms of the collector: the curve's point, what is taken off it, each loss, and what is left for the tree."""

from __future__ import annotations

from airbough.wire.collector import (
    Collector,
    CollectorLoss,
    Fan,
)
from airbough_service.combined.on_request.explain.sheet import (
    FORMULAS,
    Input,
    Sheet,
)
from airbough_service.core.laws.fan import Fan as Curve
from airbough_service.core.network.tree import dynamic
from airbough_service.shop.air import rated_term
from airbough_service.shop.collector import local_losses, outlet_change, outlet_diameter, outside_curve, recovery
from airbough_service.shop.shop import Shop


def curve(sheet: Sheet, shop: Shop, asked: Fan, fan: Curve, flow: float) -> None:
    """Write the curve's point and fan static pressure."""
    piece = next((row for row in fan.pieces if flow <= row[1]), fan.pieces[-1])
    step = flow - float(piece[0])
    value = float(piece[2] + step * (piece[3] + step * (piece[4] + step * piece[5])))
    constants = {f"p{k}": sheet.per_flow(float(piece[2 + k]), k) for k in range(4)}
    sheet.write(
        "fan-curve",
        "p0 + (flow - start) * (p1 + (flow - start) * (p2 + (flow - start) * p3))",
        ("pressure", value), None, "collector.fan.curve",
        flow=("flow", flow), start=("flow", float(piece[0])), **constants,
    )  # fmt: skip
    static = fan.static_pressure(flow)
    off = value - static
    if asked.rated_as != "fan-static":
        bore = asked.outlet_diameter if asked.rated_as == "fan-total" else asked.inlet_diameter
        assert bore is not None
        off = dynamic(shop.density, float(bore)) * flow * flow
        sheet.pressure_in_bore(flow, float(bore), off, None, "collector.fan")
    sheet.write(
        "fan-static-pressure", "curve - velocity_pressure", ("pressure", static), None, "collector.fan",
        curve=("pressure", value), velocity_pressure=("pressure", off),
    )  # fmt: skip


def loss(sheet: Sheet, shop: Shop, one: CollectorLoss, index: int, flow: float) -> float:
    """Write one loss of the collector; return it, Pa."""
    value = float(rated_term(one, shop.air) * flow**one.exponent)
    sheet.rated_loss("collector-loss", one, (value, flow), None, f"collector.losses[{index}]")
    return value


def collector(sheet: Sheet, shop: Shop, fan: Fan | None, flow: float) -> dict[str, Input]:
    """Write every loss that is not inside a fan's curve; return them by name for a sum."""
    own = shop.request.collector or Collector()
    outside = outside_curve(own, fan)
    lost: dict[str, Input] = {}
    for index, one in enumerate(own.losses):
        if one in outside:
            lost[f"loss_{index + 1}"] = ("pressure", loss(sheet, shop, one, index, flow))
    return lost


def left(sheet: Sheet, shop: Shop, asked: Fan, fan: Curve, flow: float) -> None:
    """Write the whole collector: curve, losses, and what is left for the tree."""
    curve(sheet, shop, asked, fan, flow)
    lost = collector(sheet, shop, asked, flow)
    formula = " - ".join(["fan_static_pressure", *lost])
    inputs: dict[str, Input] = {"fan_static_pressure": ("pressure", fan.static_pressure(flow)), **lost}
    if shop.discharge:
        outlet = dynamic(shop.density, outlet_diameter(shop, asked)) * flow * flow
        sheet.pressure_in_bore(flow, outlet_diameter(shop, asked), outlet, None, "collector.fan.outlet_diameter")
        formula += " + outlet_velocity_pressure"
        inputs["outlet_velocity_pressure"] = ("pressure", outlet)
        change = _outlet_change(sheet, shop, asked, flow)
        if change is not None:
            formula += " - outlet_change"
            inputs["outlet_change"] = ("pressure", change)
    value = fan.left_for_tree(flow)
    sheet.write("left-for-tree", formula, ("pressure", value), None, "collector", **inputs)


def _outlet_change(sheet: Sheet, shop: Shop, asked: Fan | None, flow: float) -> float | None:
    """Write what of the outlet's velocity pressure does not help the discharge duct; return it, Pa."""
    square, outlet = flow * flow, dynamic(shop.density, outlet_diameter(shop, asked))
    value = (outlet - recovery(shop, asked)) * square
    loss, per_flow = outlet_change(shop, asked)
    if value <= 1.0e-12 * outlet * square:
        return None
    if loss is not None and per_flow >= outlet - local_losses(shop):
        bore = min(outlet_diameter(shop, asked), shop.discharge[0].start)
        pressure = dynamic(shop.density, bore) * square
        sheet.pressure_in_bore(flow, bore, pressure, None, "collector.fan.outlet_diameter")
        sheet.write(
            "outlet-change", "coefficient * velocity_pressure", ("pressure", value), None,
            "collector.fan.outlet_diameter", loss.passport,
            coefficient=loss.coefficient, velocity_pressure=("pressure", pressure),
        )  # fmt: skip
        return value
    sheet.write(
        "outlet-change", "outlet_velocity_pressure - discharge_local_losses", ("pressure", value), None,
        "collector.fan.outlet_diameter",
        outlet_velocity_pressure=("pressure", outlet * square),
        discharge_local_losses=("pressure", local_losses(shop) * square),
    )  # fmt: skip
    return value


def required(sheet: Sheet, shop: Shop, at_fan: float, flow: float) -> None:
    """Write what the fan must do at the design flows."""
    lost = collector(sheet, shop, None, flow)
    inputs: dict[str, Input] = {"tree": ("pressure", at_fan), **lost}
    formula = " + ".join(inputs)
    value = at_fan + sum(one[1] for one in lost.values() if isinstance(one, tuple))
    if shop.discharge:
        asked = None if shop.request.collector is None else shop.request.collector.fan
        bore = outlet_diameter(shop, asked)
        outlet = dynamic(shop.density, bore) * flow * flow
        change = _outlet_change(sheet, shop, asked, flow)
        if change is not None:
            formula += " + outlet_change"
            inputs["outlet_change"] = ("pressure", change)
            value += change
        formula += f" - {FORMULAS[sheet.preset]['outlet']}"
        inputs |= {"density": ("density", shop.density), "flow": ("flow", flow), "outlet_diameter": ("diameter", bore)}
        value -= outlet
    sheet.write("required-fan-static-pressure", formula, ("pressure", value), None, "collector", **inputs)
