"""The smallest set of further gates, against trying every set through single operating points."""

import itertools

import msgspec
import pytest

from airbough.wire.operating_point import OperatingPointRequest
from airbough_service.questions import operating_point
from airbough_service.questions.gate_states import fixes
from airbough_service.terms import units
from gate_states_shop import BRANCH, DIP, STRAIGHT, ask, in_si, leaf, shop

GATES = {"planer": ["planer"], "saw": ["saw-below", "saw-above"], "sander": ["sander"], "lathe": ["lathe"]}


def holds(document, opened, running):
    """Return whether every check holds with these machines' gates open: velocities everywhere, flows of the running."""
    wide = {run for name in opened for run in GATES[name]}
    counted = {run for name in running for run in GATES[name]}
    runs = [
        run | {"gate": {"opening": 1.0 if run["id"] in wide else 0.0}} if "gate" in run else run
        for run in document["runs"]
    ]
    document = {key: value for key, value in document.items() if key not in ("states", "up_to")} | {"runs": runs}
    alone = operating_point.answer(units.to_si(msgspec.convert(document, OperatingPointRequest)))
    if not alone.system.crossings:
        return False
    bad = [item for item in alone.findings if item.code == "below-transport-velocity"]
    bad += [item for item in alone.findings if item.code == "hood-starved" and item.run in counted]
    return not bad


def by_hand(document, running):
    """Return the smallest sets of further machines that fix, by trying all."""
    further = [name for name in GATES if name not in running]
    for size in range(1, len(further) + 1):
        found = [set(chosen) for chosen in itertools.combinations(further, size)
                 if holds(document, {*running, *chosen}, running)]  # fmt: skip
        if found:
            return found
    return []


SHOPS = [
    {}, {"main": 7}, {"main": 8}, {"dust": "fine-sanding-dust"}, {"dust": "chips"}, {"main": 5, "dust": "wood-flour"},
    {"curve": DIP}, {"curve": DIP, "main": 7}, {"curve": ((0, 7.0), (1000, 5.0), (2600, 0.0)), "main": 7},
]  # fmt: skip


@pytest.mark.parametrize("more", SHOPS)
def test_the_smallest_set_is_that_of_trying_every_set(more):
    document = shop(**more)
    every = [set(c) for size in range(4) for c in itertools.combinations(GATES, size)]
    document["states"] = [{"name": "+".join(sorted(s)) or "none", "open": sorted(s)} for s in every]
    answer = in_si(document)
    assert len(answer.states) == 1 + len(every)
    for state, running in zip(answer.states[1:], every, strict=True):
        assert state.holds == holds(document, running, running)
        if state.holds:
            assert state.fix is None
            continue
        found = by_hand(document, running)
        assert state.fix.proven
        assert state.fix.fixes == bool(found)
        if found:
            assert set(state.fix.open) in found


def test_both_answers_occur_among_these_shops():
    kinds = set()
    for more in SHOPS:
        document = shop(**more, states=[{"name": name, "open": [name]} for name in GATES])
        kinds |= {state.fix.fixes for state in in_si(document).states if state.fix is not None}
    assert kinds == {True, False}


def fixed(document):
    """Return a state's name and the finding that fixes it."""
    return {item.state: item for item in ask(document).findings if item.code == "open-further-gates"}


def test_a_suggestion_when_made_gives_the_told_gain():
    document = shop(main=7, states=[{"name": name, "open": [name]} for name in GATES])
    found = fixed(document)
    assert found
    before = {state.name: state for state in ask(document).states}
    for name, item in found.items():
        index = next((k for k, state in enumerate(document["states"]) if state["name"] == name), None)
        further = [document["runs"][int(c.path[5:].split("]")[0])]["id"] for c in item.suggestion.changes]
        state = {"name": "after", "open": [*(document["states"][index]["open"] if index is not None else []), *further]}
        after = ask(document | {"states": [state]}).states[1]
        gain = item.suggestion.gain
        assert after.flow - before[name].flow == pytest.approx(gain["flow_gained"], rel=1e-8)
        assert after.transport_margin >= 1 - 1e-6
        assert all(change.value == 1.0 for change in item.suggestion.changes)


def test_opening_moves_every_gate_of_a_machine():
    document = shop(main=7)
    document["states"] = [{"name": name, "open": [name]} for name in GATES]
    for item in fixed(document).values():
        runs = {document["runs"][int(c.path[5:].split("]")[0])]["id"] for c in item.suggestion.changes}
        assert not {"saw-below", "saw-above"} & runs or {"saw-below", "saw-above"} <= runs


def long_shop(count, main):
    """Return a main of one bore, its last two runs narrower, with equal branches."""
    document = shop()
    document["runs"] = [
        {"id": f"m{k}", "into": f"m{k - 1}" if k else None, "diameter": main, "length": 3, "duct": "spiral-galvanized"}
        | ({"join": STRAIGHT} if k else {})
        for k in range(count)
    ]
    document["runs"][-1]["diameter"], document["runs"][-2]["diameter"] = 4, 5.5
    document["runs"] += [leaf(f"b{k}", f"m{k}", 4, 100, BRANCH) for k in range(count - 1)]
    document["runs"].append(leaf(f"b{count - 1}", f"m{count - 1}", 4, 100, STRAIGHT))
    return document


def test_beyond_the_bound_the_search_is_greedy_and_says_so(monkeypatch):
    document = long_shop(9, 8) | {"states": [{"name": "last", "open": ["b8"]}]}
    whole = in_si(document).states[1].fix
    assert (whole.proven, whole.tried, len(whole.open)) == (True, 8 + 28, 2)
    monkeypatch.setattr(fixes, "MOST_SETS", 8)
    monkeypatch.setattr(fixes, "MOST_SETS_IN_ALL", 10)
    short = in_si(document).states[1].fix
    assert (short.fixes, short.proven, short.tried) == (True, False, 8 + 7)
    assert short.transport_margin <= whole.transport_margin
    document = long_shop(9, 9) | {"states": [{"name": "last", "open": ["b8"]}]}
    answer = in_si(document)
    assert (answer.states[1].fix.fixes, answer.states[1].fix.proven) == (False, False)
    assert "fix-not-found" in {item.code for item in answer.findings if item.state == "last"}


def test_all_sets_tried_is_a_proof_that_none_mends():
    document = long_shop(6, 12) | {"states": [{"name": "last", "open": ["b5"]}]}
    fix = in_si(document).states[1].fix
    assert (fix.fixes, fix.proven, fix.tried) == (False, True, 2**5 - 1)
