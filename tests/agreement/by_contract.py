"""What the contract says of a case, from the raw document alone or from the flows that the operating point tells."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator, PPoly, make_interp_spline
from scipy.optimize import brentq

from agreement import oracle
from agreement.facts import SI, Case, Document, Facts, State, by_state, decoded
from airbough_service.combined import registry

HOLDS = 1.0e-6  # "a comparison within 1e-6 of its limit holds"
STANDARD = 1.2  # kg/m3: "standard air is one constant for both presets"
CONTRACT = "contract"


@cache
def dusts() -> dict[str, tuple[float, float]]:
    """Return the transport velocity and the upper velocity of each dust, m/s, as the catalogue tells them."""
    told = registry.answer("dusts", decoded("dusts", {"units": "metric"})).dusts
    return {dust.id: (dust.transport_velocity, dust.upper_velocity) for dust in told}


@cache
def usual_dusts() -> dict[str | None, str | None]:
    """Return what fills a machine's dust where neither its hood nor the tree names one, as the catalogue tells it."""
    told = registry.answer("hoods", decoded("hoods", {"units": "metric"})).machines
    return {machine.id: machine.typical_dust for machine in told}


def of_gates(case: Case) -> Facts:
    """Return what follows from the document alone: machines, openings, open hoods, served runs, design flows."""
    facts: Facts = {
        ("machine", "", name): (frozenset(own.hoods), frozenset(own.gates)) for name, own in case.model.machines.items()
    }
    for state in case.states:
        facts |= {("open", state.name, hood): is_open for hood, is_open in state.is_open.items()}
        facts |= {("idle", state.name, run): not served for run, served in state.served.items()}
        facts |= {("opening", state.name, gate): opening for gate, opening in state.openings.items()}
        facts |= {("cut off", state.name, hood): off for hood, off in _cut_off(state, case).items()}
        facts["stand open", state.name, ""] = _stand_open(state, case)
        facts["code", state.name, "all-gates-shut"] = state.dead
        facts["code", state.name, "shut-off-not-on-curve"] = _tight_shut(state, case) and from_some_flow(case)
        if not state.dead:
            facts |= _design(state, case)
    return facts


def _tight_shut(state: State, case: Case) -> bool:
    """Return whether no air at all can enter: a tight shut gate is on every hood's way, and before no leaking joint."""
    passing = _passing(state, case)
    hoods = [run["id"] for run in case.document["runs"] if "hood" in run]
    way_in = any(all(passing.get(gate, True) for gate in case.model.path(hood)) for hood in hoods)
    return not way_in and not _leaks_enter(state, case)


def from_some_flow(case: Case) -> bool:
    """Return whether the fan's curve does not tell what it does without flow."""
    return bool(case.document["collector"]["fan"]["curve"][0]["flow"] > 0.0)


def _stand_open(state: State, case: Case) -> frozenset[str]:
    """Return the machines of which no gate of their own shuts one hood that has such gates, and the open zone gates."""
    passing = {gate: opening >= oracle.SHUT_BELOW for gate, opening in state.openings.items()}
    out = {gate for gate, machine in case.model.machine_of_gate.items() if machine is None and passing[gate]}
    for name, machine in case.model.machines.items():
        ways = [set(case.model.path(hood)) & set(machine.gates) for hood in machine.hoods]
        if any(way and all(passing[gate] for gate in way) for way in ways):
            out.add(name)
    return frozenset(out)


def _cut_off(state: State, case: Case) -> dict[str, bool]:
    """Return by first hood of each machine whether it is meant to be open and a shut zone gate cuts one of it off."""
    zones = [gate for gate, machine in case.model.machine_of_gate.items() if machine is None]
    with_zones = case.model.open_hoods(state.openings | dict.fromkeys(zones, 1.0))
    named = {case.model.machine(word) for word in state.named.get("open") or ()}
    return {
        own.hoods[0]: bool(own.gates or name in named)
        and any(with_zones[hood] and not state.is_open[hood] for hood in own.hoods)
        for name, own in case.model.machines.items()
    }


def _design(state: State, case: Case) -> Facts:
    """Return the design flows: each open hood's own, and of a tight run those of the open hoods upstream."""
    q, name = SI[case.document["units"]]["flow"], state.name
    design = {run["id"]: run["hood"]["flow"] * q for run in case.document["runs"] if "hood" in run}
    own = {hood: design[hood] if is_open else 0.0 for hood, is_open in state.is_open.items()}
    facts: Facts = {("design flow of hood", name, hood): flow for hood, flow in own.items()}
    facts["leaks enter", name, ""] = _leaks_enter(state, case)
    if not case.has_leaks:
        facts |= {("design flow", name, run): sum(own[hood] for hood in hoods) for run, hoods in _upstream(case)}
        facts["design total", name, ""] = sum(own.values())
    return facts


