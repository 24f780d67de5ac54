"""Many variants of one packed tree solved together: what each tells and which checks hold, as columns by variant."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from airbough.wire.variants import Check
from airbough_service.catalogue.checks import check
from airbough_service.combined.variants.patches import Base, Patch
from airbough_service.core.laws.friction import LAMINAR_END, TURBULENT_START
from airbough_service.core.limits import above
from airbough_service.core.network import into_columns, losses, operating, reaching, variants
from airbough_service.core.network.status import OK
from airbough_service.core.network.tree import area
from airbough_service.shop.gates import reach, tree_order
from airbough_service.shop.opening import is_shut
from airbough_service.solving.grades import carrying, needlessly_fast, of_hoods, settles, starves
from airbough_service.solving.grades import serving as grade
from airbough_service.solving.power import overloads
from airbough_service.solving.suction import neglected

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Values: TypeAlias = NDArray[Any] | list[Any]

_COLUMNS: Final = into_columns.G_JOIN + 1  # of what is given of a row


@dataclass(slots=True)
class Ready:
    """The arrays of a tree that its variants share, by run."""

    rows: NDArray[np.int64]
    lower: Floats
    upper: Floats
    hoods: NDArray[np.int64]
    design: Floats
    let_through: Flags
    area: Floats
    long: Flags

    @classmethod
    def of(cls, base: Base) -> Ready:
        """Return the arrays of a tree."""
        runs = base.shop.runs
        lower, upper = of_hoods(base.shop)
        hoods = [run.index for run in runs if run.run.hood is not None]
        let_through = np.ones(len(runs), np.bool_)
        for index, opening in base.opening.items():
            let_through[index] = not is_shut(opening)
        flows = [runs[index].run.hood.flow for index in hoods]  # type: ignore[union-attr]  # these have hoods
        return cls(
            rows=np.array(base.rows, np.int64),
            lower=lower,
            upper=upper,
            hoods=np.array(hoods, np.int64),
            design=np.array([np.nan if flow is None else float(flow) for flow in flows], np.float64),
            let_through=let_through,
            area=np.array([area(run.widest.bore) for run in runs]),
            long=np.array([run.length > 0.0 for run in runs]),
        )


class Block:
    """Variants of one tree, solved; `numbers` are those that the quick way answers, the rows of every array."""

    def __init__(self, base: Base, ready: Ready, patches: Sequence[Patch]) -> None:
        self.base, self.ready = base, ready
        gates = np.repeat(base.shop.tree.gate[None, :], len(patches), axis=0)
        for place, patch in enumerate(patches):
            for row, quadratic in patch.gates:
                gates[place, row] = quadratic
        found = variants.solve(
            base.shop.tree,
            base.fan,
            float(base.shop.air.viscosity),
            variants.rows_of([patch.rows for patch in patches], _COLUMNS),
            gates,
        )
        static = found.lines[:, losses.STATIC][:, ready.rows]
        answered = (found.status == OK) & ~above(-static.min(axis=1), check("suction-refused").value)
        self.left_over = [patches[place].number for place in np.flatnonzero(~answered).tolist()]
        kept = np.flatnonzero(answered)
        self.patches = [patches[place] for place in kept.tolist()]
        self.numbers = [patch.number for patch in self.patches]
        every = len(kept) == len(patches)
        self.all_flow = found.flow if every else found.flow[kept]
        self.lines = found.lines if every else found.lines[kept]
        self.residuals = found.residuals[kept]
        self.flow = self.all_flow[:, ready.rows]
        self.at_fan = np.ascontiguousarray(self.all_flow[:, 0])
        self._differing()

    def _differing(self) -> None:
        """Fill what differs by variant: areas, lengths, design flows, and who is open and active."""
        shape, ready = (len(self.patches), len(self.base.shop.runs)), self.ready
        areas, long = np.broadcast_to(ready.area, shape), np.broadcast_to(ready.long, shape)
        design = np.broadcast_to(ready.design, (shape[0], len(ready.hoods)))
        if any(patch.runs for patch in self.patches):
            areas, long = areas.copy(), long.copy()
            for place, patch in enumerate(self.patches):
                for index, run in patch.runs.items():
                    areas[place, index], long[place, index] = area(run.widest.bore), run.length > 0.0
        if any(patch.design for patch in self.patches):
            design, column = design.copy(), {int(index): k for k, index in enumerate(ready.hoods)}
            for place, patch in enumerate(self.patches):
                for index, flow in patch.design.items():
                    design[place, column[index]] = flow
        let_through = np.repeat(ready.let_through[None, :], shape[0], axis=0)
        for place, patch in enumerate(self.patches):
            for index, opening in patch.openings.items():
                let_through[place, index] = not is_shut(opening)
        self.area, self.long, self.design = areas, long, design
        self.reached = reach(self.base.shop, let_through)

    def line(self, number: int) -> Floats:
        """Return a line of losses by run."""
        return self.lines[:, number][:, self.ready.rows]

    @property
    def open(self) -> Flags:
        """By hood: whether it is open."""
        return np.asarray(self.reached.open[:, self.ready.hoods])

    @cached_property
    def velocity(self) -> Floats:
        """By run, m/s."""
        return np.asarray(self.flow / self.area)

    @cached_property
    def bore(self) -> Floats:
        """By run, m."""
        return np.asarray(np.sqrt(self.area * (4.0 / np.pi)))

    @cached_property
    def share(self) -> Floats:
        """By hood, of its design flow; not a number without one."""
        return np.asarray(self.flow[:, self.ready.hoods] / self.design)

    @cached_property
    def reynolds(self) -> Floats:
        """By run."""
        air = self.base.shop.air
        return np.asarray(self.velocity * self.bore * (float(air.density) / float(air.viscosity)))

    @cached_property
    def lower(self) -> Floats:
        """By run: the transport velocity of the most demanding dust that reaches it, m/s; 0 where none does."""
        return self._greatest(self.ready.lower)

    @cached_property
    def upper(self) -> Floats:
        """By run: the velocity above which more does nothing for any dust that reaches it, m/s."""
        return self._greatest(self.ready.upper)

    def _greatest(self, at_hood: Floats) -> Floats:
        out = np.empty(self.flow.shape)
        reaching.greatest_upstream(*tree_order(self.base.shop), at_hood, self.reached.open, out)
        return out

    @cached_property
    def fan_static(self) -> Floats:
        """Fan static pressure, Pa."""
        fan = self.base.fan
        return np.asarray(operating.fan_pressures(fan.pieces, fan.terms[:0], fan.quadratic, self.at_fan))

    @cached_property
    def power(self) -> Floats:
        """At the shaft, W; not a number where it is not known."""
        shaft = self.base.shaft
        return np.full(self.at_fan.shape, np.nan) if shaft is None else shaft.watts(self.at_fan, self.fan_static)

    @cached_property
    def load(self) -> Floats:
        """Of the motor; not a number where it is not known."""
        shaft = self.base.shaft
        return np.full(self.at_fan.shape, np.nan) if shaft is None else shaft.load(self.power)

    @cached_property
    def discharge_loss(self) -> Floats:
        """Total pressure lost after the fan, less the outlet's velocity pressure, Pa."""
        behind = len(self.base.shop.discharge)
        lost = self.lines[:, losses.TOTAL, :behind].sum(axis=1)
        return np.asarray(lost - self.base.fan.recovery * self.at_fan**2 if behind else np.zeros(self.at_fan.shape))

    def checks(self) -> dict[Check, list[bool | None]]:
        """Return whether each check holds, by variant; None where it is not judged."""
        count, carries = len(self.patches), (self.lower > 0.0)
        slow = carries & settles(_ratio(self))
        fast = carries & needlessly_fast(self.velocity / np.where(carries, self.upper, np.inf))
        needs = self.open & ~np.isnan(self.design)
        starved = needs & starves(self.share)
        bridged = self.reached.active & (self.reynolds > LAMINAR_END) & (self.reynolds < TURBULENT_START) & self.long
        deepest = -self.line(losses.STATIC).min(axis=1)
        fan = self.base.shop.request.collector.fan  # type: ignore[union-attr]  # there is one
        rated = not above(fan.speed_ratio, 1.0)  # type: ignore[union-attr]
        shaft = self.base.shaft
        powered = np.full(count, shaft is not None)
        reaches = np.full(count, True)
        if shaft is not None:
            reaches = shaft.reaches(self.at_fan)
        known = np.isfinite(self.load)
        dusty, asked = carries.any(axis=1), needs.any(axis=1)
        always, holds = np.full(count, True), np.full(count, True)
        told: dict[Check, tuple[Any, Any]] = {
            "way-open": (self.open.any(axis=1), always),
            "zone-gates": (np.array([not self.base.cut_off(patch) for patch in self.patches], np.bool_), always),
            "fan-curve": (holds, always),
            "shut-off": (holds, always),
            "one-crossing": (holds, always),
            "transport-velocity": (~slow.any(axis=1), dusty),
            "upper-velocity": (~fast.any(axis=1), dusty),
            "design-flow": (~starved.any(axis=1), asked),
            "turbulence": (~bridged.any(axis=1), always),
            "suction": (~above(deepest, neglected()), always),
            "fan-speed": (np.full(count, rated), always),
            "power-points": (reaches, powered),
            "motor-load": (~overloads(self.load), known),
        }
        return {name: _judged(*both) for name, both in told.items()}


