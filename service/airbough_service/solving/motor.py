"""The current that the fan's motor takes, where its supply is given."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airbough.wire.collector import Motor
from airbough.wire.problem import Fault
from airbough_service.catalogue.power import UsualMotor, usual_motor
from airbough_service.core.laws.power import motor_current
from airbough_service.shop.shop import Shop
from airbough_service.solving.power import at_least, rated_power
from airbough_service.terms.refusal import Refusal


@dataclass(frozen=True, slots=True)
class Supply:
    """A motor at its supply.

    Attributes:
        rated: output, W.
        voltage: V; between two lines where there are three phases.
        usual: what such a motor is like where the caller does not say.
        efficiency, power_factor: at the rated output.
        assumed: which of the two the caller did not give.
    """

    rated: float
    voltage: float
    usual: UsualMotor
    efficiency: float
    power_factor: float
    assumed: tuple[str, ...]

    def current(self, output: float) -> float:
        """Return the current in each line [A] at an output [W]."""
        law = (self.rated, self.voltage, self.usual.phases, self.efficiency, self.power_factor)
        return float(motor_current(np.asarray(output), *law))


def supply_of(shop: Shop) -> Supply | None:
    """Return the motor at its supply; None where no voltage is given.

    Raises:
        Refusal: a voltage without a supply or a supply without a voltage; figures of next to nothing.
    """
    collector = shop.request.collector
    motor = None if collector is None else collector.motor
    if motor is None or (motor.voltage is None and motor.supply is None):
        return None
    if motor.supply is None or motor.voltage is None:
        raise _half(motor)
    usual = usual_motor(motor.supply)
    given = {"efficiency": motor.efficiency, "power_factor": motor.power_factor}
    told = {
        name: getattr(usual, name) if value is None else at_least(f"collector.motor.{name}", value)
        for name, value in given.items()
    }
    assumed = tuple(name for name, value in given.items() if value is None)
    return Supply(rated_power(shop, motor), float(motor.voltage), usual, **told, assumed=assumed)


def _half(motor: Motor) -> Refusal:
    """Return the refusal of one without the other."""
    name = "supply" if motor.supply is None else "voltage"
    detail = "voltage and supply go together: 230 V single-phase, or 400 V three-phase"
    fault = Fault(path=f"collector.motor.{name}", code="parameter-missing", detail=detail)
    return Refusal("not-computable", [fault])
