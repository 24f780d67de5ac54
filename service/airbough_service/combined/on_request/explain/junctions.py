"""The terms of a junction: the law that answers, each arm's share in it, and the pressures on either side."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from airbough_service.catalogue import Passport
from airbough_service.combined.on_request.explain.sheet import (
    Input,
    Sheet,
)
from airbough_service.core.laws.junction import branch_factor
from airbough_service.core.network import columns
from airbough_service.core.network.junction import junction_losses
from airbough_service.core.network.losses import Losses
from airbough_service.shop.packing import inlet_loss
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
)

Floats = NDArray[np.float64]


class Junctions:
    """The junctions of one solved tree."""

    def __init__(self, sheet: Sheet, shop: Shop, flow: Floats, parts: Losses) -> None:
        self.sheet, self.shop, self.flow, self.parts = sheet, shop, flow, parts
        self.table, self.links = shop.tree.table, shop.tree.links
        self.by_law = np.asarray(junction_losses(self.table, self.links, flow))
        self.shared: dict[int, float] = {}

    def arm(self, run: ShopRun) -> None:
        """Write what a run's entry into its junction costs."""
        parent = self.shop.shape.parents[run.index]
        row = self.shop.end_row(run.index)
        change = float(self.shop.tree.change[row]) * float(self.flow[row]) ** 2
        if parent >= 0 and len(self.shop.shape.children[parent]) > 1:
            into = self.shop.hood_row(parent)
            law = int(self.links[into, columns.LAW])
            if law == columns.ENTRY and self.flow[into] > 0.0:
                self._entry(run, row, into, parent)
            elif law != columns.MEET and self.flow[into] > 0.0:
                self._flow_ratio(run, row, into, parent)
        per_flow = inlet_loss(self.shop.shape, run.index, self.shop.density, run.end)
        if per_flow > 0.0:
            chamber = per_flow * float(self.flow[row]) ** 2
            self.sheet.pressure_in_bore(float(self.flow[row]), run.end, chamber, run.id, "collector")
        self.sheet.write(
            "join-loss", "law + change", ("pressure", float(self.parts.join[row])), run.id, f"runs[{run.index}].join",
            law=("pressure", float(self.by_law[row])), change=("pressure", change),
        )  # fmt: skip

    def _passport(self, run: ShopRun) -> Passport | None:
        """Return where the arm's law comes from."""
        if run.arm.is_branch:
            own = self.shop.joined[run.index].junction
            return None if own is None else own.passport
        arms = self.shop.shape.children[self.shop.shape.parents[run.index]]
        found = (self.shop.joined[arm].beside for arm in arms)
        return next((beside.passport for beside in found if beside is not None), None)

    def _pressure(self, row: int, column: int) -> tuple[str, float]:
        """Return a run's velocity pressure at one end."""
        return "pressure", float(self.table[row, column]) * float(self.flow[row]) ** 2

    def _arms(self, parent: int) -> list[ShopRun]:
        return [self.shop.runs[index] for index in self.shop.shape.children[parent]]

    def _entry(self, run: ShopRun, row: int, into: int, parent: int) -> None:
        """Write an arm of the velocity-pressure method."""
        if into not in self.shared:
            self.shared[into] = self._resultant(parent)
        self.sheet.write(
            "join-law", "(1 + entry_factor) * velocity_pressure - min(velocity_pressure_into, resultant)",
            ("pressure", float(self.by_law[row])), run.id, f"runs[{run.index}].join", self._passport(run),
            entry_factor=float(self.table[row, columns.ENTRY_FACTOR]),
            velocity_pressure=self._pressure(row, columns.VP_END),
            velocity_pressure_into=self._pressure(into, columns.VP_START),
            resultant=("pressure", self.shared[into]),
        )  # fmt: skip

    def _resultant(self, parent: int) -> float:
        """Write the flow-weighted velocity pressure of the arms."""
        inputs: dict[str, Input] = {}
        weighted = total = 0.0
        for k, arm in enumerate(self._arms(parent), 1):
            row = self.shop.end_row(arm.index)
            pressure, q = self._pressure(row, columns.VP_END), float(self.flow[row])
            inputs |= {f"flow_{k}": ("flow", q), f"velocity_pressure_{k}": pressure}
            weighted += q * pressure[1]
            total += q
        ks = range(1, len(inputs) // 2 + 1)
        over = " + ".join(f"flow_{k} * velocity_pressure_{k}" for k in ks)
        under = " + ".join(f"flow_{k}" for k in ks)
        value = weighted / total
        at = f"runs[{parent}]"
        self.sheet.write(
            "resultant-velocity-pressure", f"({over}) / ({under})", ("pressure", value),
            self.shop.runs[parent].id, at, **inputs,
        )  # fmt: skip
        return value

    def _momentum(self, parent: int, into: int) -> float:
        """Write the arms' momentum along the run that they enter."""
        inputs: dict[str, Input] = {"flow_into": ("flow", float(self.flow[into]))}
        parts, value = [], 0.0
        for k, arm in enumerate(self._arms(parent), 1):
            row = self.shop.end_row(arm.index)
            ratio, cosine = arm.arm.area_ratio, arm.arm.cosine
            inputs |= {f"area_ratio_{k}": ratio, f"cosine_{k}": cosine, f"flow_{k}": ("flow", float(self.flow[row]))}
            parts.append(f"area_ratio_{k} * cosine_{k} * (flow_{k} / flow_into)^2")
            value += ratio * cosine * float(self.flow[row] / self.flow[into]) ** 2
        run, at = self.shop.runs[parent].id, f"runs[{parent}]"
        self.sheet.write("momentum", " + ".join(parts), value, run, at, **inputs)
        return value

    def _flow_ratio(self, run: ShopRun, row: int, into: int, parent: int) -> None:
        """Write an arm of a flow-ratio law."""
        formula, inputs = self._branch(run, row, into, parent) if run.arm.is_branch else self._straight(parent)
        inputs |= {
            "velocity_pressure_into": self._pressure(into, columns.VP_START),
            "flow": ("flow", float(self.flow[row])),
            "flow_into": ("flow", float(self.flow[into])),
        }
        self.sheet.write(
            "join-law", f"velocity_pressure_into * ({formula})", ("pressure", float(self.by_law[row])), run.id,
            f"runs[{run.index}].join", self._passport(run), **inputs,
        )  # fmt: skip

    def _branch(self, run: ShopRun, row: int, into: int, parent: int) -> tuple[str, dict[str, Input]]:
        """Return a branch's coefficient: its factor times the momentum form, or times that form and what lifts it."""
        if into not in self.shared:
            self.shared[into] = self._momentum(parent, into)
        inputs: dict[str, Input] = {
            "area_ratio": float(self.table[row, columns.AREA_RATIO]),
            "momentum": self.shared[into],
            "branch_factor": self._branch_factor(run, row, into),
        }
        form = f"1 + (area_ratio * flow / flow_into)^2 - {run.arm.constants.momentum:g} * momentum"
        if run.arm.lift == 0.0:
            return f"branch_factor * ({form})", inputs
        return f"branch_factor * (lift + {form}) - lift", inputs | {"lift": run.arm.lift}

    def _straight(self, parent: int) -> tuple[str, dict[str, Input]]:
        """Return the straight run's coefficient: what each branch costs it, less the square of their flow ratio."""
        inputs: dict[str, Input] = {}
        parts = []
        for k, arm in enumerate((arm for arm in self._arms(parent) if arm.arm.is_branch), 1):
            own = arm.arm
            inputs |= {
                f"linear_{k}": own.linear,
                f"drag_{k}": own.drag,
                f"area_ratio_{k}": own.area_ratio,
                f"cosine_{k}": own.cosine,
                f"flow_{k}": ("flow", float(self.flow[self.shop.end_row(arm.index)])),
            }
            drag = f"drag_{k} * {own.constants.momentum:g} * area_ratio_{k} * cosine_{k}"
            parts.append(f"linear_{k} * flow_{k} / flow_into - {drag} * (flow_{k} / flow_into)^2")
        return f"{' + '.join(parts)} - (1 - flow / flow_into)^2", inputs

    def _branch_factor(self, run: ShopRun, row: int, into: int) -> float:
        """Write a branch's factor at its flow ratio."""
        ratio = float(self.flow[row] / self.flow[into])
        low, slope, high, step = run.arm.factor
        join = run.arm.constants.join
        value = float(branch_factor(low, slope, high, step, join, ratio)[0])
        inputs: dict[str, Input] = {"low": low, "slope": slope, "flow_ratio": ratio}
        formula = "low + slope * flow_ratio"
        if ratio >= step + join:
            formula, inputs = "high", {"high": high}
        elif ratio > step - join:
            left = f"slope * (step - {join:g})"
            formula = f"low + {left} + (high - low - {left}) * (flow_ratio - step + {join:g}) / {2.0 * join:g}"
            inputs |= {"high": high, "step": step}
        at = f"runs[{run.index}].join"
        self.sheet.write("branch-factor", formula, value, run.id, at, self._passport(run), **inputs)
        return value
