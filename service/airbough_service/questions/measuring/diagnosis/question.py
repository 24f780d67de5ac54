"""POST /v1/trees/diagnosis: readings on site against what is computed, and what would explain them."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Final, Literal

import numpy as np
from msgspec import structs
from numpy.typing import NDArray

from airbough.wire.answer import (
    Finding,
    Suggestion,
)
from airbough.wire.diagnosis import (
    DiagnosisAnswer,
    DiagnosisRequest,
    Reading,
    ReadingCompared,
    Suspect,
)
from airbough.wire.problem import Fault
from airbough.wire.quantity import printed
from airbough_service.catalogue.spreads import spread_of
from airbough_service.core.evidence import weighing
from airbough_service.core.evidence.draws import HALF_WIDTH
from airbough_service.judging import checks
from airbough_service.questions.measuring.diagnosis.fit import (
    fitted,
    not_told_apart,
)
from airbough_service.questions.measuring.diagnosis.fit import told as suspect_told
from airbough_service.questions.measuring.diagnosis.model import (
    Bench,
    Setting,
    Solution,
    bench,
    kind_of,
    scaled,
    tag_of,
)
from airbough_service.questions.measuring.diagnosis.readings import (
    in_state,
    places,
)
from airbough_service.questions.measuring.diagnosis.suspects import hypotheses
from airbough_service.shop import collector
from airbough_service.shop.shop import build
from airbough_service.solving import tree_answer
from airbough_service.solving.told_state import Answered, ToldState
from airbough_service.terms import (
    units,
)
from airbough_service.terms.finding import (
    finding,
    ordered,
    plain,
    rounded,
)
from airbough_service.terms.refusal import Refusal

Floats = NDArray[np.float64]
MOST: Final = 40_000  # suspects times runs
FAR: Final = 3.0  # half-widths of reading and model together beyond which a reading is named
NINETY_NINE: Final = 2.3263478740408408  # normal deviate
SPEEDS: Final = np.linspace(0.4, 1.8, 29)


def answer(request: DiagnosisRequest) -> DiagnosisAnswer:
    """Answer the question in SI; raises as `answered`."""
    return answered(request).answer


def answered(request: DiagnosisRequest) -> Answered[DiagnosisAnswer]:
    """Answer the question in SI.

    Raises:
        Refusal: with every fault of tree, fan, state and readings; or the stated state has no operating point.
    """
    at = places(request)
    request = in_state(request, build(request))
    shop = build(request)
    runs = _suspected(request)
    base = Setting(shop, shop.tree, collector.build(shop), shop.gates())
    base, speed = _scaled(base, request, at)
    solution = base.solved()
    if solution is None:
        raise Refusal("not-computable", [_unsolved()])
    ready = bench(base, request, at, solution)
    computed = ready.readings(solution)
    by = weighing.weights(computed, _spreads(ready) * np.abs(ready.values), ready.model)
    before = by.square(ready.values - computed)
    limit = weighing.chi_square_limit(len(ready.weighed))
    found = [] if before <= limit else fitted(ready, by, hypotheses(base, runs, fan=speed is None), before)
    suspects = tuple(suspect_told(ready, by, one, before, found[0].fit.left) for one in found)
    outcome = _outcome(before, limit, suspects, len(ready.weighed))
    pairs = not_told_apart(ready, by, found) if found else ()
    readings = _readings(ready, request)
    flowing = tree_answer.runs(shop, solution.parts, solution.flow)
    own = _findings(ready, outcome, readings, suspects, parted=not pairs)
    items = ordered([*own, *checks.cut_off(shop, {})])
    told = DiagnosisAnswer(
        engine=tree_answer.engine(request),
        units={},
        preset=request.units,
        air=shop.air,
        name=request.name,
        runs=flowing,
        system=tree_answer.whole(shop, flowing),
        hoods=tree_answer.hoods(shop, solution.parts, solution.flow),
        outcome=outcome,
        chi_square=before,
        chi_square_limit=limit,
        readings=readings,
        suspects=suspects,
        not_told_apart=pairs,
        fan_speed_ratio=speed,
        findings=items,
        sources=tree_answer.told_sources(shop),
        cautions=tree_answer.cautions(shop, items),
        assumed=shop.assumed,
    )
    return Answered(told, _told_state(solution, speed))


def _told_state(solution: Solution, speed: float | None) -> ToldState:
    """Return the measured state, with the fan at the speed that its reading gives."""
    setting = solution.setting
    collector = setting.shop.request.collector
    fan = None if collector is None else collector.fan
    if fan is not None and speed is not None:
        fan = structs.replace(fan, speed_ratio=fan.speed_ratio * speed)
    at_fan = setting.fan.left_for_tree(float(solution.flow[0]))
    return ToldState(setting.shop, setting.gate, solution.flow, solution.parts, at_fan, fan=setting.fan, fan_given=fan)


def _suspected(request: DiagnosisRequest) -> list[int]:
    """Return the runs to suspect; refuse more than are looked at."""
    chosen = None if request.suspects is None else set(request.suspects)
    runs = [index for index, run in enumerate(request.runs) if chosen is None or run.id in chosen]
    if 2 * len(runs) * len(request.runs) > MOST:
        detail = f"name at most {MOST // (2 * len(request.runs))} runs to suspect in a tree of this size"
        raise Refusal("out-of-range", [Fault(path="suspects", code="too-many-suspects", detail=detail)])
    return runs


def _unsolved() -> Fault:
    detail = "with these gates no air flows, or fan and system cross outside the curve; check `state` and the curve"
    return Fault(path="state", code="no-operating-point", detail=detail)


def _scaled(base: Setting, request: DiagnosisRequest, at: tuple[int, ...]) -> tuple[Setting, float | None]:
    """Return the setting with the fan's speed set so that the reading that scales it is met, and that speed.

    Raises:
        Refusal: no speed meets it.
    """
    chosen = next((k for k, reading in enumerate(request.readings) if reading.scales_fan), None)
    if chosen is None:
        return base, None
    reading = request.readings[chosen]

    def surplus(speed: float) -> float | None:
        solution = replace(base, fan=scaled(base.fan, speed)).solved()
        return None if solution is None else abs(solution.reading(reading, at[chosen])) - abs(float(reading.value))

    values = [(speed, surplus(float(speed))) for speed in SPEEDS]
    known = [(float(speed), value) for speed, value in values if value is not None]
    for (low, at_low), (high, at_high) in pairwise(known):
        if at_low <= 0.0 <= at_high:
            for _ in range(60):
                middle = 0.5 * (low + high)
                value = surplus(middle)
                low, high = (middle, high) if value is not None and value <= 0.0 else (low, middle)
            return replace(base, fan=scaled(base.fan, low)), low
    detail = f"no speed from {SPEEDS[0]:g} to {SPEEDS[-1]:g} of the curve's gives this reading"
    raise Refusal("not-computable", [Fault(path=f"readings[{chosen}].value", code="fan-not-scaled", detail=detail)])


def _spread(reading: Reading) -> float:
    return spread_of("reading").spread if reading.spread is None else reading.spread


def _spreads(ready: Bench) -> Floats:
    """Return the weighing readings' relative spreads, shape (m,)."""
    return np.array([_spread(ready.asked[k]) for k in ready.weighed])


