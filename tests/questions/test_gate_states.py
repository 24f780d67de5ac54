"""Gate states against single operating points, and the facts that must hold among states."""

import itertools

import msgspec
import pytest

from airbough.wire.operating_point import OperatingPointRequest
from airbough_service.questions import operating_point
from airbough_service.terms import units
from airbough_service.terms.refusal import Refusal
from gate_states_shop import DIP, ask, in_si, shop
from junction_models import under

MACHINES = {"planer": ["planer"], "saw": ["saw-below", "saw-above"], "sander": ["sander"], "lathe": ["lathe"]}
LEAKY = "round-unsealed"
POWER = {"power": [{"flow": q, "power": p} for q, p in ((0, 0.6), (1000, 1.8), (2600, 3.0))]}


def single(document, openings):
    """Return the operating point of the document with these openings by run id, in SI."""
    document = {key: document[key] for key in ("units", "name", "dust", "runs", "collector") if key in document}
    runs = [
        run | {"gate": run["gate"] | {"opening": openings.get(run["id"], 0.0)}} if "gate" in run else run
        for run in document["runs"]
    ]
    asked = msgspec.convert(document | {"runs": runs}, OperatingPointRequest)
    return operating_point.answer(units.to_si(asked))


def same(state, alone):
    """Check one state against the single answer."""
    assert state.outcome == alone.outcome
    own = {"below-transport-velocity", "hood-starved", "needlessly-fast", "transitional-flow", "all-gates-shut"}
    own |= {
        "compressibility-neglected",
        "fan-beyond-curve",
        "several-operating-points",
        "motor-overloaded",
        "power-beyond-points",
    }
    assert set(state.findings) == own & {item.code for item in alone.findings}
    if state.outcome == "beyond-fan-curve":
        assert state.flow is None
        return
    assert state.flow == pytest.approx(alone.system.flow, rel=1e-9)
    assert state.fan_static_pressure == pytest.approx(alone.system.fan_static_pressure, rel=1e-8)
    assert state.deepest_suction == pytest.approx(-min(run.static_pressure for run in alone.runs), rel=1e-8)
    if alone.system.crossings:
        shares = [hood.share_of_design for hood in alone.hoods if hood.open and hood.share_of_design is not None]
        assert state.share_of_design == (pytest.approx(min(shares), rel=1e-8) if shares else None)
        assert state.most_starved_hood == alone.system.most_starved_hood


@pytest.mark.parametrize("junctions", ["flow-ratio", "flow-ratio-third-edition", "entry-angle", "none"])
@pytest.mark.parametrize(("dust", "curve"), [("sawdust", None), (None, None), ("shavings", DIP)])
def test_every_set_of_machines_is_the_single_operating_point(junctions, dust, curve):
    document = under(shop(dust=dust, **({"curve": curve} if curve else {})), junctions)
    answer = in_si(document | {"up_to": 4})
    assert answer.system.states == 16 == len(answer.states)
    seen = set()
    for state in answer.states:
        openings = {run: 1.0 for name in state.open for run in MACHINES[name]}
        alone = single(document | {"model": document["model"]}, openings)
        if junctions == "flow-ratio":
            same(state, alone)
        seen.add(frozenset(state.open))
    assert seen == {frozenset(c) for k in range(5) for c in itertools.combinations(MACHINES, k)}


def test_named_states_take_openings_and_move_a_machine_together():
    document = shop(states=[
        {"name": "cut", "open": ["saw"], "openings": {"planer": 0.35}},
        {"name": "one hood", "open": ["saw-above"], "openings": {"saw-below": 0.0}},
        {"name": "nothing", "open": []},
    ])  # fmt: skip
    answer = in_si(document)
    assert [state.name for state in answer.states] == ["all gates shut", "cut", "one hood", "nothing"]
    assert answer.states[1].open == ("planer", "saw")
    same(answer.states[1], single(document, {"saw-below": 1.0, "saw-above": 1.0, "planer": 0.35}))
    same(answer.states[2], single(document, {"saw-above": 1.0}))
    assert answer.states[0].outcome == answer.states[3].outcome == "no-flow"


def test_a_hood_without_gate_is_always_open():
    document = shop(up_to=1)
    del document["runs"][2]["gate"]
    answer = in_si(document)
    assert "planer" not in answer.system.machines
    assert answer.system.no_flow == 0
    assert {state.most_starved_hood for state in answer.states if state.open == ()} == {"planer"}