def _judged(holds: Any, judged: Any) -> list[bool | None]:
    if judged.all():
        return list(holds.tolist())
    return [one if seen else None for one, seen in zip(holds.tolist(), judged.tolist(), strict=True)]


def _loss(number: int) -> Callable[[Block], Values]:
    return lambda block: block.line(number)


def _pressure_of_velocity(block: Block) -> Values:
    return np.asarray(block.base.shop.density / (2.0 * block.area**2) * block.flow**2)


def _ratio(block: Block) -> Floats:
    out = np.full(block.flow.shape, np.nan)
    return np.asarray(np.divide(block.velocity, block.lower, out=out, where=block.lower > 0.0))


def _graded(values: Floats, told: Flags, grades: Callable[[float], str]) -> Values:
    out = np.full(values.shape, None, object)
    for place in zip(*np.nonzero(told), strict=True):
        out[place] = grades(float(values[place]))
    return out


def _most_starved(block: Block) -> Values:
    share = np.where(block.open, block.share, np.nan)
    ids = [block.base.shop.runs[index].id for index in block.ready.hoods]
    return [None if np.isnan(own).all() else ids[int(np.nanargmin(own))] for own in share]


def _slowest(block: Block) -> Values:
    flowing = block.reached.active & (block.flow > 0.0)
    speed = np.where(flowing, block.velocity, np.inf)
    ids = [run.id for run in block.base.shop.runs]
    return [ids[int(np.argmin(own))] if any_.any() else None for own, any_ in zip(speed, flowing, strict=True)]


