"""A fan of which little is known: its curve guessed from a few figures, with its band; SI."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from airbough.wire.collector import Collector, CollectorFigures, Fan, FanPoint
from airbough.wire.problem import Fault
from airbough_service.catalogue import Passport
from airbough_service.catalogue.checks import check
from airbough_service.catalogue.collectors import Between, guess

_POINTS: Final = 20  # of a curve, beside the one without flow
_PAIRS: Final = (("greatest_flow", "greatest_suction"), ("power", "inlet_diameter"))


@dataclass(frozen=True, slots=True)
class Curve:
    """pressure = suction * (1 - (flow / most)^shape).

    Attributes:
        most: the flow without any pressure left, m3/s.
        suction: the pressure without flow, Pa.
        shape: exponent.
    """

    most: float
    suction: float
    shape: float

    def fan(self, losses: bool) -> Fan:
        """Return it as a fan rated as fan static; collector losses, where there are any, are not in it."""
        shares = [number / _POINTS for number in range(_POINTS + 1)]
        points = tuple(
            FanPoint(flow=self.most * share, pressure=self.suction * (1.0 - share**self.shape)) for share in shares
        )
        return Fan(curve=points, rated_as="fan-static", includes=() if losses else None)


@dataclass(frozen=True, slots=True)
class Guess:
    """What is taken, and the least and the most that it may be; where its figures come from."""

    own: Curve
    low: Curve
    high: Curve
    passports: tuple[Passport, ...]


def faults(collector: Collector) -> list[Fault]:
    """Return what is wrong with the figures that a collector is known by."""
    figures = collector.known_by
    if figures is None:
        return []
    given = {name for pair in _PAIRS for name in pair if getattr(figures, name) is not None}
    if given not in [set(pair) for pair in _PAIRS]:
        detail = "give greatest_flow and greatest_suction, or power and inlet_diameter"
        return [Fault(path="collector.known_by", code="figures-do-not-fit", detail=detail)]
    own, most = guessed(figures).own, check("suction-refused").value
    if not 0.0 < own.suction <= most:
        detail = "no fan for wood dust has such a suction at such a flow; look at the units again"
        return [Fault(path="collector.known_by", code="outside-range", detail=detail)]
    if collector.fan is not None and collector.fan != own.fan(bool(collector.losses)):
        detail = "the fan's curve is given, so nothing is guessed; leave one of both out"
        return [Fault(path="collector.known_by", code="curve-and-figures", detail=detail)]
    return []


def with_guess(collector: Collector) -> Collector | None:
    """Return a collector whose fan is guessed from its figures; None where it has a curve, or they do not fit."""
    if collector.known_by is None or collector.fan is not None or faults(collector):
        return None
    fan = guessed(collector.known_by).own.fan(bool(collector.losses))
    return Collector(**{name: getattr(collector, name) for name in collector.__struct_fields__} | {"fan": fan})


def guessed(figures: CollectorFigures) -> Guess:
    """Return the guess from figures that fit one another."""
    shape = guess("shape")
    if figures.greatest_flow is not None and figures.greatest_suction is not None:
        flow, suction = guess("flow"), guess("suction")
        q, p = float(figures.greatest_flow), float(figures.greatest_suction)
        return _guess(_times(flow, q), _times(suction, p), shape, (flow.passport, suction.passport, shape.passport))
    assert figures.power is not None
    assert figures.inlet_diameter is not None
    velocity, efficiency = guess("inlet-velocity"), guess("efficiency")
    area = math.pi * float(figures.inlet_diameter) ** 2 / 4.0
    flows = _times(velocity, area)
    best = float(figures.power) / (flows[1] * _best(shape.own))  # Pa of suction for all of the motor's power in the air
    passports = (velocity.passport, efficiency.passport, shape.passport)
    return _guess(flows, _times(efficiency, best), shape, passports)


def _times(between: Between, factor: float) -> tuple[float, float, float]:
    return between.low * factor, between.own * factor, between.high * factor


def _guess(
    flows: tuple[float, float, float],
    suctions: tuple[float, float, float],
    shape: Between,
    passports: tuple[Passport, ...],
) -> Guess:
    shapes = (shape.low, shape.own, shape.high)
    low, own, high = (Curve(*figures) for figures in zip(flows, suctions, shapes, strict=True))
    return Guess(own, low, high, passports)


def _best(shape: float) -> float:
    """Return the greatest product of flow and pressure on a curve, over that of its greatest flow and suction.

    x (1 - x^n) is greatest where x^n = 1 / (n + 1).
    """
    share = math.pow(1.0 / (shape + 1.0), 1.0 / shape)
    return share * shape / (shape + 1.0)
