"""What the readings would be: one solved setting of the tree, and each reading computed from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from airbough.wire.collector import Collector
from airbough.wire.diagnosis import (
    DiagnosisRequest,
    FanStaticPressureReading,
    FlowReading,
    HoodStaticPressureReading,
    Reading,
    StaticPressureReading,
    VelocityPressureReading,
    VelocityReading,
)
from airbough_service.core.evidence.draws import HALF_WIDTH
from airbough_service.core.laws import fan as curves
from airbough_service.core.laws.fan import Fan
from airbough_service.core.network import (
    sampling,
)
from airbough_service.core.network.losses import Losses, losses
from airbough_service.core.network.tree import (
    Tree,
    area,
    dynamic,
)
from airbough_service.shop.collector import outside_curve
from airbough_service.shop.pieces import tag
from airbough_service.shop.shop import Shop
from airbough_service.solving.one_draw import drawn_gate, drawn_tree
from airbough_service.solving.uncertain_terms import gathered

Floats = NDArray[np.float64]
KINDS = {
    "static-pressure": "pressure",
    "hood-static-pressure": "pressure",
    "fan-static-pressure": "pressure",
    "velocity-pressure": "pressure",
    "velocity": "velocity",
    "flow": "flow",
}
"""Quantity of a reading -> kind of quantity."""


@dataclass(frozen=True, slots=True)
class Setting:
    """One tree, fan and state of the gates; `shop` tells which rows are whose, its leaks included."""

    shop: Shop
    tree: Tree
    fan: Fan
    gate: Floats

    def solved(self) -> Solution | None:
        """Return what flows, or None where the curve does not reach it."""
        flow = sampling.flow_of(self.tree, self.fan, self.gate)
        if flow is None:
            return None
        at_fan = self.fan.left_for_tree(float(flow[0]))
        return Solution(self, flow, losses(self.tree, self.gate, flow, at_fan))


@dataclass(frozen=True, slots=True)
class Solution:
    """A solved setting; flow and losses are by packed row."""

    setting: Setting
    flow: Floats
    parts: Losses

    def rows(self, index: int) -> tuple[int, int]:
        """Return the rows of a run's two ends; they differ where it leaks."""
        shop = self.setting.shop
        return shop.hood_row(index), shop.end_row(index)

    def reading(self, asked: Reading, index: int) -> float:
        """Return one reading in SI; `index` is its run's number, of no meaning for the fan's."""
        if isinstance(asked, FanStaticPressureReading):
            return self.setting.fan.static_pressure(float(self.flow[0]))
        if isinstance(asked, HoodStaticPressureReading):
            return float(self.parts.at_hood[self.rows(index)[0]])
        length = self.setting.shop.runs[index].length
        share = 1.0 if asked.distance is None or length == 0.0 else float(asked.distance) / length
        row, bore, ahead = self._place(index, share)
        q = float(self.flow[row])
        if isinstance(asked, FlowReading):
            return q
        if isinstance(asked, VelocityReading):
            return q / area(bore)
        pressure = dynamic(self.setting.shop.density, bore) * q * q
        if isinstance(asked, VelocityPressureReading):
            return pressure
        if asked.distance is None:
            return float(self.parts.static_pressure[row])
        still = ahead * float(self.parts.friction[row] + self.parts.fittings[row])
        return float(self.parts.total_pressure[row]) + still - pressure

    def _place(self, index: int, share: float) -> tuple[int, float, float]:
        """Return the row in which a share of a run's length lies, the bore there, and the share of the row ahead."""
        shop = self.setting.shop
        parts = shop.runs[index].parts
        if shop.parted is None:
            return shop.hood_row(index), parts[0].bore, 1.0 - share
        rows, end = shop.parted.rows[index], 0.0
        for own in rows:
            end += own.share
            if share < end or own is rows[-1]:
                break
        ahead = (end - share) / own.share if own.share > 0.0 else 0.0
        return int(shop.tree.place[own.row]), parts[own.part].bore, ahead

    def everything(self) -> dict[str, Floats]:
        """Return, by usual reading, its value at every run of the document."""
        pairs = [self.rows(run.index) for run in self.setting.shop.runs]
        upper, lower = np.array([pair[0] for pair in pairs]), np.array([pair[1] for pair in pairs])
        return {
            "static-pressure": self.parts.static_pressure[lower],
            "flow": self.flow[lower],
            "hood-static-pressure": self.parts.at_hood[upper],
        }


