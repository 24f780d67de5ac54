"""What the fan moves through a choice of bores, in every state at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.choosing.sizing import Chosen
from airbough_service.core.network import columns, states
from airbough_service.core.network.operating import fan_pressures, operate
from airbough_service.core.network.tree import Tree, pack
from airbough_service.questions.sizing.broken_rules import chosen_kits, chosen_options, sized, stands_for
from airbough_service.questions.sizing.joints import Kit
from airbough_service.questions.sizing.meetings import placed
from airbough_service.questions.sizing.options import Option
from airbough_service.questions.sizing.problem import Maker, Problem
from airbough_service.shop import collector
from airbough_service.shop.packing import behind_inlet, inlet_loss
from airbough_service.shop.shop import LAWS, ShopRun, build

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Moved:
    """What flows in a choice, R runs in S states.

    Attributes:
        runs: those of the request, behind them those that the tree gained.
        of_request: by run, the number of the run of the request whose air it carries.
        least: shape (S, R), at its upstream or downstream end, whichever is less, m3/s.
        flow: same shape, at its downstream end.
        pressure: shape (S,), fan static pressure, Pa.
    """

    runs: tuple[ShopRun, ...]
    of_request: list[int]
    least: Floats
    flow: Floats
    pressure: Floats


@dataclass(slots=True)
class Fan:
    """Solves choices of one request with its fan.

    Attributes:
        maker: of the problems that the choices are of.
        pattern: a packed tree that all choices share but for their table; None until the first.
    """

    maker: Maker
    pattern: Tree | None = None

    def moves(self, problem: Problem, chosen: Chosen) -> Moved | None:
        """Return what flows; None where fan and system do not cross on the curve in some state."""
        kits = chosen_kits(problem, chosen)
        if self.maker.shop.parted is not None or any(kit.worked_around for kit in kits):
            return self._of_document(problem, chosen)
        return self._of_rows(chosen_options(problem, chosen), kits)

    def _of_document(self, problem: Problem, chosen: Chosen) -> Moved | None:
        """Return what flows in a tree of other rows than most: it leaks, changes bore inside a run, or gained runs."""
        document = sized(self.maker.request, self.maker, problem, chosen)
        shop = build(document)
        fan = collector.build(shop)
        least, flows, pressures = [], [], []
        for state in self.maker.states:
            operating = operate(shop.tree, fan, shop.gates(state.openings))
            if not operating.crossings:
                return None
            flows.append(operating.flow[shop.end_rows])
            least.append(np.minimum(flows[-1], operating.flow[shop.hood_rows]))
            pressures.append(fan.static_pressure(float(operating.flow[0])))
        of_request = stands_for(self.maker.request, document)
        return Moved(shop.runs, of_request, np.array(least), np.array(flows), np.array(pressures))

    def _of_rows(self, options: list[Option], kits: list[Kit]) -> Moved | None:
        """Return what flows in the choice's rows, packed without making it a document."""
        deadline.check()
        maker, fan = self.maker, self.maker.duty.fan
        assert fan is not None
        ordered = sorted(zip(options, kits, strict=True), key=lambda pair: pair[0].run.index)
        tree, gates = self._packed([option for option, _ in ordered], [kit for _, kit in ordered])
        found = states.solve(tree, fan, gates)
        if (found.outcome > states.SEVERAL).any():
            return None
        count = len(maker.shop.runs)
        flow = found.flow[:, tree.place[:count]]
        pressure = fan_pressures(fan.pieces, fan.terms[:0], fan.quadratic, np.ascontiguousarray(found.flow[:, 0]))
        return Moved(tuple(option.run for option, _ in ordered), list(range(count)), flow, flow, pressure)

    def _packed(self, options: list[Option], kits: list[Kit]) -> tuple[Tree, Floats]:
        """Return the packed tree and the gates of its rows in every state; options and kits by run."""
        if self.pattern is None:
            self.pattern = self._first(options)
        maker, pattern, shape = self.maker, self.pattern, self.maker.shop.shape
        table = pattern.table.copy()
        gates = np.zeros((len(self.maker.states), len(table)))
        for option in options:
            index, row = option.run.index, pattern.place[option.run.index]
            parent = shape.parents[index]
            table[row] = self.maker.meetings.line(option, options[parent] if parent >= 0 else None)
            made = maker.options.made[index, option.key]
            assert made is not None
            gates[:, row] = made.gates
            table[row, columns.LOCAL] += inlet_loss(shape, index, self.maker.shop.density, option.run.end)
        for option, kit in zip(options, kits, strict=True):
            if kit.changed is not None:
                arm = options[shape.children[option.run.index][kit.changed]]
                change = self.maker.meetings.change(arm, option, kit.length)
                table[pattern.place[arm.run.index], columns.LOCAL] += change or 0.0
        return pattern._replace(table=table), gates

    def _first(self, options: list[Option]) -> Tree:
        """Return the packed tree of some choice."""
        maker, shape = self.maker, self.maker.shop.shape
        density, law = maker.shop.density, LAWS[maker.request.model.junctions]
        rows = []
        for option in options:
            parent = shape.parents[option.run.index]
            arm = maker.meetings.arm(option, options[parent]) if parent >= 0 else None
            rows.append(placed(option.row, parent, arm))
        if len(shape.roots) > 1 or maker.shop.discharge:
            rows = behind_inlet(maker.request, rows, shape, maker.shop.discharge, density)
        return pack(rows, density, float(maker.shop.air.viscosity), law)