def _current(block: Block, power: Floats) -> Values:
    supply = block.base.supply
    return [None if supply is None or np.isnan(own) else supply.current(float(own)) for own in power]


def _full_load(block: Block) -> Values:
    supply = block.base.supply
    return [None if supply is None else supply.current(supply.rated)] * len(block.patches)


def _nothing(block: Block) -> Values:
    return [None] * len(block.patches)


def _inlet(block: Block) -> Values:
    return np.asarray(block.line(losses.STATIC)[:, list(block.base.shop.shape.roots)].min(axis=1))


FIGURES: Final[dict[str, Callable[[Block], Values]]] = {
    "outcome": lambda block: ["operating-point"] * len(block.patches),
    "system.flow": lambda block: block.at_fan,
    "system.fan_static_pressure": lambda block: block.fan_static,
    "system.inlet_static_pressure": _inlet,
    "system.collector_loss": lambda block: np.array([block.base.fan.collector_loss(flow) for flow in block.at_fan]),
    "system.discharge_loss": lambda block: block.discharge_loss,
    "system.shaft_power": lambda block: block.power,
    "system.motor_load": lambda block: block.load,
    "system.motor_current": lambda block: _current(block, block.power),
    "system.motor_full_load_current": _full_load,
    "system.most_starved_hood": _most_starved,
    "system.slowest_run": _slowest,
    "system.flow_at_least": _nothing,
    "system.flow_at_most": _nothing,
    "system.pressure_needed": _nothing,
    "system.mass_residual": lambda block: block.residuals[:, 0],
    "system.energy_residual": lambda block: block.residuals[:, 1],
    "hoods.flow": lambda block: block.flow[:, block.ready.hoods],
    "hoods.open": lambda block: block.open,
    "hoods.static_pressure": lambda block: block.line(losses.AT_HOOD)[:, block.ready.hoods],
    "hoods.design_flow": lambda block: block.design,
    "hoods.share_of_design": lambda block: block.share,
    "hoods.served": lambda block: _graded(block.share, block.open & ~np.isnan(block.share), grade),
    "runs.diameter": lambda block: block.bore,
    "runs.flow": lambda block: block.flow,
    "runs.velocity": lambda block: block.velocity,
    "runs.velocity_pressure": _pressure_of_velocity,
    "runs.reynolds": lambda block: block.reynolds,
    "runs.idle": lambda block: ~block.reached.active,
    "runs.entry_loss": _loss(losses.ENTRY),
    "runs.port_loss": _loss(losses.PORT),
    "runs.resistance_loss": _loss(losses.RESISTANCE),
    "runs.gate_loss": _loss(losses.GATE),
    "runs.friction_loss": _loss(losses.FRICTION),
    "runs.fitting_loss": _loss(losses.FITTINGS),
    "runs.join_loss": _loss(losses.JOIN),
    "runs.total_loss": _loss(losses.TOTAL),
    "runs.static_pressure": _loss(losses.STATIC),
    "runs.total_pressure": _loss(losses.AT_END),
    "runs.flow_upstream": lambda block: np.full(block.flow.shape, None, object),
    "runs.carrying_ratio": _ratio,
    "runs.carrying": lambda block: _graded(_ratio(block), block.lower > 0.0, carrying),
}
"""Figure -> its values in SI, shape (V,), (V, hoods) or (V, runs); None or not a number where it is not told."""
