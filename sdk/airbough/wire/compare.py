"""POST /v1/trees/compare: two trees by run id, such as a shop before and after a machine is added."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from msgspec import Meta, field

from airbough.wire.air import AirResult
from airbough.wire.answer import (
    Engine,
    Finding,
    Source,
)
from airbough.wire.base import (
    Asked,
    Told,
    nothing,
)
from airbough.wire.collector import NamedFan
from airbough.wire.operating_point import FanOutcome
from airbough.wire.quantity import (
    FlowResult,
    Preset,
    PressureResult,
    VelocityResult,
)
from airbough.wire.tree import Tree

CompareQuestion: TypeAlias = Literal["operating-point", "balance"]


class CompareRequest(Asked, kw_only=True):
    """Two trees. Each is read in its own `units`; the answer is in those of the request."""

    units: Preset
    before: Tree
    after: Tree
    question: Annotated[
        CompareQuestion | None,
        Meta(description="Left out: operating-point where both trees have a fan, else balance (by gates)."),
    ] = None
    fans: Annotated[
        tuple[NamedFan, ...],
        Meta(max_length=20, description="Each is tried on both trees, with the collector's losses of each."),
    ] = ()


class ComparedTree(Told, kw_only=True):
    """One of the two trees as a whole."""

    air: AirResult
    friction: str
    junctions: str
    flow: Annotated[FlowResult | None, Meta(description="Left out beyond the fan's curve.")] = None
    fan_static_pressure: Annotated[PressureResult | None, Meta(description="Balance: what the fan must do.")] = None
    inlet_static_pressure: PressureResult | None = None
    name: str | None = None
    outcome: Annotated[
        Literal["operating-point", "several-operating-points", "beyond-fan-curve", "no-flow"] | None,
        Meta(description="Left out for a balance."),
    ] = None


class RunValues(Told, kw_only=True):
    """One run in one of the trees."""

    flow: FlowResult
    velocity: VelocityResult
    total_loss: PressureResult
    static_pressure: PressureResult
    idle: bool


class RunDifference(Told, kw_only=True):
    """After less before."""

    flow: FlowResult
    velocity: VelocityResult
    total_loss: PressureResult
    static_pressure: PressureResult


class RunCompared(Told, kw_only=True):
    """One run id. What one of the trees does not have, or does not solve, is left out."""

    id: str
    before: RunValues | None = None
    after: RunValues | None = None
    difference: RunDifference | None = None


class HoodValues(Told, kw_only=True):
    """One hood in one of the trees."""

    flow: FlowResult
    static_pressure: PressureResult
    open: bool
    share_of_design: float | None = None


class HoodDifference(Told, kw_only=True):
    """After less before."""

    flow: FlowResult
    static_pressure: PressureResult
    share_of_design: float | None = None


class HoodCompared(Told, kw_only=True):
    """One hood by the id of its run."""

    run: str
    machine: str | None = None
    before: HoodValues | None = None
    after: HoodValues | None = None
    difference: HoodDifference | None = None


class FanCompared(Told, kw_only=True):
    """One fan on both trees."""

    fan: str
    before: FanOutcome
    after: FanOutcome


class CompareAnswer(Told, kw_only=True):
    """The two trees and what differs; findings are matched by code, run and quantity."""

    engine: Engine
    units: Annotated[dict[str, str], Meta(description="The unit of each kind that the answer uses.")]
    preset: Preset
    question: CompareQuestion
    before: ComparedTree
    after: ComparedTree
    runs: Annotated[tuple[RunCompared, ...], Meta(description="In the order of `after`, then those removed.")]
    hoods: tuple[HoodCompared, ...]
    runs_added: tuple[str, ...]
    runs_removed: tuple[str, ...]
    findings: Annotated[tuple[Finding, ...], Meta(description="All of the tree after.")]
    findings_gained: tuple[Finding, ...]
    findings_lost: tuple[Finding, ...]
    sources: tuple[Source, ...]
    cautions: tuple[str, ...]
    fans: tuple[FanCompared, ...] = field(default_factory=nothing)
