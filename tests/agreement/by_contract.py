"""What the contract says of a case, from the raw document alone or from the flows that the operating point tells."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

from agreement.facts import AS_DOCUMENT, SI, Asking, Case, Facts, State, by_state, decoded
from airbough_service.combined import registry

HOLDS = 1.0e-6  # "a comparison within 1e-6 of its limit holds"
STANDARD = 1.2  # kg/m3: "standard air is one constant for both presets"
CONTRACT = "contract"


@cache
def dusts() -> dict[str, tuple[float, float]]:
    """Return the transport velocity and the upper velocity of each dust, m/s, as the catalogue tells them."""
    told = registry.answer("dusts", decoded("dusts", {"units": "metric"})).dusts
    return {dust.id: (dust.transport_velocity, dust.upper_velocity) for dust in told}


def of_gates(case: Case) -> Facts:
    """Return what follows from the document alone: machines, openings, open hoods, served runs, design flows."""
    facts: Facts = {
        ("machine", "", name): (frozenset(own.hoods), frozenset(own.gates)) for name, own in case.model.machines.items()
    }
    q = SI[case.document["units"]]["flow"]
    design = {run["id"]: run["hood"].get("flow") for run in case.document["runs"] if "hood" in run}
    for state in case.states:
        facts |= {("open", state.name, hood): is_open for hood, is_open in state.is_open.items()}
        facts |= {("idle", state.name, run): not served for run, served in state.served.items()}
        facts |= {("opening", state.name, gate): opening for gate, opening in state.openings.items()}
        facts["code", state.name, "all-gates-shut"] = state.dead
        if state.dead:
            continue
        own = {hood: design[hood] * q if is_open else 0.0 for hood, is_open in state.is_open.items()}
        facts |= {("design flow of hood", state.name, hood): flow for hood, flow in own.items()}
        if not case.has_leaks and not _gates_leak(case):
            for run, hoods in case.model.upstream.items():
                facts["design flow", state.name, run] = sum(own[hood] for hood in hoods)
            facts["design total", state.name, ""] = sum(own.values())
    return facts


def _gates_leak(case: Case) -> bool:
    return False and any(run.get("gate", {}).get("leakage") for run in case.document["runs"])


def of_flows(ask: Asking, case: Case) -> Facts:
    """Return what follows from the flows of each state: sums, verdicts, the most starved hood, shaft power."""
    facts: Facts = {}
    for state in case.states:
        answer = ask("operating-point", state.document, case.seed)
        if answer is None or answer.outcome == "beyond-fan-curve":
            continue
        facts |= _sums(answer, state, case)
        if answer.outcome != "no-flow":
            facts |= _verdicts(answer, state, case)
            facts |= _starved(answer, state)
            facts |= _power(answer, state, case)
    return facts


def _sums(answer: Any, state: State, case: Case) -> Facts:
    """Return the flows at the collector, which are those of its inlets together."""
    q, p = (SI[case.document["units"]][kind] for kind in ("flow", "pressure"))
    inlets = [run for run in answer.runs if case.model.into[run.id] is None]
    facts: Facts = {("system flow", state.name, ""): sum(run.flow for run in inlets) * q}
    facts["exhaust", state.name, ""] = facts["system flow", state.name, ""]
    facts["inlet static pressure", state.name, ""] = min(run.static_pressure for run in inlets) * p
    if not case.has_leaks:
        hoods = {hood.run: hood.flow * q for hood in answer.hoods}
        for run, upstream in case.model.upstream.items():
            facts["flow", state.name, run] = sum(hoods[hood] for hood in upstream)
    return facts


def _verdicts(answer: Any, state: State, case: Case) -> Facts:
    """Return by run of one bore whether its air is too slow for its dust, or faster than it need be."""
    known, facts = {run["id"]: run for run in case.document["runs"]}, {}
    v = SI[case.document["units"]]["velocity"]
    margins, whole = [], True
    for run in answer.runs:
        if any(fitting["type"] == "taper" for fitting in known[run.id].get("fittings", ())):
            whole = False
            continue
        words = {
            known[hood]["hood"].get("dust", case.document.get("dust"))
            for hood in case.model.upstream[run.id]
            if state.is_open[hood]
        } - {None}
        leaks = run.flow_upstream is not None and run.flow > 0.0
        slow = run.velocity * run.flow_upstream / run.flow if leaks else run.velocity
        low = max((dusts()[word][0] for word in words), default=0.0)
        high = max((dusts()[word][1] for word in words), default=math.inf)
        facts["too slow", state.name, run.id] = slow * v < low * (1.0 - HOLDS)
        facts["too fast", state.name, run.id] = run.velocity * v > high * (1.0 + HOLDS) and slow * v >= low * (1 - HOLDS)
        margins += [slow * v / low] if low else []
    if whole:
        facts["transport margin", state.name, ""] = min(margins, default=None)
    return facts


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
        bore = _outlet(case) * si["diameter"]
        outlet = 0.5 * density * (flow / (math.pi * bore**2 / 4.0)) ** 2
        shaft = flow * (answer.system.fan_static_pressure * si["pressure"] + outlet) / collector["efficiency"]
    if "power" in collector:  # the points drawn lie on one straight line
        first, last = collector["power"][0], collector["power"][-1]
        speed = collector["fan"].get("speed_ratio", 1.0)
        along = (answer.system.flow / speed - first["flow"]) / (last["flow"] - first["flow"])
        at_points = first["power"] + along * (last["power"] - first["power"])
        shaft = at_points * speed**3 * density / STANDARD * si["power"]
    rated = collector.get("motor", {}).get("rated_power")
    load = None if shaft is None or rated is None else shaft / (rated * si["power"])
    return {("shaft power", state.name, ""): shaft, ("motor load", state.name, ""): load} | by_state(
        ["motor-overloaded"] if load is not None and load > 1.0 + HOLDS else [], state.name, ("motor-overloaded",)
    )


def _outlet(case: Case) -> float:
    """Return the fan's outlet: as stated, else the first piece after the fan, else the widest bore at its inlet."""
    collector = case.document["collector"]
    if "outlet_diameter" in collector["fan"]:
        return float(collector["fan"]["outlet_diameter"])
    if collector.get("discharge"):
        return float(collector["discharge"][0]["diameter"])
    ends = []
    for run in case.document["runs"]:
        if run["into"] is None:
            tapers = [one["downstream_diameter"] for one in run.get("fittings", ()) if one["type"] == "taper"]
            ends.append(float(tapers[-1] if tapers else run["diameter"]))
    return max(ends)


__all__ = ["AS_DOCUMENT", "CONTRACT", "dusts", "of_flows", "of_gates"]
