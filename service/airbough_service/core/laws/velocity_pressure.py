"""The hand relations of the velocity-pressure method; pressures in Pa, gauge, negative on the suction side."""

from __future__ import annotations

import math


def static_pressure(total: float, velocity_pressure: float) -> float:
    """Static pressure: total less velocity pressure [Pa]."""
    return total - velocity_pressure


def total_pressure(static: float, velocity_pressure: float) -> float:
    """Total pressure: static plus velocity pressure [Pa]."""
    return static + velocity_pressure


def loss_between(total_upstream: float, total_downstream: float) -> float:
    """Loss between two sections: the fall of total pressure [Pa]."""
    return total_upstream - total_downstream


def hood_suction(velocity_pressure: float, entry: float) -> float:
    """Suction just after a hood: (1 + F) VP [Pa], F the entry loss in velocity pressures."""
    return (1.0 + entry) * velocity_pressure


def fan_total_pressure(total_outlet: float, total_inlet: float) -> float:
    """Fan total pressure: the rise of total pressure from inlet to outlet [Pa]."""
    return total_outlet - total_inlet


def fan_static_pressure(static_outlet: float, static_inlet: float, inlet_velocity_pressure: float) -> float:
    """Fan static pressure: SP outlet - SP inlet - VP inlet [Pa]."""
    return static_outlet - static_inlet - inlet_velocity_pressure


def corrected_flow(flow: float, governing: float, own: float) -> float:
    """Flow of a branch that must meet the governing pressure: Q sqrt(SP governing / SP own) [m3/s]."""
    return flow * math.sqrt(governing / own)


def resized_bore(bore: float, loss: float, wanted: float, exponent: float) -> float:
    """Bore that changes a branch's loss to the one wanted: D (loss / wanted)^exponent [m]."""
    return bore * (loss / wanted) ** exponent


def empirical_friction(velocity: float, bore: float, scale: float, speed_power: float, bore_power: float) -> float:
    """Friction of galvanized duct as scale V^speed_power / D^bore_power, in the units that the constants are for."""
    return scale * velocity**speed_power / bore**bore_power


def reading_depth(side: float, rows: int, row: int) -> float:
    """Depth of a row of readings at the centres of equal parts of a rectangular duct's side [m]; rows count from 1."""
    return side * (row - 0.5) / rows
