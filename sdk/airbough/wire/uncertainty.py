"""How sure an answer is: ranges of its quantities, and the share of draws in which each check holds."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta, field

from airbough.wire.base import Told, nothing
from airbough.wire.quantity import (
    FlowResult,
    PressureResult,
    VelocityResult,
)


class FlowRange(Told, kw_only=True):
    """A flow: 5 % of the draws lie below `low`, half below `middle`, 95 % below `high`."""

    low: FlowResult
    middle: FlowResult
    high: FlowResult


class VelocityRange(Told, kw_only=True):
    """A velocity: 5 % of the draws lie below `low`, half below `middle`, 95 % below `high`."""

    low: VelocityResult
    middle: VelocityResult
    high: VelocityResult


class PressureRange(Told, kw_only=True):
    """A pressure: 5 % of the draws lie below `low`, half below `middle`, 95 % below `high`."""

    low: PressureResult
    middle: PressureResult
    high: PressureResult


class RunRange(Told, kw_only=True):
    """One run where air flows."""

    run: str
    velocity: VelocityRange


class HoodRange(Told, kw_only=True):
    """One open hood."""

    run: str
    flow: FlowRange
    static_pressure: Annotated[PressureRange | None, Meta(description="At a tap just after the hood.")] = None


class CheckShare(Told, kw_only=True):
    """How often a check holds among the draws that have an operating point."""

    check: Literal["transport-velocity", "design-flow", "pressure-available"]
    share_holding: float
    standard_error: Annotated[
        float, Meta(description="sqrt(p (1 - p) / n) with p = (holding + 1) / (n + 2), so that it is never 0.")
    ]
    run: str | None = None


class TermShare(Told, kw_only=True):
    """One uncertain term: all uses of one entry of the catalogue share a draw."""

    entry: Annotated[str, Meta(description="Entry of the catalogue, or part of the collector.")]
    spread: Annotated[float, Meta(description="Half-width of the central 90 % range, relative.")]
    share: Annotated[float, Meta(description="Squared rank correlation with the quantity that `terms_explain` names.")]
    raises: Annotated[bool, Meta(description="Whether a greater term goes with more of that quantity.")]
    source: str | None = None
    read: Annotated[bool | None, Meta(description="Whether the value was read in its source; false: memory.")] = None


class UncertaintyResult(Told, kw_only=True):
    """Each uncertain term is multiplied by exp(spread / 1.6449 * z), z a draw of the standard normal distribution."""

    samples: int
    seed: int
    share_solved: Annotated[float, Meta(description="Draws with an operating point on the fan's curve.")]
    flow: FlowRange | None = None
    fan_static_pressure: Annotated[
        PressureRange | None, Meta(description="Balance: what the fan must do; else what it does.")
    ] = None
    runs: tuple[RunRange, ...] = field(default_factory=nothing)
    hoods: tuple[HoodRange, ...] = field(default_factory=nothing)
    checks: tuple[CheckShare, ...] = field(default_factory=nothing)
    terms: Annotated[tuple[TermShare, ...], Meta(description="The five that matter most, the greatest first.")] = field(
        default_factory=nothing
    )
    terms_explain: Literal["flow", "fan-static-pressure"] = "flow"
