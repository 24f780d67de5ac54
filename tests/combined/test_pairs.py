"""The drawing of pairs says what gate states answer of the same states."""

from __future__ import annotations

import copy
import json
import re
from pathlib import Path

import pytest

from airbough_service.combined.pairs import cell
from airbough_service.terms.refusal import Refusal
from asking import ask

SHOP = json.loads((Path(__file__).parents[2] / "deploy" / "shop.json").read_text("utf-8"))


def shop(**more):
    return copy.deepcopy(SHOP) | more


def test_each_pair_is_drawn_as_gate_states_judge_it():
    states = ask("gate-states", shop(up_to=2)).states[1:]
    holding = sum(state.holds for state in states)
    drawn = ask("drawing", shop(of="pairs"))
    words = re.findall(r'font-weight="bold">(alone|together|just short|open also|settles|starved)</text>', drawn.svg)
    assert len(words) == len(states) == 21
    assert sum(word in ("alone", "together") for word in words) == holding
    assert "jointer and drum sander: just short, jointer by 7 %." in drawn.description


def test_the_summary_begins_with_what_works():
    assert ask("drawing", shop(of="pairs")).description.startswith("Alone: 6 of 6 hold every check.")


def test_a_further_gate_that_helps_is_named():
    found = ask("gate-states", shop(states=[{"name": "x", "open": ["jointer", "drum-sander"]}])).states[1]
    fix = found.fix
    said = cell(found, alone=False)
    if fix is not None and fix.fixes:
        assert (said.verdict, said.second) == ("with", ", ".join(fix.open))
    else:
        assert said.verdict == "short"


def test_a_run_that_settles_is_told_with_the_state_that_clears_it():
    cleared = {item.run: item for item in ask("gate-states", shop(up_to=2)).settling}
    assert {"jointer", "jointer-hose"} <= set(cleared)
    # the jointer alone is the first state with it open; it carries its dust there
    assert cleared["jointer"].cleared_by == "jointer"
    assert cleared["jointer"].states == 3
    assert cleared["jointer"].worst_ratio < 1.0 <= cleared["jointer"].cleared_ratio


@pytest.mark.parametrize("word", ["carrying", "served"])
def test_grades_go_with_their_numbers(word):
    answer = ask("operating-point", shop())
    told = answer.runs if word == "carrying" else [hood for hood in answer.hoods if hood.open]
    ratio = {"carrying": "carrying_ratio", "served": "share_of_design"}[word]
    judged = [one for one in told if getattr(one, word) is not None]
    assert judged
    assert all((getattr(one, word) == "holds") == (getattr(one, ratio) >= 1.0) for one in judged)


def test_one_machine_makes_no_pairs():
    runs = [run for run in SHOP["runs"] if run["id"] in ("main", "planer", "planer-hose")]
    runs = [{name: value for name, value in run.items() if name != "join"} for run in runs]
    with pytest.raises(Refusal) as refused:
        ask("drawing", shop(of="pairs", runs=runs))
    assert refused.value.faults[0].code == "no-gate"
