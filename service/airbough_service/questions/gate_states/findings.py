"""Findings of many states: by run and check the worst state, and what fixes the worst states."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Final

import numpy as np
from msgspec import structs

from airbough.wire.answer import (
    Change,
    Finding,
    Suggestion,
)
from airbough_service.core.network import states as core
from airbough_service.judging import checks
from airbough_service.judging.power_findings import assumed as shape_assumed
from airbough_service.judging.power_findings import figures_assumed
from airbough_service.judging.power_findings import overloaded as overloaded_motor
from airbough_service.judging.state_findings import outcome_findings, over_speed, powered
from airbough_service.questions.gate_states.fixes import (
    Fix,
    Search,
)
from airbough_service.questions.gate_states.states_judged import Examined
from airbough_service.solving.power import Power
from airbough_service.solving.solved_state import Solved, solve
from airbough_service.terms import units
from airbough_service.terms.finding import (
    finding,
    ordered,
)

MOST_RUNS: Final = 50  # runs told of for each check, the worst ones


def findings(examined: Examined, worst: dict[str, int], fixes: dict[int, Fix], left_out: int) -> tuple[Finding, ...]:
    """Return the findings of all states together."""
    shop = examined.judge.shop
    collector = shop.request.collector

    @cache
    def solved(number: int) -> Solved:
        return solve(shop, examined.judge.fan, examined.state(number).gates)

    out = by_run(examined, solved) + outcomes(examined, solved) + overloaded(examined, worst, solved)
    deepest = worst.get("suction")
    if deepest is not None:
        name = examined.state(deepest).name
        out += [structs.replace(item, state=name) for item in checks.suction(shop, solved(deepest).runs)]
    for number, fix in fixes.items():
        out.append(fixing(examined, number, fix))
    if left_out:
        text = f"{left_out} further named states fail; further gates were searched for the first {len(fixes)} only"
        out.append(finding(shop.request.units, "fix-not-searched", text, at="states"))
    out += checks.without_dust(shop)
    return ordered(out + over_speed(shop, collector.fan if collector else None))


def by_run(examined: Examined, solved: Callable[[int], Solved]) -> list[Finding]:
    """Return, for each run and check that fails somewhere, the finding of its worst state."""
    noted, out = examined.noted, []
    kinds = (
        ("below-transport-velocity", noted.slow, noted.margin, noted.margin_state),
        ("hood-starved", noted.starved, noted.share, noted.share_state),
        ("needlessly-fast", noted.fast, noted.excess, noted.excess_state),
    )
    judged: dict[tuple[int, bool], dict[str | None, list[Finding]]] = {}
    for code, counts, worst, where in kinds:
        failing = np.flatnonzero(counts)
        failing = failing[np.argsort(worst[failing], kind="stable")][:MOST_RUNS]
        for index in failing:
            state = int(where[index])
            key = (state, code == "hood-starved")
            if key not in judged:
                judged[key] = _by_run(solved(state), examined.state(state).name, hoods=key[1])
            found = [item for item in judged[key].get(examined.judge.shop.runs[index].id, ()) if item.code == code]
            often = f"; this in {counts[index]} of {examined.asked.count} states of the gates"
            out += [structs.replace(item, message=item.message + often) for item in found]
    return out


def _by_run(solved: Solved, name: str, *, hoods: bool) -> dict[str | None, list[Finding]]:
    """Return one state's findings on hoods, or on velocities, by run."""
    if hoods:
        items = checks.starved(solved.shop, solved.hoods, name)
    else:
        items = checks.velocities(solved.shop, solved.runs, solved.openings, name)
    out: dict[str | None, list[Finding]] = {}
    for item in items:
        out.setdefault(item.run, []).append(item)
    return out


def outcomes(examined: Examined, solved: Callable[[int], Solved]) -> list[Finding]:
    """Return the finding of each outcome other than a plain operating point, with its first state."""
    out, judged = [], examined.judged
    kinds = {
        "all-gates-shut": judged.shut,
        "fan-beyond-curve": judged.outcome == core.BEYOND,
        "several-operating-points": judged.outcome == core.SEVERAL,
        "shut-off-downstream": judged.cut_off,
        "shut-off-not-on-curve": judged.off_curve,
    }
    for code, flags in kinds.items():
        there = np.flatnonzero(flags)
        if len(there):
            name = examined.state(int(there[0])).name
            often = f"; this in {len(there)} of {examined.asked.count} states of the gates"
            shown = solved(int(there[0]))
            found = outcome_findings(shown, name)
            out += [structs.replace(item, message=item.message + often) for item in found if item.code == code]
    return out


def overloaded(examined: Examined, worst: dict[str, int], solved: Callable[[int], Solved]) -> list[Finding]:
    """Return the danger of a motor that some state overloads, and where the power points do not reach."""
    number, judged, shaft = worst.get("motor_power"), examined.judged, examined.judge.shaft
    off = np.flatnonzero(judged.off_points)
    out = list(powered(solved(int(off[0])))) if len(off) else []
    out = [structs.replace(item, state=examined.state(int(off[0])).name) for item in out]
    out += figures_assumed(examined.judge.shop.request.units, examined.judge.supply)
    if shaft is not None and not np.all(np.isnan(judged.power)):
        out += shape_assumed(examined.judge.shop.request.units, shaft)
    if number is None or not judged.overloaded[number]:
        return out
    power = Power(float(judged.power[number]), float(judged.load[number]))
    return out + list(overloaded_motor(examined.judge.shop.request, power, examined.state(number).name))


def fixing(examined: Examined, number: int, fix: Fix) -> Finding:
    """Return what fixes a failing state, or that nothing does."""
    state, preset = examined.state(number), examined.judge.shop.request.units
    if fix.further is None or fix.judged is None:
        code = "no-gates-fix" if fix.proven else "fix-not-found"
        how = f"no set of gates fixes {state.name!r}" if fix.proven else f"no set tried fixes {state.name!r}"
        return finding(
            preset,
            code,
            f"{how}: of {fix.tried} sets of further gates, in each some check does not hold",
            at=state.path,
            state=state.name,
            suggestion=Suggestion(text="change diameters, gates' openings or the fan; the other findings say where"),
        )
    names = ", ".join(group.name for group in fix.further)
    proof = "no smaller set does" if fix.proven else "found step by step; a smaller set may do"
    search = Search(examined.judge, examined.asked, state)
    changes = tuple(
        Change(path=f"runs[{gate}].gate.opening", value=opening) for gate, opening in search.changes(fix.further)
    )
    return finding(
        preset,
        "open-further-gates",
        f"with {state.name!r} a check does not hold; with {names} open as well each does ({proof})",
        at=state.path,
        state=state.name,
        suggestion=Suggestion(
            text=f"open {names} as well",
            changes=changes,
            gain=_gain(examined, number, fix),
        ),
    )


def _gain(examined: Examined, number: int, fix: Fix) -> dict[str, float]:
    """Return what opening further gates brings, ratios and flow in the preset's unit."""
    before, after = examined.judged, fix.judged
    assert after is not None
    preset = examined.judge.shop.request.units
    gain = {}
    if before.outcome[number] != core.BEYOND:
        gain["flow_gained"] = units.value("flow", float(after.flow[0]) - float(before.flow[number]), preset)
    for name in ("margin", "share"):
        old, new = float(getattr(before, name)[number]), float(getattr(after, name)[0])
        if np.isfinite(old) and np.isfinite(new):
            gain[f"{'transport_margin' if name == 'margin' else 'share_of_design'}_gained"] = new - old
    return gain