def _outcome(
    before: float, limit: float, suspects: tuple[Suspect, ...], readings: int
) -> Literal["readings-agree", "suspects", "not-explained"]:
    """Return whether the readings agree, or whether any one suspect makes them agree."""
    if before <= limit:
        return "readings-agree"
    allowed = weighing.chi_square_limit(max(readings - 1, 1), NINETY_NINE)
    return "suspects" if suspects and suspects[0].remaining <= allowed else "not-explained"


def _readings(ready: Bench, request: DiagnosisRequest) -> tuple[ReadingCompared, ...]:
    """Return each reading against what is computed, in the preset's units."""
    model = HALF_WIDTH * np.sqrt((ready.model**2).sum(axis=0))
    shaken = dict(zip(ready.weighed, model, strict=True))
    return tuple(
        _compared(ready, ready.solution, k, reading, float(shaken.get(k, 0.0)), request)
        for k, reading in enumerate(ready.asked)
    )


def _compared(
    ready: Bench, solution: Solution, k: int, reading: Reading, half: float, request: DiagnosisRequest
) -> ReadingCompared:
    """Return one reading; `half` is the half-width of what is computed, SI."""
    kind, value = kind_of(reading), float(reading.value)
    computed = solution.reading(reading, ready.places[k])
    together = float(np.hypot(half, _spread(reading) * value))
    return ReadingCompared(
        run=None if ready.places[k] < 0 else request.runs[ready.places[k]].id,
        quantity=tag_of(reading),
        value=units.value(kind, value, request.units),
        computed=units.value(kind, computed, request.units),
        unit=units.unit(kind, request.units),
        spread=_spread(reading),
        computed_spread=half / abs(computed) if computed != 0.0 else 0.0,
        deviation=(value - computed) / together,
        scales_fan=reading.scales_fan,
    )


def _findings(
    ready: Bench, outcome: str, readings: tuple[ReadingCompared, ...], suspects: tuple[Suspect, ...], *, parted: bool
) -> list[Finding]:
    """Return the findings of a diagnosis."""
    preset, out = ready.base.shop.request.units, []
    for k, reading in enumerate(readings):
        if abs(reading.deviation) > FAR and not reading.scales_fan:
            unit, place = printed(reading.unit), "the fan" if reading.run is None else reading.run
            value, computed = rounded(reading.value), rounded(reading.computed)
            text = f"{plain(reading.quantity)} at {place} reads {value} {unit}, {computed} is computed"
            out.append(
                finding(
                    preset,
                    "reading-far-off",
                    text,
                    at=f"readings[{k}]",
                    run=reading.run,
                    quantity="deviation",
                    value=abs(reading.deviation),
                    maximum=FAR,
                )
            )
    if outcome == "not-explained":
        text = "more than one thing is amiss, a reading is wrong, or the document is not the shop"
        advice = Suggestion(text="read again, check diameters and gates, and fix the strongest suspect first")
        out.append(finding(preset, "readings-not-explained", text, at="readings", suggestion=advice))
    if not parted:
        text = "several suspects explain the readings alike; a further reading would tell them apart"
        out.append(finding(preset, "suspects-not-told-apart", text, at="readings"))
    if suspects and len(ready.weighed) < 2:
        text = "one reading alone fits almost any suspect"
        out.append(finding(preset, "no-reading-to-spare", text, at="readings"))
    return out