def _passing(state: State, case: Case) -> dict[str, bool]:
    """Return by gate whether it lets air through, be it by its leak."""
    gates = {run["id"]: run["gate"] for run in case.document["runs"] if "gate" in run}
    return {
        run: max(opening, gates[run].get("leakage", 0.0)) >= oracle.SHUT_BELOW
        for run, opening in state.openings.items()
    }


def _leaks_enter(state: State, case: Case) -> bool:
    """Return whether some joint leaks into duct that the fan draws on; a run's own gate is at its upstream end."""
    passing = _passing(state, case)
    return any(
        all(passing.get(gate, True) for gate in case.model.path(run["id"])[1:])
        for run in case.document["runs"]
        if "leak" in run or "leakage_class" in run
    )


def _upstream(case: Case) -> Any:
    return case.model.upstream.items()


def of_flows(case: Case) -> Facts:
    """Return what follows from the flows of each state: sums, verdicts, the most starved hood, shaft power."""
    facts: Facts = {}
    for state in case.states:
        answer = case.point(state)
        if answer is not None:
            facts |= _sums(answer, state, case)
            if answer.outcome != "no-flow":
                facts |= _verdicts(answer, state, case) | _starved(answer, state) | _power(answer, state, case)
    return facts


def _sums(answer: Any, state: State, case: Case) -> Facts:
    """Return the flows at the collector, which are those of its inlets together, and those of tight runs."""
    q, p = (SI[case.document["units"]][kind] for kind in ("flow", "pressure"))
    if _tight_shut(state, case) and from_some_flow(case):
        return _not_told(state.name)
    inlets = [run for run in answer.runs if case.model.into[run.id] is None]
    facts: Facts = {("system flow", state.name, ""): sum(run.flow for run in inlets) * q}
    facts["exhaust", state.name, ""] = facts["system flow", state.name, ""]
    facts["inlet static pressure", state.name, ""] = min(run.static_pressure for run in inlets) * p
    if not case.has_leaks:
        hoods = {hood.run: hood.flow * q for hood in answer.hoods}
        facts |= {("flow", state.name, run): sum(hoods[hood] for hood in own) for run, own in _upstream(case)}
    return facts


def _not_told(state: str) -> Facts:
    """Return what is told where no air flows and the curve does not say what pressure the fan then gives: none."""
    pressures = ("fan static pressure", "inlet static pressure", "deepest suction")
    return {("system flow", state, ""): 0.0} | {(pressure, state, ""): None for pressure in pressures}


def _verdicts(answer: Any, state: State, case: Case) -> Facts:
    """Return by run of one bore whether its air is too slow for its dust, or faster than it need be.

    A leaking run is slowest at its upstream end, and dust settles there first.
    """
    facts: Facts = {}
    v = SI[case.document["units"]]["velocity"]
    margins = []
    for run in answer.runs:
        if run.id in case.tapered:
            continue
        leaks = run.flow_upstream is not None and run.flow > 0.0
        slowest = run.velocity * v * (run.flow_upstream / run.flow if leaks else 1.0)
        words = _dusts(run.id, state, case)
        low = max((dusts()[word][0] for word in words), default=0.0)
        high = max((dusts()[word][1] for word in words), default=math.inf)
        slow = slowest < low * (1.0 - HOLDS)
        facts["too slow", state.name, run.id] = slow
        facts["too fast", state.name, run.id] = run.velocity * v > high * (1.0 + HOLDS) and not slow
        margins += [slowest / low] if low else []
    if not case.tapered:
        facts["transport margin", state.name, ""] = min(margins, default=None)
    return facts


def _dusts(run: str, state: State, case: Case) -> set[str]:
    """Return the dusts of the open hoods upstream of a run."""
    hoods = {one["id"]: one["hood"] for one in case.document["runs"] if "hood" in one}
    own = (
        hoods[hood].get("dust", case.document.get("dust")) or usual_dusts().get(hoods[hood].get("machine"))
        for hood in case.model.upstream[run]
        if state.is_open[hood]
    )
    return {word for word in own if word is not None}


def _starved(answer: Any, state: State) -> Facts:
    """Return which open hoods are below their design flow, and the worst of them."""
    share = {hood.run: hood.flow / hood.design_flow for hood in answer.hoods
             if state.is_open[hood.run] and hood.design_flow is not None}  # fmt: skip
    facts: Facts = {("starved", state.name, run): share.get(run, 1.0) < 1.0 - HOLDS for run in state.served}
    facts["share of design", state.name, ""] = min(share.values(), default=None)
    facts["most starved", state.name, ""] = min(share, key=lambda run: share[run], default=None)
    return facts


