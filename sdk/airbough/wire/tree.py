"""The tree document: a flat list of runs, each pointing downstream with `into`."""

from __future__ import annotations

from typing import Annotated, Literal, Self, TypeAlias

from msgspec import Meta, structs

from airbough.wire.air import Air
from airbough.wire.base import (
    Asked,
    Coefficient,
    Id,
    Name,
    Ratio,
    Word,
    one,
)
from airbough.wire.collector import (
    Collector,
    PowerLaw,
)
from airbough.wire.entry import Entry
from airbough.wire.fitting import (
    OwnCoefficient,
    RunFitting,
)
from airbough.wire.places import part
from airbough.wire.quantity import (
    Angle,
    Diameter,
    FittingLength,
    FlowAboveZero,
    Length,
    MachineExtent,
    Point,
    Preset,
    PressureFromZero,
    Rise,
    Roughness,
    Share,
    StretchShare,
)

FrictionModel: TypeAlias = Literal["colebrook", "power-law"]
JunctionModel: TypeAlias = Literal["flow-ratio", "flow-ratio-third-edition", "entry-angle", "none"]


class Resistance(Asked, kw_only=True):
    """A loss inside a machine: `pressure` at `flow` and the rated air, growing with flow to the power `exponent`."""

    flow: FlowAboveZero
    pressure: PressureFromZero
    exponent: Annotated[float, Meta(ge=1.0, le=2.0)] = 2.0
    rated_air: Annotated[Air | None, Meta(description="The air of the reading. Left out: standard air.")] = None


class Hood(Asked, kw_only=True):
    """Where air and dust enter a leaf: entry, then resistance, then the change from the port to the run."""

    entry: Annotated[Entry | None, Meta(description="Left out: the usual one of `machine`.")] = None
    machine: Annotated[
        Word | None,
        Meta(description="A word of the catalogue; what is left out of flow, entry and dust is filled from it."),
    ] = None
    size: Annotated[
        MachineExtent | None,
        Meta(description="Of the machine, in what its sizes go by: a 10 in saw, a 254 mm one. Left out: the smallest."),
    ] = None
    machine_id: Annotated[Id | None, Meta(description="Ties the hoods and gates of one machine.")] = None
    flow: Annotated[
        FlowAboveZero | None,
        Meta(description="The design flow. Left out: that of `machine`, shared by area with the hoods of its machine."),
    ] = None
    resistance: Resistance | None = None
    port_diameter: Annotated[Diameter | None, Meta(description="Left out: the run's own diameter.")] = None
    port_coefficient: Annotated[
        Coefficient | None,
        Meta(description="Of the change from port to run, on the smaller diameter, in place of the catalogue's."),
    ] = None
    dust: Annotated[
        Word | None, Meta(description="Overrides the tree's dust. Both left out: the usual one of `machine`.")
    ] = None


MOST_KNOWN = 100


class GatePoint(Asked, kw_only=True):
    """A gate's own coefficient at one opening, on the run's velocity pressure."""

    opening: Share
    coefficient: Coefficient


class Gate(Asked, kw_only=True):
    """A slide gate; it passes max(opening, leakage) of the duct's area."""

    opening: Share
    leakage: Annotated[Share, Meta(description="The share that stays open when shut.")] = 0.0
    machine_id: Annotated[
        Id | None, Meta(description="Gates of one machine move together; each hood upstream must be of it.")
    ] = None
    known: Annotated[
        tuple[GatePoint, ...],
        Meta(max_length=MOST_KNOWN, description="Coefficients at just these openings, in place of the catalogue's."),
    ] = ()


class Straight(Asked, tag_field="type", tag="straight", kw_only=True):
    """The run goes straight through the junction; unlike diameters change size there.

    Both fields are refused where the junction's law charges no change of size: under `none`, and under `entry-angle`
    where runs meet.
    """

    taper_length: Annotated[
        FittingLength | None, Meta(description="Left out: an abrupt change; under entry-angle that law's own loss.")
    ] = None
    coefficient: OwnCoefficient = None


class BranchFactor(Asked, kw_only=True):
    """Factor of a branch's flow-ratio law: low + slope * flow ratio below `step`, `high` above it.

    The branch's coefficient is factor * (lift + momentum form) - lift.
    """

    low: Annotated[float, Meta(ge=-100.0, le=100.0)]
    slope: Annotated[float, Meta(ge=-100.0, le=100.0)]
    high: Annotated[float, Meta(ge=-100.0, le=100.0)]
    step: Annotated[float, Meta(ge=0.0, le=100.0, description="Flow ratio; above 1 there is none.")]
    lift: Annotated[float, Meta(ge=0.0, le=1.0, description="1: the factor is on 1 + the momentum form.")] = 0.0


class StraightTerms(Asked, kw_only=True):
    """What a branch costs the straight run: linear * flow ratio - drag * its momentum along `into`.

    The straight run's coefficient is the sum of these, less the square of all branches' flow ratio.
    """

    linear: Annotated[float, Meta(ge=-100.0, le=100.0)]
    drag: Annotated[float, Meta(ge=-100.0, le=100.0)]


