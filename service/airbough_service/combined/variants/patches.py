"""What a variant changes of a tree that is packed already: rows, gates and design flows, where no more is touched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

import numpy as np
from msgspec import structs
from numpy.typing import NDArray

from airbough.wire.fitting import AbruptChange, Taper
from airbough.wire.problem import Fault
from airbough.wire.state import GateSetting
from airbough.wire.tree import Run
from airbough_service.combined.variants.asked import Set
from airbough_service.combined.variants.places import put
from airbough_service.core.laws.fan import Fan
from airbough_service.core.network import into_columns, tree
from airbough_service.shop.gates import GateState, document, setting, shut_off
from airbough_service.shop.opening import unclear
from airbough_service.shop.packing import ShopRun, friction_of, gate_quadratic, inlet_loss, packed
from airbough_service.shop.shop import Shop, altered
from airbough_service.solving.motor import supply_of
from airbough_service.solving.power import Shaft

Floats = NDArray[np.float64]

_NOTHING: Final = frozenset({"gauge", "wall_thickness"})  # of a run, that no flow hangs on
_REBUILT: Final = frozenset(
    {"diameter", "duct", "roughness", "friction_multiplier", "power_law", "stretch", "fittings"}
)  # of a run, by which its losses are told anew
_OF_HOOD: Final = frozenset({"entry", "resistance", "port_diameter", "port_coefficient"})
_OF_GATE: Final = frozenset({"opening", "leakage", "known"})
_MOST_KEPT: Final = 4096  # settings and openings of gates that are remembered while a request is answered


class NotPatchedError(Exception):
    """A variant that is to be solved from its whole document."""


@dataclass(slots=True)
class Patch:
    """What a variant changes.

    Attributes:
        number: of the variant.
        rows: packed rows, each with what is given of it.
        gates: packed rows with their gates' coefficients, Pa per (m3/s)^2.
        openings: run number -> opening in place of the document's.
        runs: run number -> the run as it then is.
        design: run number -> the hood's design flow, m3/s.
        named: machines that the state names as open, by number.
    """

    number: int
    rows: list[tuple[int, Sequence[float]]] = field(default_factory=list)
    gates: list[tuple[int, float]] = field(default_factory=list)
    openings: dict[int, float] = field(default_factory=dict)
    runs: dict[int, ShopRun] = field(default_factory=dict)
    design: dict[int, float] = field(default_factory=dict)
    named: frozenset[int] = frozenset()


class Base:
    """A tree packed once, and how variants differ from it."""

    def __init__(self, shop: Shop, fan: Fan, shaft: Shaft | None) -> None:
        self.shop, self.fan, self.shaft, self.supply = shop, fan, shaft, supply_of(shop)
        self.rows = shop.hood_rows.tolist()
        self.several = len(shop.shape.roots) > 1
        self.behind_inlet = self.several or bool(shop.discharge)
        self.opening = document(shop)
        self._quadratics: dict[tuple[int, float], float] = {}
        self._settings: dict[object, GateState] = {}

    @cached_property
    def _given(self) -> list[list[float]]:
        """What is given of every run for packing; few bases in many airs are asked for it."""
        return [self._row(run) for run in self.shop.runs]

    def patch(self, number: int, sets: Sequence[Set], state: GateSetting | None) -> Patch:
        """Return what a variant changes.

        Args:
            number: of the variant.
            sets: values of runs of the tree.
            state: of the gates; None as in the document.

        Raises:
            NotPatchedError: it changes more.
        """
        out = Patch(number)
        runs: dict[int, Run] = {}
        touched: dict[int, set[str]] = {}
        for goal, value in sets:
            index, name = self._touched(goal.steps, value)
            old = runs.get(index) or self.shop.request.runs[index]
            runs[index] = put(old, goal.steps[2:], value)
            touched.setdefault(index, set()).add(name)
        if runs:
            self._runs(out, runs, touched)
        if state is not None:
            self._state(out, state)
        return out

    def cut_off(self, patch: Patch) -> bool:
        """Return whether a shut zone gate cuts off a machine that stands open or is named."""
        return bool(self.shop.machines.zones and shut_off(self.shop, patch.openings, patch.named))

    def _touched(self, steps: tuple[str | int, ...], value: object) -> tuple[int, str]:
        """Return the run that a value is of, and what of it."""
        if len(steps) < 3 or steps[0] != "runs" or value is None:
            raise NotPatchedError
        index, name, more = int(steps[1]), str(steps[2]), steps[3:]
        run = self.shop.request.runs[index]
        if run.path is not None:
            raise NotPatchedError
        if name in _NOTHING or name == "rise" or (name == "length" and not more):
            return index, name
        if name in _REBUILT:
            return index, self._own_bore(index, name)
        if name == "gate" and more and more[0] in _OF_GATE:
            return index, "gate"
        if name == "hood" and more and more[0] == "flow":
            return index, "flow"
        if name == "hood" and more and more[0] in _OF_HOOD:
            return index, self._own_bore(index, str(more[0]))
        raise NotPatchedError

    def _own_bore(self, index: int, name: str) -> str:
        """Return that losses change, but for a bore by whose area the hoods of a machine share its flow."""
        hood = self.shop.request.runs[index].hood
        shares = index in self.shop.hoods.flows and hood is not None and hood.machine_id is not None
        if name in ("diameter", "port_diameter") and shares:
            raise NotPatchedError
        return "losses"

    def _runs(self, out: Patch, runs: dict[int, Run], touched: dict[int, set[str]]) -> None:
        """Add what changed runs change."""
        rebuilt = any("losses" in what for what in touched.values())
        for index, run in runs.items():
            what = touched[index]
            if what & {"length", "rise"} and abs(float(run.rise or 0.0)) > float(run.length or 0.0):
                raise NotPatchedError  # by a rounding more than its length, or by a fault
            if "flow" in what:
                assert run.hood is not None
                assert run.hood.flow is not None
                out.design[index] = float(run.hood.flow)
            rebuilt = rebuilt or ("length" in what and not self._like(index, run))
        if rebuilt:
            self._rebuild(out, runs)
            return
        for index, run in runs.items():
            if "length" in touched[index]:
                self._longer(out, index, run)
            if "gate" in touched[index]:
                self._gate(out, index, structs.replace(self.shop.runs[index], run=run))

    def _like(self, index: int, run: Run) -> bool:
        """Return whether no more than friction hangs on a run's length."""
        alike = (float(run.length or 0.0) > 0.0) == (self.shop.runs[index].length > 0.0)
        return alike and not any(isinstance(fitting, Taper | AbruptChange) for fitting in run.fittings)

    def _longer(self, out: Patch, index: int, run: Run) -> None:
        """Add a run of other length and else as it was."""
        old, length = self.shop.runs[index], float(run.length or 0.0)
        stretched, power_law = friction_of(self.shop.request, old, length, self.shop.density)
        given = self._given[index].copy()
        given[into_columns.G_LENGTH] = stretched
        if power_law is not None:
            given[into_columns.G_POWER], given[into_columns.G_POWER_EXPONENT] = power_law
        out.rows.append((self.rows[index], given))

    def _rebuild(self, out: Patch, runs: dict[int, Run]) -> None:
        """Add runs whose losses are told anew, with those that flow into them."""
        every = list(self.shop.request.runs)
        for index, run in runs.items():
            every[index] = run
        changed = altered(self.shop, structs.replace(self.shop.request, runs=tuple(every)), runs)
        if changed is None:
            raise NotPatchedError
        for index, new in changed.items():
            if len(new.parts) > 1 or (index in runs and self._moves_inlet(index, new)):
                raise NotPatchedError
            out.rows.append((self.rows[index], self._row(new)))
            out.runs[index] = new
            if new.run.gate is not None:
                self._gate(out, index, new)

    def _moves_inlet(self, index: int, run: ShopRun) -> bool:
        """Return whether what stands at the collector's inlet, or the fan's outlet, changes its bore with a run."""
        at_inlet = self.shop.shape.parents[index] < 0
        same = run.end == self.shop.runs[index].end
        return at_inlet and not same and (self.behind_inlet or self.shaft is not None)

    def _row(self, run: ShopRun) -> list[float]:
        """Return what is given of a run for packing."""
        shop = self.shop
        parent = shop.shape.parents[run.index]
        own = packed(shop.request, run, parent, shop.density)
        lost = inlet_loss(shop.shape, run.index, shop.density, own.end)
        return list(tree.given(own._replace(change=own.change + lost)))

    def _gate(self, out: Patch, index: int, run: ShopRun) -> None:
        """Add the gate of a run that changed."""
        assert run.run.gate is not None
        opening = float(run.run.gate.opening)
        if unclear(run.run.gate):
            raise NotPatchedError
        out.gates.append((self.rows[index], gate_quadratic(run, self.shop.density)))
        if opening != self.opening[index]:
            out.openings[index] = opening
        out.runs[index] = run

    def _state(self, out: Patch, asked: GateSetting) -> None:
        """Add how the gates stand."""
        if out.openings:  # of the document that the state is of
            raise NotPatchedError
        state = self._setting(asked)
        out.named = state.named
        out.openings = state.openings
        for index, opening in state.openings.items():
            own = out.runs.get(index)
            quadratic = (
                self._quadratic(index, opening) if own is None else gate_quadratic(own, self.shop.density, opening)
            )
            out.gates.append((self.rows[index], quadratic))

    def _setting(self, asked: GateSetting) -> GateState:
        """Return the state that a setting means, of the document as it is."""
        key = (asked.open, tuple((asked.openings or {}).items()))
        if key not in self._settings:
            faults: list[Fault] = []
            found = setting(self.shop, asked, "state", faults)
            if faults:
                raise NotPatchedError
            if len(self._settings) >= _MOST_KEPT:
                self._settings.clear()
            self._settings[key] = found
        return self._settings[key]

    def _quadratic(self, index: int, opening: float) -> float:
        """Return a gate's coefficient at an opening, Pa per (m3/s)^2."""
        key = index, opening
        if key not in self._quadratics:
            if len(self._quadratics) >= _MOST_KEPT:
                self._quadratics.clear()
            self._quadratics[key] = gate_quadratic(self.shop.runs[index], self.shop.density, opening)
        return self._quadratics[key]