def test_a_gate_inside_moves_with_its_machine_and_else_stays_as_it_is():
    tied, lone = shop(up_to=4), shop(up_to=4)
    tied["runs"][6]["gate"] = {"opening": 0.0, "machine_id": "bench"}
    for run in tied["runs"][7:]:
        run["hood"] = run["hood"] | {"machine_id": "bench"}
    machines = {"planer": ["planer"], "saw": MACHINES["saw"], "bench": ["far", "sander", "lathe"]}
    lone["runs"][6]["gate"] = {"opening": 0.5}
    for state in in_si(tied).states:
        same(state, single(tied, {run: 1.0 for name in state.open for run in machines[name]}))
    answer = in_si(lone)
    assert answer.system.machines == ("planer", "saw", "sander", "lathe")
    for state in answer.states[1:]:
        openings = {run: 1.0 for name in state.open if name in MACHINES for run in MACHINES[name]}
        same(state, single(lone, openings | {"far": 0.5}))


def test_the_first_state_shuts_every_gate_and_sees_the_shut_off_pressure():
    answer = ask(shop(states=[{"name": "planing", "open": ["planer"]}]))
    assert answer.states[0].name == "all gates shut"
    assert answer.states[0].outcome == "no-flow"
    assert answer.states[0].deepest_suction == pytest.approx(12.0)  # the curve's own first point
    assert "all-gates-shut" in {item.code for item in answer.findings}


def test_one_machine_more_draws_more_in_all():
    """Common practice, no source: on a falling fan curve a further opening raises the flow at the fan."""
    flows = {frozenset(state.open): state.flow for state in in_si(shop(up_to=4)).states}
    for less, more in itertools.product(flows, flows):
        if less < more:
            assert flows[less] < flows[more]


def test_a_narrower_opening_gives_less_air_in_every_state():
    wide = in_si(shop(up_to=2))
    tight = in_si(shop(up_to=2, openings={run: 0.5 for runs in MACHINES.values() for run in runs}))
    for state, other in zip(wide.states[1:], tight.states[1:], strict=True):
        assert state.open == other.open
        assert state.flow > other.flow


def test_the_worst_states_are_the_extremes_of_all_and_are_counted():
    answer = in_si(shop(up_to=4, collector=POWER))
    states = answer.states
    margins = [state.transport_margin for state in states if state.transport_margin is not None]
    assert answer.worst.settling.transport_margin == min(margins)
    assert answer.worst.starving.share_of_design == min(s.share_of_design for s in states if s.share_of_design)
    assert answer.worst.suction.deepest_suction == max(state.deepest_suction for state in states)
    assert answer.worst.motor_power.shaft_power == max(s.shaft_power for s in states if s.shaft_power)
    assert answer.system.settling == sum("below-transport-velocity" in state.findings for state in states)
    assert answer.system.starving == sum("hood-starved" in state.findings for state in states)
    assert answer.system.failing == sum(not state.holds for state in states)


def test_the_motor_is_overloaded_where_the_power_points_pass_its_rating():
    motor = {"motor": {"rated_power": 2.0}}
    answer = ask(shop(up_to=4, collector=POWER | motor))
    loads = [state.motor_load for state in answer.states if state.motor_load is not None]
    assert answer.system.motor_overloaded == sum(load > 1.0 for load in loads) > 0
    item = next(item for item in answer.findings if item.code == "motor-overloaded")
    assert item.severity == "danger"
    assert item.state == answer.worst.motor_power.name
    assert answer.worst.motor_power.shaft_power == pytest.approx(2.0 * max(loads))


def test_power_of_an_efficiency_is_never_less_than_its_best_point_would_take():
    # The efficiency given is that of the best point; the law is tried in core, and against the contract's oracle.
    fan = shop()["collector"]["fan"] | {"outlet_diameter": 6}
    answer = in_si(shop(up_to=1, collector={"efficiency": 0.5, "fan": fan}))
    for state in answer.states[1:]:
        speed = state.flow / (3.141592653589793 * 0.1524**2 / 4)
        total = state.fan_static_pressure + 0.5 * answer.air.density * speed**2
        assert state.shaft_power >= state.flow * total / 0.5 * (1.0 - 1e-9)
    assert [item.code for item in answer.findings].count("efficiency-shape-assumed") == 1


def test_runs_are_told_on_request_and_only_the_worst_of_many_states_are_listed():
    document = shop(up_to=2, states=[{"name": "planing", "open": ["planer"]}], detail="runs")
    answer = in_si(document)
    assert all(len(state.runs) == 9 and len(state.hoods) == 5 for state in answer.states)
    planing = next(state for state in answer.states if state.name == "planing")
    assert planing.runs == single(document, {"planer": 1.0}).runs
    short = in_si(document | {"listed": 3, "detail": "summary"})
    assert [state.name for state in short.states] == ["all gates shut", "planing"]
    assert not short.system.all_listed
    assert short.system.states == answer.system.states
    assert short.worst.settling.transport_margin == answer.worst.settling.transport_margin


