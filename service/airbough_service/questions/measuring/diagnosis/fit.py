"""Fitting each suspect to the readings, telling it, and what would part suspects that explain alike."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough.wire.diagnosis import (
    NextReading,
    Suspect,
    SuspectPair,
)
from airbough.wire.quantity import Preset, printed
from airbough_service import catalogue
from airbough_service.catalogue.spreads import spread_of
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.evidence import weighing
from airbough_service.core.evidence.draws import HALF_WIDTH
from airbough_service.core.evidence.weighing import (
    NINETY,
    Fit,
    Predict,
    Weights,
)
from airbough_service.core.network.tree import dynamic
from airbough_service.questions.measuring.diagnosis.model import (
    KINDS,
    Bench,
    Solution,
    tag_of,
)
from airbough_service.questions.measuring.diagnosis.suspects import Hypothesis
from airbough_service.terms import units

Floats = NDArray[np.float64]
LOOKED_AT: Final = 30  # suspects whose whole grid is looked at after every other point of it
REFINED: Final = 10  # suspects whose unknown is refined; others lie far behind
TOLD: Final = 10
APART: Final = 2.0  # standard deviations between two suspects, above which a reading tells them apart
TELLS: Final = 0.1  # share of the explanation above which a reading counts as telling


@dataclass(frozen=True, slots=True)
class Found:
    """A suspect fitted: its unknown, the solution with it, and what it does to the weighing readings."""

    hypothesis: Hypothesis
    fit: Fit
    solution: Solution
    signature: Floats


def fitted(bench: Bench, by: Weights, suspects: list[Hypothesis], before: float) -> list[Found]:
    """Return the suspects that explain something, the one that leaves least first."""
    values = bench.values
    roughly = []
    for hypothesis in suspects:
        _, left = weighing.scan(_predictor(bench, hypothesis), values, by, hypothesis.grid[::2])
        roughly.append((left, hypothesis))
    roughly.sort(key=lambda item: item[0])
    looked = []
    for _, hypothesis in roughly[:LOOKED_AT]:
        place, left = weighing.scan(_predictor(bench, hypothesis), values, by, hypothesis.grid)
        looked.append((left, place, hypothesis))
    looked.sort(key=lambda item: item[0])
    base = bench.readings(bench.solution)
    out = []
    for left, place, hypothesis in looked[:REFINED]:
        if not math.isfinite(left):
            continue
        fit = weighing.fit(_predictor(bench, hypothesis), values, by, hypothesis.grid, place)
        solution = None if fit is None else hypothesis.setting(fit.at).solved()
        if fit is not None and solution is not None and before - fit.left >= NINETY:
            out.append(Found(hypothesis, fit, solution, fit.computed - base))
    out.sort(key=lambda found: found.fit.left)
    return out[:TOLD]


def _predictor(bench: Bench, hypothesis: Hypothesis) -> Predict:
    """Return the readings for a value of a suspect's unknown."""
    return lambda at: bench.computed(hypothesis.setting(at))


def told(bench: Bench, by: Weights, found: Found, before: float, least: float) -> Suspect:
    """Return one suspect as told; numbers in the preset's unit."""
    preset, hypothesis, fit = bench.base.shop.request.units, found.hypothesis, found.fit
    kind = "flow" if hypothesis.quantity == "leak-flow" else None
    unit = "" if kind is None else units.unit(kind, preset)

    def number(at: float, solution: Solution) -> float:
        si = hypothesis.told(at, solution)
        return si if kind is None else units.value(kind, si, preset)

    def end(at: float | None) -> float | None:
        solution = None if at is None else hypothesis.setting(at).solved()
        return None if at is None or solution is None else number(at, solution)

    change, low, high = number(fit.at, found.solution), end(fit.low), end(fit.high)
    shares = by.shares(found.signature, bench.values - bench.readings(bench.solution))
    telling = [bench.weighed[k] for k in np.argsort(-shares, kind="stable") if shares[k] > TELLS]
    run = bench.base.shop.runs[hypothesis.index] if hypothesis.index >= 0 else None
    return Suspect(
        suspect=hypothesis.kind,
        quantity=hypothesis.quantity,
        change=change,
        unit=unit,
        low=low,
        high=high,
        improvement=before - fit.left,
        remaining=fit.left,
        plausible=fit.left <= least + NINETY,
        telling=tuple(telling),
        message=_message(found, change, low, high, unit, run.id if run is not None else None),
        run=None if run is None else run.id,
        loss=hypothesis.loss,
        gate_opening=_opening(bench, found),
        lost=_lost(bench, found),
    )


