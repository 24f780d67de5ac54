"""The later chapters of the demonstration: each asks one question about the invented shop and tells it briefly."""

from __future__ import annotations

import copy
from typing import Any

from airbough import Client
from airbough.wire.quantity import duration, printed

Document = dict[str, Any]
HOUR = 3600.0
SAMPLES = 500


def chapters(client: Client, document: Document) -> list[str]:
    """Return the chapters' texts."""
    return [
        strength(client, document),
        make_up_air(client, document),
        working_day(client, document),
        how_sure(client, document),
        why(client, document),
        on_site(client, document),
        which_collector(client, document),
    ]


def strength(client: Client, document: Document) -> str:
    """Return which duct would not stand the fan's suction with all gates shut."""
    gauged = copy.deepcopy(document)
    for run in gauged["runs"]:
        if run["duct"] == "spiral-galvanized":
            run["gauge"] = 26
    answer = client.strength(gauged)
    weakest = max(answer.strengths, key=lambda one: one.share)
    unit, failing = printed(answer.units["pressure"]), [one.run for one in answer.strengths if not one.holds]
    return (
        f"Strength: with every gate shut the duct sees {answer.shut_off_suction:.3g} {unit}. The weakest is "
        f"{weakest.run}: suction is {100.0 * weakest.share:.0f} % of the estimated limit. "
        f"Runs where the check does not hold: {', '.join(failing) or 'none'}.\n"
    )


def make_up_air(client: Client, document: Document) -> str:
    """Return what leaves the room, with the collector outdoors."""
    room = {
        "volume": 6000.0,
        "openings_area": 0.5,
        "indoor_temperature": 65.0,
        "outdoor_temperature": 30.0,
        "hours": 2.0,
    }
    answer = client.make_up_air({**document, "collector_stands": "outdoors", "room": room})
    told, units = answer.room, {kind: printed(unit) for kind, unit in answer.units.items()}
    fall = ""
    if told.depressurization is not None:
        fall = f", {told.depressurization:.3g} {units['pressure']} below outdoors"
    heat = "" if told.heat_energy is None else f" Heat lost in two hours: {told.heat_energy:.3g} {units['energy']}."
    return (
        f"Make-up air, collector outdoors: {told.make_up_flow:.0f} {units['flow']} must come back in, "
        f"{told.air_changes:.1f} room volumes an hour{fall}. A grille wants {told.grille_free_area:.2f} "
        f"{units['area']} of free area.{heat}\n"
    )


def working_day(client: Client, document: Document) -> str:
    """Return an invented morning: starts, time, chips left behind."""
    day = [
        {"machine": "planer", "times": [{"on": 0.0, "off": 600.0}, {"on": 1500.0, "off": 1800.0}]},
        {"machine": "band-saw", "times": [{"on": 620.0, "off": 900.0}]},
    ]
    answer = client.working_day(
        {**document, "machines": day, "duration": 4.0 * HOUR, "fan_delay": 2.0, "gate_delay": 2.0, "starts_allowed": 4}
    )
    left = sum(item.code == "chips-left-in-duct" for item in answer.findings)
    lines = [
        f"Working day of an invented morning: the fan starts {answer.system.starts} times and runs "
        f"{duration(answer.system.time_fan_on)}; at most {answer.system.most_starts} starts in any hour; "
        f"chips are left in the duct {left} times."
    ]
    lines += [
        f"- {item.message}. {item.suggestion.text if item.suggestion else ''}".rstrip()
        for item in answer.findings
        if item.code == "chips-left-in-duct"
    ]
    return "\n".join(lines) + "\n"


def how_sure(client: Client, document: Document) -> str:
    """Return how sure flow and checks are, and what matters most."""
    answer = client.operating_point({**document, "uncertainty": {"samples": SAMPLES, "seed": 1}})
    told = answer.uncertainty
    if told is None or told.flow is None:
        return ""
    flow = told.flow
    unit = printed(answer.units["flow"])
    lines = [f"How sure: the fan's flow lies between {flow.low:.0f} and {flow.high:.0f} {unit} in nine of ten draws."]
    lines += [
        f"- {check.check.replace('-', ' ')} holds in {check.run} {_share(check.share_holding)}"
        for check in told.checks
        if check.run is not None
    ]
    lines.append(
        f"What matters most: {', '.join(term.entry.replace('-', ' ').replace('/', ': ') for term in told.terms)}."
    )
    return "\n".join(lines) + "\n"


def _share(share: float) -> str:
    """Return a share of the draws in words; all of so many draws is no certainty."""
    if share in (0.0, 1.0):
        return f"in {'all' if share else 'none of the'} {SAMPLES} draws"
    return f"in {round(share * SAMPLES)} of {SAMPLES} draws"


def why(client: Client, document: Document) -> str:
    """Return the first steps of the explanation of the planer's run."""
    terms = client.operating_point({**document, "explain": True}).explanation or ()
    lines = ["Why, for the planer's run (every step can be redone with a pocket calculator):"]
    for term in [term for term in terms if term.run == "planer"][:6]:
        inputs = ", ".join(f"{name} = {value:.5g}" for name, value in term.inputs.items())
        gives = f"{term.value:.5g} {printed(term.unit)}".rstrip()
        lines.append(f"- {term.term.replace('-', ' ')}: {term.formula} with {inputs} gives {gives}")
    return "\n".join(lines) + "\n"


def on_site(client: Client, document: Document) -> str:
    """Return what invented readings say: a rag in the band saw's run."""
    blocked = copy.deepcopy(document)
    saw = next(run for run in blocked["runs"] if run["id"] == "band-saw")
    saw["fittings"].append({"type": "known-coefficient", "coefficient": 3.0})
    real = client.operating_point(blocked)
    by_run = {run.id: run for run in real.runs}
    readings = [
        {"quantity": "static-pressure", "run": name, "value": by_run[name].static_pressure, "spread": 0.02}
        for name in ("main", "main-2", "planer", "band-saw")
    ]
    readings += [
        {"quantity": "velocity", "run": name, "value": by_run[name].velocity, "spread": 0.03}
        for name in ("main", "planer", "band-saw")
    ]
    state = {"open": ["planer", "band-saw"]}
    answer = client.diagnosis({**document, "readings": readings, "state": state})
    lines = [f"On site, with invented readings: {answer.outcome.replace('-', ' ')}."]
    lines += [f"- {suspect.message}" for suspect in answer.suspects[:2]]
    return "\n".join(lines) + "\n"


def which_collector(client: Client, document: Document) -> str:
    """Return a smaller fan beside the shop's own."""
    fan = document["collector"]["fan"]
    smaller = {**fan, "curve": [{"flow": 0.7 * p["flow"], "pressure": 0.9 * p["pressure"]} for p in fan["curve"]]}
    fans = [{"name": "the invented fan", "fan": fan}, {"name": "a smaller invented fan", "fan": smaller}]
    answer = client.operating_point({**document, "fans": fans})
    lines = ["Which collector, both invented:"]
    for one in answer.fans:
        share = (
            "" if one.share_of_design is None else f"; {one.most_starved_hood} gets {100.0 * one.share_of_design:.0f} %"
        )
        flow = "off its curve" if one.flow is None else f"{one.flow:.0f} {printed(answer.units['flow'])}"
        lines.append(f"- {one.fan}: {flow}{share}")
    return "\n".join(lines) + "\n"
