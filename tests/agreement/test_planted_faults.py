"""The comparison sees a fault in each fact: one is planted at a time, and some of a few shops must then disagree."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from unittest import mock

import numpy as np
import pytest
from msgspec import structs

from agreement import checks, shops
from agreement.facts import Asking
from agreement.known import unknown
from airbough.reading import in_si
from airbough_service.combined import compare
from airbough_service.combined.on_request import adding, resolved
from airbough_service.core import limits
from airbough_service.core.network import judged_states, losses, reaching
from airbough_service.judging import checks as judging
from airbough_service.judging import state_findings as judging_state
from airbough_service.questions.drawing import of_tree
from airbough_service.questions.gate_states import judge, states_asked
from airbough_service.questions.gate_states import question as gate_states
from airbough_service.questions.make_up_air import exhaust
from airbough_service.questions.measuring.diagnosis import readings
from airbough_service.questions.sizing import engine
from airbough_service.questions.strength import question as strength
from airbough_service.questions.working_day import plan
from airbough_service.shop import gates, junction_laws, machines
from airbough_service.shop import run_leaks as shop_leaks
from airbough_service.shop.gates import GateState
from airbough_service.shop.shop import Shop
from airbough_service.solving import design, grades, power, solved_state, tree_answer
from airbough_service.solving.tree_answer import velocity
from airbough_service.terms import units

SEEDS = range(24)
RARE = (0, 50, 100, 150)  # asked for a diagnosis too


def every_hood(shop, _openings=None):
    return [run.run.hood is not None for run in shop.runs]


def own_gate_alone(right):
    def wrong(shop, openings=None):
        stands = gates.document(shop) | (openings or {})
        own = [run.run.hood is not None and stands.get(run.index, 1.0) > 0.0 for run in shop.runs]
        return right(shop, openings)._replace(open=own)

    return wrong


def leaks_as_openings(right):
    def wrong(shop, openings=None):
        stands = gates.document(shop) | (openings or {})
        return right(
            shop, {gate: max(share, float(shop.runs[gate].run.gate.leakage)) for gate, share in stands.items()}
        )

    return wrong


def every_run_served(right):
    def wrong(parents, order, hoods, gate, is_open, served):
        right(parents, order, hoods, gate, is_open, served)
        served[:] = [True] * len(served)

    return wrong


def only_own_run_served(right):
    def wrong(parents, order, hoods, gate, is_open, served):
        right(parents, order, hoods, gate, is_open, served)
        served[:] = is_open

    return wrong


def leak_is_an_opening(_right):
    def wrong(shop, index):
        gate = shop.runs[index].run.gate
        return max(float(gate.opening), float(gate.leakage))

    return wrong


def zone_gates_shut(right):
    def wrong(shop, asked, path, faults):
        state = right(shop, asked, path, faults)
        zones = [zone for zone in shop.machines.zones if shop.runs[zone].id not in (asked.open or ())]
        return replace(state, openings=state.openings | dict.fromkeys(zones, 0.0))

    return wrong


def without_own_openings(right):
    def wrong(shop, asked, path, faults):
        return right(shop, structs.replace(asked, openings=None), path, faults)

    return wrong


def gates_without_id_are_zone_gates(right):
    def wrong(runs, shape, machine):
        return [right(runs, shape, machine)[k] if run.hood is not None else -2 for k, run in enumerate(runs)]

    return wrong


def fully_open(right):
    return lambda shop: dict.fromkeys(right(shop), 1.0)


def of_own_gates(_right):
    def wrong(shop):
        return SimpleNamespace(flow=sum(
            float(run.run.hood.flow) for run in shop.runs
            if run.run.hood is not None and (run.run.gate is None or float(run.run.gate.opening) > 0.0)
        ), flow_from="design-flows", runs=(), hoods=(), findings=(), solved=None)  # fmt: skip

    return wrong


def all_gates_open(right):
    def wrong(shop, fan):
        return right(shop, fan, GateState(openings=dict.fromkeys(shop.machines.gates, 1.0)))

    return wrong


def less_load(right):
    def wrong(self, flow, fan_static):
        found = right(self, flow, fan_static)
        return (
            None
            if found is None or found.motor_load is None
            else structs.replace(found, motor_load=0.85 * found.motor_load)
        )

    return wrong


def shut_hoods_graded(right):
    def wrong(*asked):
        return tuple(
            hood if hood.share_of_design is None else structs.replace(hood, served=grades.serving(hood.share_of_design))
            for hood in right(*asked)
        )

    return wrong


def least_of_all(_right):
    return lambda hoods: min(hoods, key=lambda hood: hood.share_of_design or 0.0, default=None)


def all_open(right):
    return lambda told: None if told is None else structs.replace(right(told), open=True)


def a_little_deeper(right):
    def wrong(self, gate, solved):
        suction, where = right(self, gate, solved)
        return suction * 1.001, where

    return wrong


def half_the_velocity(run, flow):
    return 0.5 * velocity(run, flow)


def losses_a_little_deeper(right):
    def wrong(*arguments):
        found = right(*arguments)
        lines = found.lines.copy()
        lines[losses.STATIC] *= 1.001
        return replace(found, lines=lines)

    return wrong


def dust_of_every_hood(right):
    return lambda runs, here, *rest: right(runs, here._replace(open=np.ones_like(here.open)), *rest)


def in_the_documents_state(right):
    return lambda solved: right(solved_state.solve(solved.shop, solved.fan))


def weighed_in_the_documents_state(right):
    def wrong(state, request, asked):
        return right(structs.replace(state, gate=state.shop.gates(), openings={}), request, asked)

    return wrong


def without_leakage(right):
    return lambda *asked: structs.replace(right(*asked), leakage=0.0)


def half_the_fittings(right):
    def wrong(*arguments):
        found = right(*arguments)
        rows = tuple(row._replace(fittings=0.5 * row.fittings) if k in found.lower else row
                     for k, row in enumerate(found.runs))  # fmt: skip
        return replace(found, runs=rows)

    return wrong


def none_of_a_lone_run(right):
    def wrong(join, law, word, end, into, preset):
        found = right(join, law, word, end, into, preset)
        return structs.replace(found, change=type(found.change)()) if word is None else found

    return wrong


class Without:
    """A module in which some names stand for something else."""

    def __init__(self, module, **names):
        self.__dict__.update({**vars(module), **names})


def states_without_openings(right):
    return lambda shop, states: right.named_states(shop, [structs.replace(one, openings=None) for one in states])


# What is planted: the check that sees it, the facts of which it is seen in one, where it stands, and what is there.
FAULTS = {
    "open by its own gate alone": ("all alike", {"open"}, gates, "standing", own_gate_alone),
    "every run served": ("all alike", {"idle"}, reaching, "reach_lists", every_run_served),
    "only runs of open hoods served": ("all alike", {"idle"}, reaching, "reach_lists", only_own_run_served),
    "a leak counts as an opening": ("all alike", {"open", "opening"}, gates, "_stated", leak_is_an_opening),
    "a gate a third open is shut": (
        "all alike", {"open"}, gates, "is_shut", lambda _right: lambda opening: opening < 0.34
    ),
    "zone gates shut in a named state": ("all alike", {"opening"}, gates, "setting", zone_gates_shut),
    "a state's own openings left out": ("all alike", {"opening"}, gates, "setting", without_own_openings),
    "the document's opening replaced by 1": ("all alike", {"opening"}, gates, "when_open", fully_open),
    "gates without id serve no machine": (
        "all alike", {"machine"}, machines, "_owners", gates_without_id_are_zone_gates
    ),
    "design flows of leaking gates counted": (
        "all alike", {"design flow"}, design, "gates",
        lambda right: Without(right, open_hoods=leaks_as_openings(right.open_hoods)),
    ),
    "exhaust by the hoods' own gates": ("all alike", {"design total"}, exhaust, "_designed", of_own_gates),
    "exhaust with all gates open": ("all alike", {"exhaust"}, exhaust, "solve", all_gates_open),
    "a leaking run's rows mixed up": (
        "all alike", {"suction"}, Shop, "part_rows", lambda right: lambda *asked: right(*asked)[::-1]
    ),
    "static pressure of another state": (
        "all alike", {"suction"}, strength, "named_states", lambda right: lambda *a, **k: right(*a, **k)[::-1]
    ),
    "deepest suction": ("all alike", {"deepest suction"}, judge.Judge, "_suction", a_little_deeper),
    "shaft power without the outlet": (
        "all alike", {"shaft power"}, power, "dynamic", lambda _right: lambda *_: 0.0
    ),
    "motor load": ("all alike", {"motor load"}, power.Shaft, "at", less_load),
    "dust of every hood": (
        "all alike", {"too slow"}, tree_answer, "dusts_of", lambda right: lambda shop, is_open: right(
            shop, None, every_hood(shop))
    ),
    "a tenth short of a limit holds": (
        "all alike", {"too slow", "starved"}, limits, "least_held", lambda right: lambda least: 0.9 * right(least)
    ),
    "fast only in the widest part": ("all alike", {"too fast"}, judging, "fastest", lambda _right: half_the_velocity),
    "a state's losses a little deeper": (
        "all alike", {"deepest suction"}, solved_state, "losses", losses_a_little_deeper
    ),
    "margin by the dust of every hood": (
        "all alike", {"transport margin"}, judged_states, "judge", dust_of_every_hood
    ),
    "shut hoods starve": ("all alike", {"starved"}, tree_answer, "hoods", shut_hoods_graded),
    "the most starved of shut hoods": ("all alike", {"most starved"}, solved_state, "most_starved", least_of_all),
    "open by any gate of a machine": (
        "all alike", {"stand open"}, states_asked, "stands_open", lambda right: lambda ways, openings: any(
            right([[gate]], openings) for way in ways for gate in way)
    ),
    "never all gates shut": (
        "all alike", {"code"}, judging_state, "_all_shut", lambda right: lambda *asked: structs.replace(
            right(*asked), code="hood-starved")
    ),
    "nothing cut off": ("all alike", {"cut off", "code"}, judging, "shut_off", lambda _right: lambda *_: ()),
    "gate states with gates wide open": (
        "all alike", {"system flow"}, judge.Judge, "quadratic", lambda right: lambda self, gate, opening: right(
            self, gate, float(opening > 0.0))
    ),
    "sizing in the document's state": (
        "all alike", {"system flow"}, engine, "in_state", lambda _right: lambda tree, _state: tree
    ),
    "a day with gates wide open": (
        "all alike", {"flow"}, plan.Group, "openings", lambda _right: lambda self, _wide: dict.fromkeys(self.gates, 1.0)
    ),
    "a drawing without a state's own openings": (
        "all alike", {"opening"}, of_tree, "gates",
        lambda right: Without(right, named_states=states_without_openings(right)),
    ),
    "readings in the document's state": ("all alike", {"flow"}, readings, "_set", lambda _right: lambda run, _: run),
    "compared hoods all open": ("all alike", {"open"}, compare, "_own", all_open),
    "explained in the document's state": (
        "extras", {"velocity", "static_pressure"}, gate_states, "of_point", in_the_documents_state
    ),
    "weighed in the document's state": (
        "extras", {"velocity", "open hoods"}, adding, "uncertainty", weighed_in_the_documents_state
    ),
    "resolved without the openings of named states": (
        "extras", {"flow"}, resolved, "_openings", lambda _right: lambda _shop: {}
    ),
    "resolved without the leakage of gates": ("extras", {"flow"}, resolved, "_gate", without_leakage),
    "a leaking run with half its fittings": (
        "leak to nothing", {"flow"}, shop_leaks, "part_runs", half_the_fittings
    ),
    "no change of bore where a run is alone": (
        "branch taken away", {"flow"}, junction_laws, "_joined", none_of_a_lone_run
    ),
    "states unknown to a diagnosis": (
        "wrong names", {"faults"}, readings, "setting", lambda right: lambda shop, asked, path, _faults: right(
            shop, asked, path, [])
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_seen(name):
    check, facts, where, attribute, fault = FAULTS[name]
    with mock.patch.object(where, attribute, fault(getattr(where, attribute))):
        seed = seen(check, facts, RARE if where is readings else SEEDS)
    assert seed is not None
    assert seen(check, facts, [seed]) is None, "seen without the fault too"


def test_a_planted_factor_of_a_unit_is_seen():
    metric, reading = units.PRESETS["metric"], in_si._READING["metric"]
    assert seen("other preset", {"flow"}, [0]) is None, "before the plant: what is read once keeps the right factor"
    wrong = mock.patch.dict(metric, {"flow": (metric["flow"][0] * 1.0001, 0.0)})
    with wrong, mock.patch.object(reading, "_made", {}):  # reads each struct by a function written anew
        assert seen("other preset", {"flow"}, [0]) == 0


def seen(check, facts, seeds):
    """Return the first shop of which a check tells a disagreement, not known already, in one of these facts."""
    for seed in seeds:
        shop = shops.draw(seed)
        if any(found.fact[0] in facts for found in unknown(checks.CHECKS[check](shop, Asking()), shop)):
            return seed
    return None