def test_leaking_runs_are_judged_as_they_are_told():
    document = shop(up_to=2)
    for run in document["runs"]:
        run["leakage_class"] = LEAKY
    answer = in_si(document)
    assert answer.system.no_flow == 0
    for state in answer.states:
        same(state, single(document, {run: 1.0 for name in state.open for run in MACHINES[name]}))


def test_short_power_points_leave_the_power_out_with_a_finding():
    points = {"power": [{"flow": q, "power": p} for q, p in ((0, 0.6), (700, 1.5))]}
    answer = in_si(shop(up_to=4, collector=points))
    assert {state.shaft_power is None for state in answer.states[1:]} == {True, False}
    assert all(("power-beyond-points" in s.findings) == (s.shaft_power is None) for s in answer.states[1:])
    assert "power-beyond-points" in {item.code for item in answer.findings}


def test_the_openings_of_the_request_hold_wherever_a_gate_is_open():
    document = shop(states=[{"name": "as given"}, {"name": "planing", "open": ["planer"]}], openings={"planer": 0.5})
    answer = in_si(document)
    same(
        answer.states[1], single(document, {name: 1.0 for runs in MACHINES.values() for name in runs} | {"planer": 0.5})
    )
    same(answer.states[2], single(document, {"planer": 0.5}))


def test_a_state_may_not_bear_the_name_of_a_machine_that_is_combined():
    with pytest.raises(Refusal) as caught:
        in_si(shop(states=[{"name": "planer", "open": ["saw"]}], up_to=1))
    assert [(fault.path, fault.code) for fault in caught.value.faults] == [("states[0].name", "duplicate-name")]


def test_the_state_told_is_one_that_was_asked_for():
    """All gates shut is always examined; here a lathe without gate then draws by itself, and dust settles worst."""
    named = [{"name": "planing", "open": ["planer"]}, {"name": "sanding", "open": ["sander"]}]
    document = shop(states=named)
    del document["runs"][8]["gate"]
    answer = ask(document)
    assert answer.worst.settling.name == "all gates shut"
    margins = {state.name: state.transport_margin for state in answer.states if state.named}
    assert answer.system.state == min(margins, key=margins.get)
    told = next(state for state in answer.states if state.name == answer.system.state)
    assert told.flow == pytest.approx(answer.runs[0].flow, rel=1e-9)
    assert ask(shop(up_to=1)).system.state in MACHINES


def test_a_machine_stands_open_when_no_gate_of_its_own_shuts_one_of_its_hoods():
    """Two ports with a gate each: one is enough. Two gates in line: both are needed. A zone gate stands for itself."""
    document = shop()
    document["runs"][7]["gate"]["machine_id"] = "sander"
    document["runs"].append(
        {"id": "sander-hose", "into": "sander", "diameter": 4, "length": 4, "duct": "spiral-galvanized"}
        | {"hood": document["runs"][7].pop("hood"), "gate": {"opening": 1.0}}
    )
    document["runs"][6]["gate"] = {"opening": 1.0}  # over sander and lathe: a zone
    states = {
        "one port": {"saw-below": 1.0},
        "other port": {"saw-above": 0.5},
        "drop": {"sander": 1.0},
        "hose": {"sander-hose": 1.0},
        "both": {"sander": 1.0, "sander-hose": 0.2},
        "behind": {"sander": 1.0, "sander-hose": 1.0, "far": 0.0},
    }
    asked = [{"name": name, "open": [], "openings": openings} for name, openings in states.items()]
    told = {state.name: set(state.open) for state in ask(document | {"states": asked}).states}
    assert told["all gates shut"] == set()
    assert told["one port"] == told["other port"] == {"saw", "far"}
    assert told["drop"] == told["hose"] == {"far"}
    assert told["both"] == {"sander", "far"}
    assert told["behind"] == {"sander"}


def test_each_state_of_a_guessed_fan_has_its_band():
    # Each end is the same question to a collector whose curve is that end.
    body = shop()
    body["collector"] = {"known_by": {"greatest_flow": 1500, "greatest_suction": 11}}
    answer = ask({**body, "up_to": 1})
    assert answer.states
    for state in answer.states:
        assert state.band.flow_low <= state.flow <= state.band.flow_high
    told = next(state for state in answer.states if state.share_of_design is not None)
    assert told.band.share_of_design_low < told.share_of_design < told.band.share_of_design_high
    assert told.band.transport_margin_low < told.transport_margin < told.band.transport_margin_high
    assert all(state.band is None for state in ask({**shop(), "up_to": 1}).states)