def _power(answer: Any, state: State, case: Case) -> Facts:
    """Return the shaft power by the power points and the fan laws, or by the fan's total efficiency."""
    collector, si = case.document["collector"], SI[case.document["units"]]
    flow, density = answer.system.flow * si["flow"], answer.air.density * si["density"]
    shaft = None
    if "efficiency" in collector:
        area = math.pi * (_outlet(case) * si["diameter"]) ** 2 / 4.0
        outlet = 0.5 * density / area**2
        best = _best_point(collector, outlet, density, si)
        static_share = best[1] / (best[1] + outlet * best[0] ** 2)  # the efficiency given is of the total pressure
        static = answer.system.fan_static_pressure * si["pressure"]
        shaft = _of_efficiency(flow, static, best) / (collector["efficiency"] * static_share)
    if "power" in collector:  # the points drawn lie on one straight line
        first, last = collector["power"][0], collector["power"][-1]
        speed = collector["fan"].get("speed_ratio", 1.0)
        along = (answer.system.flow / speed - first["flow"]) / (last["flow"] - first["flow"])
        at_points = first["power"] + along * (last["power"] - first["power"])
        shaft = at_points * speed**3 * density / STANDARD * si["power"]
    rated = collector.get("motor", {}).get("rated_power")
    load = None if shaft is None or rated is None else shaft / (rated * si["power"])
    facts: Facts = {("shaft power", state.name, ""): shaft, ("motor load", state.name, ""): load}
    overloaded = ["motor-overloaded"] if load is not None and load > 1.0 + HOLDS else []
    return facts | by_state(overloaded, state.name, ("motor-overloaded",))


def _best_point(collector: Document, outlet: float, density: float, si: dict[str, float]) -> tuple[float, float]:
    """Return flow and static pressure where their product is greatest on the fan's curve, by trying all; SI."""
    fan = collector["fan"]
    speed = fan.get("speed_ratio", 1.0)
    flows = np.array([point["flow"] for point in fan["curve"]]) * si["flow"] * speed
    given = np.array([point["pressure"] for point in fan["curve"]]) * si["pressure"] * speed**2 * density / STANDARD
    off = {"fan-static": 0.0, "fan-total": outlet, "inlet-static": 0.0}[fan["rated_as"]]
    if fan["rated_as"] == "inlet-static":
        off = 0.5 * density / (math.pi * (fan["inlet_diameter"] * si["diameter"]) ** 2 / 4.0) ** 2
    linear = fan.get("interpolation") == "linear"
    curve = PPoly.from_spline(make_interp_spline(flows, given, 1)) if linear else PchipInterpolator(flows, given)

    def useful(at: Any) -> Any:
        return at * (curve(at) - off * at**2)

    def slope(at: float) -> float:
        return float(curve(at) + at * curve(at, 1) - 3.0 * off * at**2)

    tried = np.linspace(flows[0], flows[-1], 20001)
    near = int(np.argmax(useful(tried)))
    low, high = float(tried[max(near - 1, 0)]), float(tried[min(near + 1, 20000)])
    best = brentq(slope, low, high, xtol=1e-15) if slope(low) > 0.0 > slope(high) else float(tried[near])
    return best, float(useful(best)) / best


def _of_efficiency(flow: float, static: float, best: tuple[float, float]) -> float:
    """Return the shaft power at a best static efficiency of 1, W: Wray and Sherman's law of the Euler number.

    No less than 0.4 of the best point's, and beyond that point no less than there.
    """
    a, b, c, d = -2.732094, 2.273014, 0.196344, 5.267518
    share, pressure = flow / best[0], max(static / best[1], 1.0e-9)
    counted = max(share, 0.05)
    x = math.log10(pressure / counted**2)
    first, second, last = (x - a) / b, (math.exp(c * x) * d * x - a) / b, -a / b
    efficiency = math.exp((last**2 - first**2) / 2.0) * (1.0 + math.erf(second / math.sqrt(2.0)))
    efficiency /= 1.0 + math.erf(last / math.sqrt(2.0))
    law = max(counted * pressure / efficiency, 1.0 if share > 1.0 else 0.4)
    return (0.4 + (law - 0.4) * min(share / 0.05, 1.0)) * best[0] * best[1]


def _outlet(case: Case) -> float:
    """Return the fan's outlet: as stated, else the first piece after the fan, else the widest bore at its inlet."""
    collector = case.document["collector"]
    if "outlet_diameter" in collector["fan"]:
        return float(collector["fan"]["outlet_diameter"])
    if collector.get("discharge"):
        return float(collector["discharge"][0]["diameter"])
    return max(oracle.end(run) for run in case.document["runs"] if run["into"] is None)
