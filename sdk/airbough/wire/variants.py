"""POST /v1/trees/variants: one tree or outline, and many changes of it; a row of figures and checks for each."""

from __future__ import annotations

from typing import Annotated, Any, Literal, TypeAlias

from msgspec import Meta, field

from airbough.wire.answer import Engine
from airbough.wire.base import NO_CONTROL_CHARACTERS, Asked, Name, Told, nothing
from airbough.wire.outline import OutlineRequest
from airbough.wire.problem import Fault
from airbough.wire.quantity import Preset
from airbough.wire.state import GateSetting
from airbough.wire.tree import Tree

MOST_VARIANTS = 100_000

Figure: TypeAlias = Literal[
    "outcome",
    "system.flow",
    "system.fan_static_pressure",
    "system.inlet_static_pressure",
    "system.collector_loss",
    "system.discharge_loss",
    "system.shaft_power",
    "system.motor_load",
    "system.motor_current",
    "system.motor_full_load_current",
    "system.most_starved_hood",
    "system.slowest_run",
    "system.flow_at_least",
    "system.flow_at_most",
    "system.pressure_needed",
    "system.mass_residual",
    "system.energy_residual",
    "hoods.flow",
    "hoods.open",
    "hoods.static_pressure",
    "hoods.design_flow",
    "hoods.share_of_design",
    "hoods.served",
    "runs.diameter",
    "runs.flow",
    "runs.velocity",
    "runs.velocity_pressure",
    "runs.reynolds",
    "runs.idle",
    "runs.entry_loss",
    "runs.port_loss",
    "runs.resistance_loss",
    "runs.gate_loss",
    "runs.friction_loss",
    "runs.fitting_loss",
    "runs.join_loss",
    "runs.total_loss",
    "runs.static_pressure",
    "runs.total_pressure",
    "runs.flow_upstream",
    "runs.carrying_ratio",
    "runs.carrying",
]
"""Where a figure stands in the answer of `operating-point`; those of runs and hoods come by the run's id."""

Check: TypeAlias = Literal[
    "way-open",
    "zone-gates",
    "fan-curve",
    "shut-off",
    "one-crossing",
    "transport-velocity",
    "upper-velocity",
    "design-flow",
    "turbulence",
    "suction",
    "fan-speed",
    "power-points",
    "motor-load",
]

PlacePath: TypeAlias = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=200,
        pattern=NO_CONTROL_CHARACTERS,
        description="Of a value in the document: `runs[main].diameter`, `runs[3].fittings[0].count`, "
        "`collector.fan.speed_ratio`. In brackets stands a row's number, or its id or name. Of an outline: its own "
        "places, or `runs[...]` of the tree made of it.",
        extra={"pattern_means": "no control characters, line or paragraph separators"},
    ),
]


class VariantSet(Asked, kw_only=True):
    """One value of a variant."""

    path: PlacePath
    value: Annotated[Any, Meta(description="What stands there, as in the document and in its units; null: left out.")]


class Variant(Asked, kw_only=True):
    """One variant: values that differ from the document, in their order, and how the gates stand."""

    name: Annotated[Name | None, Meta(description="Left out: its number.")] = None
    set: Annotated[
        tuple[VariantSet, ...],
        Meta(max_length=100, description="Done one after another: of two values for one place the later stands."),
    ] = ()
    state: Annotated[GateSetting | None, Meta(description="Left out: that of the request.")] = None


class VariantsRequest(Asked, kw_only=True):
    """A tree or an outline with a fan, and either a list of changes or a grid of values.

    The document is read in its own `units`, values of changes too; the answer is in those of the request.
    """

    units: Preset
    tree: Tree | None = None
    outline: Annotated[OutlineRequest | None, Meta(description="In place of `tree`.")] = None
    state: Annotated[
        GateSetting | None, Meta(description="Of every variant without one. Left out: as in the document.")
    ] = None
    changes: Annotated[tuple[Variant, ...], Meta(max_length=MOST_VARIANTS)] | None = None
    grid: Annotated[
        Annotated[
            dict[PlacePath, Annotated[tuple[Any, ...], Meta(min_length=1, max_length=1000)]],
            Meta(min_length=1, max_length=20),
        ]
        | None,
        Meta(
            description="In place of `changes`: path -> values; every combination is a variant, the last path's values "
            "following one another.",
        ),
    ] = None
    only: Annotated[
        tuple[Figure, ...], Meta(max_length=60, description="The figures asked for, as `operating-point` tells them.")
    ] = ("outcome", "system.flow", "hoods.share_of_design")


class VariantProblem(Told, kw_only=True):
    """Why a variant has no answer."""

    type: Annotated[str, Meta(description="As of a problem that is the answer to a question of its own.")]
    detail: str
    errors: Annotated[
        tuple[Fault, ...], Meta(description="Paths are of the variant's document, or of `changes` for its state.")
    ] = field(default_factory=nothing)


class VariantsAnswer(Told, kw_only=True):
    """Figures and checks of every variant, by columns: the n-th of each list is the n-th variant's."""

    engine: Engine
    units: Annotated[dict[str, str], Meta(description="The unit of each kind that the answer uses.")]
    preset: Preset
    names: tuple[str, ...]
    columns: Annotated[
        dict[str, Any],
        Meta(
            description="Each figure asked for: a list, or for hoods and runs a list by the id of the run. Null where "
            "a variant does not tell it.",
            extra_json_schema={
                "additionalProperties": {
                    "anyOf": [
                        {"type": "array"},
                        {"type": "object", "additionalProperties": {"type": "array"}},
                    ]
                }
            },
        ),
    ]
    checks: Annotated[
        dict[str, tuple[bool | None, ...]],
        Meta(
            description="Whether each check of the state holds: the finding of the same question alone is not there. "
            "Null where it is not judged. Remarks on the shape of the tree are not among them."
        ),
    ]
    problems: Annotated[dict[str, VariantProblem], Meta(description="By the number of the variant, from 0.")]
    cautions: tuple[str, ...]
    name: str | None = None
