"""States of the gates in the answer's structs, in SI."""

from __future__ import annotations

import numpy as np

from airbough.wire.gate_states import StateBand, StateResult
from airbough_service.core.network import states as core
from airbough_service.questions.gate_states.fixes import Fix
from airbough_service.questions.gate_states.judge import (
    Judge,
    Judged,
)
from airbough_service.questions.gate_states.states_asked import State
from airbough_service.solving.guess_band import fans
from airbough_service.solving.solved_state import Solved, most_starved, solve


def codes(judged: Judged, number: int) -> tuple[str, ...]:
    """Return the codes of a state's own findings, by severity and then as its findings are ordered."""
    flags = {
        "all-gates-shut": judged.shut[number],
        "motor-overloaded": judged.overloaded[number],
        "fan-beyond-curve": judged.outcome[number] == core.BEYOND,
        "several-operating-points": judged.outcome[number] == core.SEVERAL,
        "shut-off-downstream": judged.cut_off[number],
        "shut-off-not-on-curve": judged.off_curve[number],
        "below-transport-velocity": judged.settling[number],
        "hood-starved": judged.starving[number],
        "needlessly-fast": judged.fast[number],
        "transitional-flow": judged.transitional[number],
        "compressibility-neglected": judged.deep[number],
        "power-beyond-points": judged.off_points[number],
    }
    return tuple(code for code, raised in flags.items() if raised)


class Telling:
    """Tells states by number."""

    def __init__(self, judge: Judge, judged: Judged, fixes: dict[int, Fix], *, with_runs: bool) -> None:
        self.judge, self.judged, self.fixes, self.with_runs = judge, judged, fixes, with_runs
        self.ends = fans(judge.shop)

    def state(self, number: int, state: State) -> StateResult:
        """Return one state."""
        judged, fix = self.judged, self.fixes.get(number)
        beyond = judged.outcome[number] == core.BEYOND
        solved = solve(self.judge.shop, self.judge.fan, state.gates) if self.with_runs else None
        return StateResult(
            band=self._band(state),
            name=state.name,
            named=state.path is not None,
            open=state.open,
            outcome=core.OUTCOMES[judged.outcome[number]],
            holds=bool(judged.holds[number]),
            flow=None if beyond else float(judged.flow[number]),
            fan_static_pressure=None if beyond else _finite(judged.fan_static[number]),
            share_of_design=_finite(judged.share[number]),
            most_starved_hood=self._run(judged.share[number], judged.share_run[number]),
            transport_margin=_finite(judged.margin[number]),
            least_margin_run=self._run(judged.margin[number], judged.margin_run[number]),
            deepest_suction=_finite(judged.suction[number]),
            deepest_run=self._run(judged.suction[number], judged.suction_run[number]),
            shaft_power=_finite(judged.power[number]),
            motor_current=self._current(judged.power[number]),
            motor_load=_finite(judged.load[number]),
            findings=codes(judged, number),
            fix=None if fix is None else fix.told(),
            runs=() if solved is None else solved.runs,
            hoods=() if solved is None else solved.hoods,
        )

    def _band(self, state: State) -> StateBand | None:
        """Return the state for both ends of a guessed fan's band; None where the fan's curve is the caller's."""
        if self.ends is None:
            return None
        low, high = (_end(solve(self.judge.shop, end, state.gates)) for end in self.ends)
        return StateBand(
            flow_low=low[0], flow_high=high[0], share_of_design_low=low[1], share_of_design_high=high[1],
            transport_margin_low=low[2], transport_margin_high=high[2],
        )  # fmt: skip

    def _current(self, power: float) -> float | None:
        """Return the motor's current at a shaft power, where both are known."""
        supply = self.judge.supply
        return supply.current(float(power)) if supply is not None and np.isfinite(power) else None

    def _run(self, value: float, index: int) -> str | None:
        """Return the id of the run that a value is of."""
        return self.judge.shop.runs[int(index)].id if np.isfinite(value) else None


def _end(solved: Solved) -> tuple[float, float | None, float | None]:
    """Return a state's flow, its least share of a design flow and its least transport margin."""
    worst = most_starved(solved.hoods)
    margin = min((run.carrying_ratio for run in solved.runs if run.carrying_ratio is not None), default=None)
    return float(solved.operating.flow[0]), None if worst is None else worst.share_of_design, margin


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
