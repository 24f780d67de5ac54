"""What gate states refuse, each with its path."""

import pytest

from airbough_service.core.errors import DidNotConvergeError
from airbough_service.core.network import states as core
from airbough_service.terms.refusal import Refusal
from gate_states_shop import DIP, ask, leaf, shop

WRONG = [
    ({"states": [{"name": "a", "open": ["sav"]}]}, "states[0].open[0]", "unknown-machine"),
    ({"states": [{"name": "a", "open": ["main"]}]}, "states[0].open[0]", "unknown-machine"),
    ({"states": [{"name": "a"}, {"name": "a"}]}, "states[1].name", "duplicate-name"),
    ({"states": [{"name": "all gates shut"}]}, "states[0].name", "duplicate-name"),
    ({"states": [{"name": "a", "openings": {"main": 0.5}}]}, "states[0].openings.main", "no-gate"),
    ({"states": [{"name": "a", "openings": {"mane": 0.5}}]}, "states[0].openings.mane", "unknown-run"),
    ({"states": [{"name": "a", "openings": {"planer": 1e-6}}]}, "states[0].openings.planer", "outside-range"),
    ({"openings": {"planer": 0.0}}, "openings.planer", "outside-range"),
    ({"up_to": 2, "machines": ["lahte"]}, "machines[0]", "unknown-machine"),
    ({"up_to": 2, "machines": ["saw", "saw-above"]}, "machines[1]", "duplicate-machine"),
    ({"machines": ["saw"]}, "machines", "up-to-missing"),
]


@pytest.mark.parametrize(("more", "path", "code"), WRONG)
def test_a_fault_has_its_path(more, path, code):
    with pytest.raises(Refusal) as refusal:
        ask(shop(**more))
    assert (path, code) in {(fault.path, fault.code) for fault in refusal.value.faults}


def test_every_fault_is_told_at_once():
    with pytest.raises(Refusal) as refusal:
        ask(shop(states=[{"name": "a", "open": ["x", "y"]}, {"name": "a", "openings": {"main": 1.0}}]))
    assert len(refusal.value.faults) == 4


def test_the_nearest_words_are_told():
    with pytest.raises(Refusal, match="sander"):
        ask(shop(states=[{"name": "a", "open": ["sandr"]}]))


def many(count, **more):
    """Return a shop of so many machines along one run after another."""
    document = shop(**more)
    document["runs"] = [
        {"id": f"m{k}", "into": f"m{k - 1}" if k else None, "diameter": 6, "length": 1, "duct": "spiral-galvanized"}
        | ({"join": {"type": "straight"}} if k else {})
        for k in range(count)
    ]
    branch = {"type": "branch", "angle": 45}
    document["runs"] += [leaf(f"b{k}", f"m{k}", 4, 300, branch) for k in range(count - 1)]
    document["runs"].append(leaf("end", f"m{count - 1}", 4, 300))
    return document


def test_too_many_sets_are_refused_with_their_number():
    with pytest.raises(Refusal, match="179447 states") as refusal:
        ask(many(60, up_to=4, machines=[f"b{k}" for k in range(46)]))  # 1 + 46 + 1035 + 15180 + 163185
    assert [(fault.path, fault.code) for fault in refusal.value.faults] == [("up_to", "too-many-states")]


def test_a_curve_that_may_be_crossed_more_than_once_allows_fewer():
    with pytest.raises(Refusal, match="crossed more than once") as refusal:
        ask(many(24, up_to=4, curve=DIP))
    assert [(fault.path, fault.code) for fault in refusal.value.faults] == [("up_to", "too-many-states")]


def test_runs_of_too_many_states_are_refused():
    with pytest.raises(Refusal) as refusal:
        ask(many(20, up_to=4, detail="runs", listed=50000))
    assert [(fault.path, fault.code) for fault in refusal.value.faults] == [("detail", "too-many-states")]


def test_no_gate_at_all_leaves_nothing_to_combine():
    document = shop(up_to=1)
    for run in document["runs"]:
        run.pop("gate", None)
    with pytest.raises(Refusal) as refusal:
        ask(document)
    assert [(fault.path, fault.code) for fault in refusal.value.faults] == [("up_to", "no-gate")]


def test_suction_that_one_density_cannot_answer_is_refused():
    with pytest.raises(Refusal, match=r"60 in\. wg") as refusal:
        ask(shop(curve=((0, 60.1), (2600, 0.0)), up_to=1))
    assert refusal.value.faults[0].code == "suction-too-deep"


def test_a_state_without_a_solution_is_refused_by_its_name(monkeypatch):
    def unsolved(*_):
        raise DidNotConvergeError

    monkeypatch.setattr(core, "operate", unsolved)
    with pytest.raises(Refusal, match=r"2 of 3 .* 'both'") as refusal:
        ask(shop(curve=DIP, states=[{"name": "both", "open": ["planer", "saw"]}, {"name": "one", "open": ["planer"]}]))
    assert [(fault.path, fault.code) for fault in refusal.value.faults] == [("states[0]", "no-distribution-of-flow")]


def test_a_state_below_sixty_inches_of_water_is_refused_though_another_is_shown():
    """The hump of the curve, 70 inH2O at speed 1.1, lies where the lathe alone draws; the planer is first and shown."""
    curve = ((0, 30.0), (250, 58.0), (1200, 58.0), (1800, 20.0), (3600, 0.0))
    runs = [
        {"id": "main", "into": None, "diameter": 6, "length": 12, "duct": "spiral-galvanized"},
        leaf("planer", "main", 6, 500, {"type": "straight"}),
        leaf("lathe", "main", 3, 150, {"type": "branch", "angle": 45}),
    ]
    document = shop(curve=curve) | {"runs": runs}
    document["collector"]["fan"] |= {"interpolation": "linear", "speed_ratio": 1.1}
    planer, lathe = {"name": "planing", "open": ["planer"]}, {"name": "turning", "open": ["lathe"]}
    assert ask(document | {"states": [planer]}).system.state == "planing"
    with pytest.raises(Refusal) as refusal:
        ask(document | {"states": [planer, lathe]})
    assert [fault.code for fault in refusal.value.faults] == ["suction-too-deep"]
    assert "'turning'" in refusal.value.faults[0].detail


def test_of_many_named_states_that_fail_the_first_hundred_are_searched_and_that_is_told():
    """130 named states and all gates shut fail: 31 are left."""
    answer = ask(shop(states=[{"name": f"state {number}", "open": ["lathe"]} for number in range(130)]))
    (found,) = (item for item in answer.findings if item.code == "fix-not-searched")
    assert found.message.startswith("31 further named states fail")
