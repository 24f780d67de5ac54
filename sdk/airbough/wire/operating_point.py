"""POST /v1/trees/operating-point: fan given, what really flows in this state of the gates."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from msgspec import Meta, field, structs

from airbough.wire.answer import Advice, MostStarvedHood, TreeAnswer
from airbough.wire.base import Told, nothing
from airbough.wire.collector import NamedFan
from airbough.wire.quantity import (
    CurrentResult,
    FlowResult,
    PowerResult,
    PressureResult,
)
from airbough.wire.state import GateSetting
from airbough.wire.stock import Stock
from airbough.wire.tree import Tree


class OperatingPointRequest(Tree, kw_only=True):
    """A tree with a fan, or with several to compare."""

    fans: Annotated[tuple[NamedFan, ...], Meta(max_length=20, description="Compared on the same tree.")] = ()
    advice: Annotated[
        bool, Meta(description="Try changes of the shop one by one in the state told, and answer what each gains.")
    ] = False
    stock: Annotated[Stock | None, Meta(description="What can be bought: gives each advised change its price.")] = None
    state: Annotated[GateSetting | None, Meta(description="Left out: every gate as in the document.")] = None

    def opened(self, *names: str) -> Self:
        """Return the same question with these machines open and the gates of all others shut.

        Args:
            names: machines, runs of their hoods or gates, or runs of zone gates; none: every machine's gate is shut.
        """
        return structs.replace(self, state=GateSetting(open=names))


class Crossing(Told, kw_only=True):
    """A crossing of the fan's curve with the system's."""

    flow: FlowResult
    pressure: Annotated[PressureResult, Meta(description="Fan static pressure there.")]
    stable: bool


class OperatingPointSystem(Told, kw_only=True):
    """The system as a whole. With several crossings `runs` are the stable one of least flow.

    Beyond the fan's curve nothing is known but the curve's end and what is needed there.
    """

    crossings: tuple[Crossing, ...]
    flow: FlowResult | None = None
    fan_static_pressure: PressureResult | None = None
    inlet_static_pressure: PressureResult | None = None
    collector_loss: PressureResult | None = None
    discharge_loss: PressureResult | None = None
    most_starved_hood: MostStarvedHood = None
    slowest_run: Annotated[
        str | None,
        Meta(description="Where air is slowest of the runs that are not idle, whatever their dust needs."),
    ] = None
    flow_at_least: FlowResult | None = None
    flow_at_most: FlowResult | None = None
    pressure_needed: PressureResult | None = None
    shaft_power: PowerResult | None = None
    motor_load: Annotated[float | None, Meta(description="Shaft power over the motor's rated power.")] = None
    motor_current: Annotated[
        CurrentResult | None, Meta(description="In each line, at this shaft power, where the motor's supply is given.")
    ] = None
    motor_full_load_current: Annotated[CurrentResult | None, Meta(description="At the motor's rated power.")] = None
    mass_residual: float | None = None
    energy_residual: float | None = None


class FanOutcome(Told, kw_only=True):
    """One fan of several on this tree."""

    fan: str
    outcome: str
    findings: tuple[str, ...]
    flow: Annotated[FlowResult | None, Meta(description="Left out beyond the fan's curve.")] = None
    fan_static_pressure: PressureResult | None = None
    most_starved_hood: MostStarvedHood = None
    share_of_design: Annotated[float | None, Meta(description="Of the most starved hood.")] = None


class OperatingPointAnswer(TreeAnswer, kw_only=True):
    """What flows: air, losses and pressures where fan and system cross."""

    outcome: Literal["operating-point", "several-operating-points", "beyond-fan-curve", "no-flow"]
    system: OperatingPointSystem
    fans: tuple[FanOutcome, ...] = field(default_factory=nothing)
    advice: Annotated[
        tuple[Advice, ...] | None,
        Meta(description="Where asked for: tried changes, the most air gained first; none that spoils a check."),
    ] = None