class Branch(Asked, tag_field="type", tag="branch", kw_only=True):
    """The run enters the junction at `angle` to the direction of `into`."""

    angle: Annotated[Angle, Meta(description="5 to 90 deg.")]
    factor: Annotated[
        BranchFactor | None, Meta(description="In place of the catalogue's, under the flow-ratio laws.")
    ] = None
    straight: Annotated[
        StraightTerms | None, Meta(description="In place of the catalogue's, under the flow-ratio laws.")
    ] = None
    entry_factor: Annotated[
        Coefficient | None, Meta(description="In place of the catalogue's, under entry-angle; on the run's own VP.")
    ] = None


Join: TypeAlias = Straight | Branch


class Leak(Asked, kw_only=True):
    """Leaking joints of a run by numbers: leak [m3/s] = coefficient * suction [Pa] ^ exponent."""

    coefficient: Annotated[float, Meta(ge=0.0, le=10.0)]
    exponent: Annotated[float, Meta(ge=0.5, le=1.0, description="The same for all runs of a tree.")]


class Run(Asked, kw_only=True):
    """One run of duct, from a hood or a junction down to the next junction or the collector.

    `diameter` is that of its upstream end; a `taper` or `abrupt-change` among its fittings changes it.
    """

    id: Id
    into: Annotated[Id | None, Meta(description="The run that this one flows into; null: the collector's inlet.")]
    diameter: Diameter
    length: Annotated[
        Length | None,
        Meta(description="Left out: that of `path`; one of both is needed. A hose may be longer than it: it sags."),
    ] = None
    path: Annotated[
        Annotated[tuple[Point, ...], Meta(min_length=2, max_length=200)] | None,
        Meta(
            description="The centreline, from the run's downstream end up. Length and rise follow where they are left "
            "out, and turns where `fittings` has none: elbows of the usual radius and construction (in a hose: bends).",
        ),
    ] = None
    duct: Annotated[Word | None, Meta(description="A construction of the catalogue.")] = None
    roughness: Annotated[Roughness | None, Meta(description="Overrides that of `duct`.")] = None
    friction_multiplier: Annotated[Ratio | None, Meta(description="Factor on the friction loss.")] = None
    power_law: Annotated[PowerLaw | None, Meta(description="In place of the constants of `duct`.")] = None
    rise: Annotated[
        Rise | None, Meta(description="Height gained in the direction of flow. Left out: that of `path`, or none.")
    ] = None
    stretch: Annotated[StretchShare | None, Meta(description="Share of a hose's full extension, 0.5..1.")] = None
    fittings: Annotated[tuple[RunFitting, ...], Meta(max_length=50)] = ()
    join: Join | None = None
    hood: Hood | None = None
    gate: Gate | None = None
    gauge: Annotated[int, Meta(ge=10, le=32, description="Sheet gauge, for strength.")] | None = None
    wall_thickness: Annotated[FittingLength | None, Meta(description="Wall, for strength.")] = None
    leakage_class: Annotated[Word | None, Meta(description="Leaking joints: a class of the catalogue.")] = None
    leak: Annotated[Leak | None, Meta(description="In place of `leakage_class`.")] = None


class Model(Asked, kw_only=True):
    """Which laws answer."""

    friction: FrictionModel = "colebrook"
    junctions: JunctionModel = "flow-ratio"


class Uncertainty(Asked, kw_only=True):
    """Monte Carlo over the catalogue's spreads."""

    samples: Annotated[int, Meta(ge=10, le=10000)] = 400
    seed: Annotated[int, Meta(ge=0, le=4294967295)] = 1


class Tree(Asked, kw_only=True):
    """A duct tree, and what is asked of any tree."""

    units: Preset
    runs: Annotated[tuple[Run, ...], Meta(min_length=1, max_length=10000)]
    name: Name | None = None
    air: Air | None = None
    dust: Word | None = None
    collector: Collector | None = None
    model: Model = Model()
    resolved: Annotated[bool, Meta(description="Answer the request too, catalogue words replaced by numbers.")] = False
    explain: Annotated[bool, Meta(description="Answer each term with formula, inputs and source.")] = False
    uncertainty: Uncertainty | None = None

    def run(self, id: str) -> Run:
        """Return the run with this id.

        Raises:
            LookupError: where there is none, with the nearest ids.
        """
        return one(self.runs, "id", id)

    def with_run(self, id: str, /, **changes: object) -> Self:
        """Return the same tree with one run changed: `tree.with_run("main", diameter=8)`.

        Args:
            id: of the run.
            changes: its fields; a part of it as a struct or as a plain table.

        Raises:
            LookupError: where no run has this id, with the nearest ids.
            TypeError: where a run has no such field.
            ValidationError: of msgspec, where a table is no such part.
        """
        old = self.run(id)
        parts = {name: part(Run, name, value) for name, value in changes.items()}
        new = structs.replace(old, **parts)
        return structs.replace(self, runs=tuple(new if run is old else run for run in self.runs))