def _message(found: Found, change: float, low: float | None, high: float | None, unit: str, run: str | None) -> str:
    """Return one suspect in words."""
    ends = f"{'...' if low is None else f'{low:.3g}'} to {'...' if high is None else f'{high:.3g}'}"
    size = f"{change:.3g} ({ends}){' ' + printed(unit) if unit else ''}"
    texts = {
        "added-resistance": f"{run} resists more than stated, coefficient {size}: a blockage, or a gate further shut",
        "leak": f"{run} draws in {size} through a leak or an opening in its wall",
        "gate": f"the gate at {run} is open further than stated, share of its area {size}",
        "fan-speed": f"the fan does as at {size} times its speed: speed, belt, wheel, or a wrong curve",
        "collector-loss": f"{found.hypothesis.loss} loses {size} times what is stated, as a loaded filter does",
    }
    return texts[found.hypothesis.kind]


def _opening(bench: Bench, found: Found) -> float | None:
    """Return the gate opening that would have an added resistance."""
    hypothesis, shop = found.hypothesis, bench.base.shop
    if hypothesis.kind != "added-resistance" or shop.runs[hypothesis.index].run.gate is None:
        return None
    own = dynamic(shop.density, shop.runs[hypothesis.index].start)
    coefficient = float(bench.base.gate[shop.hood_row(hypothesis.index)]) / own + found.fit.at
    try:
        return catalogue.gate_opening(coefficient)
    except OutsideTableError:
        return None


def _lost(bench: Bench, found: Found) -> float | None:
    """Return the pressure that an added resistance takes, Pa."""
    hypothesis, shop = found.hypothesis, bench.base.shop
    if hypothesis.kind != "added-resistance":
        return None
    flow = float(found.solution.flow[shop.hood_row(hypothesis.index)])
    return found.fit.at * dynamic(shop.density, shop.runs[hypothesis.index].start) * flow * flow


def not_told_apart(bench: Bench, by: Weights, found: list[Found]) -> tuple[SuspectPair, ...]:
    """Return pairs of plausible suspects that the readings leave alike, with the reading that would tell them apart."""
    near = [k for k, one in enumerate(found) if one.fit.left <= found[0].fit.left + NINETY]
    return tuple(
        SuspectPair(
            first=a,
            second=b,
            alike=by.alike(found[a].signature, found[b].signature),
            next_reading=_next(bench, found[a], found[b]),
        )
        for i, a in enumerate(near)
        for b in near[i + 1 :]
    )


def _next(bench: Bench, one: Found, two: Found) -> NextReading | None:
    """Return the usual reading that tells two suspects apart best; none where even that does not."""
    shop, preset = bench.base.shop, bench.base.shop.request.units
    taken = {
        (tag_of(reading), bench.places[k])
        for k, reading in enumerate(bench.asked)
        if getattr(reading, "distance", None) is None
    }
    first, second = one.solution.everything(), two.solution.everything()
    best, chosen = APART, None
    for name, wide in bench.wide.items():
        own = spread_of("reading").spread / HALF_WIDTH * np.maximum(np.abs(first[name]), np.abs(second[name]))
        deviation = np.sqrt(own**2 + (wide**2).sum(axis=0))
        apart = np.abs(first[name] - second[name]) / np.where(deviation > 0.0, deviation, np.inf)
        for run in shop.runs:
            if name == "hood-static-pressure" and run.run.hood is None:
                continue
            if apart[run.index] > best and (name, run.index) not in taken:
                best, chosen = float(apart[run.index]), (name, run.index)
    return None if chosen is None else _reading(preset, shop.runs[chosen[1]].id, chosen, first, second, best)


def _reading(
    preset: Preset,
    run: str,
    chosen: tuple[str, int],
    first: dict[str, Floats],
    second: dict[str, Floats],
    apart: float,
) -> NextReading:
    """Return a reading with what it would show under each suspect."""
    name, index = chosen
    kind = KINDS[name]
    return NextReading(
        run=run,
        quantity=name,
        unit=units.unit(kind, preset),
        if_first=units.value(kind, float(first[name][index]), preset),
        if_second=units.value(kind, float(second[name][index]), preset),
        apart=apart,
    )