@dataclass(frozen=True, slots=True)
class Bench:
    """The readings and the setting that they are held against.

    Attributes:
        base: as in the document, the fan scaled where a reading says so.
        solution: of the base.
        asked: the readings, in SI.
        places: number of each reading's run.
        weighed: numbers of the readings that weigh.
        model: what one standard deviation of each uncertain term does to the readings, shape (terms, m).
        wide: the same for every usual reading at every run.
    """

    base: Setting
    solution: Solution
    asked: tuple[Reading, ...]
    places: tuple[int, ...]
    weighed: tuple[int, ...]
    model: Floats
    wide: dict[str, Floats]

    def readings(self, solution: Solution) -> Floats:
        """Return the weighing readings as computed, shape (m,)."""
        return np.array([solution.reading(self.asked[k], self.places[k]) for k in self.weighed])

    def computed(self, setting: Setting) -> Floats | None:
        """Solve a setting and return its weighing readings; None where it has none."""
        solution = setting.solved()
        return None if solution is None else self.readings(solution)

    @property
    def values(self) -> Floats:
        """The weighing readings as measured, SI."""
        return np.array([float(self.asked[k].value) for k in self.weighed])


def scaled(fan: Fan, speed: float) -> Fan:
    """Return the fan at another speed, by the fan laws."""
    return replace(fan, pieces=curves.scale(fan.pieces, speed, 1.0))


def shaken(base: Setting, request: DiagnosisRequest, solution: Solution) -> list[Solution]:
    """Return the solution with each uncertain term raised by one standard deviation, one at a time."""
    collector = request.collector or Collector()
    names = [loss.name for loss in outside_curve(collector, collector.fan)]
    terms, uses = gathered(base.shop, base.gate, names)
    out = []
    for k, spread in enumerate(terms.spreads):
        factor = np.ones(len(terms.spreads))
        factor[k] = float(np.exp(spread / HALF_WIDTH))
        pieces, losses_ = base.fan.pieces.copy(), base.fan.terms.copy()
        pieces[:, 2:] *= factor[uses.fan] if uses.fan >= 0 else 1.0
        losses_[:, 0] *= factor[uses.losses]
        fan = replace(base.fan, pieces=pieces, terms=losses_)
        tree = drawn_tree(base.tree, uses, factor)
        found = replace(base, tree=tree, fan=fan, gate=drawn_gate(base.gate, uses, factor)).solved()
        if found is not None:
            out.append(found)
    return out


def bench(base: Setting, request: DiagnosisRequest, places: Sequence[int], solution: Solution) -> Bench:
    """Return readings and setting made ready for weighing."""
    weighed = tuple(k for k, reading in enumerate(request.readings) if not reading.scales_fan)
    ready = Bench(base, solution, request.readings, tuple(places), weighed, np.zeros((0, len(weighed))), {})
    own, everything = ready.readings(solution), solution.everything()
    raised = shaken(base, request, solution)
    model = np.array([ready.readings(one) - own for one in raised]).reshape(-1, len(weighed))
    wide = {
        name: np.array([one.everything()[name] - value for one in raised]).reshape(-1, value.size)
        for name, value in everything.items()
    }
    return replace(ready, model=model, wide=wide)


def kind_of(reading: Reading) -> str:
    """Return the kind of quantity of a reading."""
    return KINDS[tag_of(reading)]


def tag_of(reading: Reading) -> str:
    """Return a reading's quantity."""
    return tag(reading)


def is_static(reading: Reading) -> bool:
    """Return whether a reading is a gauge pressure on the suction side."""
    return isinstance(reading, StaticPressureReading | HoodStaticPressureReading)
