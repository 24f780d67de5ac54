"""Variants of a tree: the same as a question of its own for each; what is wrong with changes, told in their places."""

from __future__ import annotations

import copy
import json
import math
import random
from pathlib import Path
from typing import Any

import msgspec
import pytest

import airbough
from airbough.wire.variants import Check, Figure, VariantsRequest
from airbough_service.api.admission import limits
from airbough_service.api.document import examples
from airbough_service.api.problems import HttpRefusal
from airbough_service.api.settings import Settings
from airbough_service.combined.variants import singly
from airbough_service.combined.variants.block import FIGURES
from airbough_service.combined.variants.checks import FINDINGS
from random_documents import document

CLIENT = airbough.local()
FIGURE_NAMES = list(Figure.__args__)
SAME = 1.0e-11
BY_ROUNDING = ("system.mass_residual", "system.energy_residual")


def shop(seed: int) -> dict[str, Any]:
    """Return a random document; of two in three no run changes its bore on the way."""
    body = document(seed)
    for run in body["runs"] if seed % 3 else ():
        run["fittings"] = [one for one in run.get("fittings", ()) if one["type"] not in ("taper", "abrupt-change")]
    if seed % 4 == 0:
        body["collector"] |= {"efficiency": 0.5, "motor": {"rated_power": 3}}
    return body


def change(dice: random.Random, body: dict[str, Any]) -> list[dict[str, Any]]:
    """Return one to three random changes, now and then one that leaves no tree."""
    out = []
    for _ in range(dice.randint(1, 3)):
        number, run = dice.choice(list(enumerate(body["runs"])))
        at = dice.choice((f"runs[{number}]", f"runs[{run['id']}]", f'runs["{run["id"]}"]'))
        kinds: list[tuple[str, Any]] = [
            (f"{at}.length", dice.choice((0, round(dice.uniform(0, 30), 2), "7 ft 3 in"))),
            (f"{at}.diameter", dice.choice((run["diameter"], round(run["diameter"] * dice.uniform(0.9, 1.2), 2)))),
            (f"{at}.rise", round(dice.uniform(-3, 3), 1)),
            (f"{at}.duct", dice.choice(("spiral-galvanized", "smooth-plastic"))),
            (f"{at}.roughness", 0.0004),
            (f"{at}.gauge", 24),
            ("collector.fan.speed_ratio", dice.choice((0.8, 0.9, 1.05))),
            ("collector.losses[bag].pressure", 0.3),
            ("air", {"temperature": 50, "altitude": 1000, "humidity": 0.5}),
            ("dust", dice.choice(("sawdust", "shavings"))),
            ("model.friction", "colebrook"),
        ]
        if run.get("fittings"):
            first = run["fittings"][0]
            kinds.append((f"{at}.fittings", run["fittings"][1:]))
            if first["type"] == "elbow":
                kinds.append((f"{at}.fittings[0].count", dice.choice((1, 3.0))))
                kinds.append((f"{at}.fittings[0].radius_ratio", 1.0))
        if run.get("hood"):
            kinds.append((f"{at}.hood.flow", dice.randint(200, 900)))
            kinds.append((f"{at}.hood.entry", {"type": "flanged-opening"}))
            kinds.append((f"{at}.hood.port_diameter", run["diameter"] - 0.5))
        if run.get("gate"):
            kinds += [(f"{at}.gate.opening", dice.choice((0.0, 0.4, 1.0)))] * 3
            kinds.append((f"{at}.gate.leakage", 0.01))
            kinds.append((f"{at}.gate", None))
        path, value = dice.choice(kinds)
        out.append({"path": path, "value": value})
    return out


def changed(body: dict[str, Any], sets: list[dict[str, Any]]) -> dict[str, Any]:
    """Return a document with its changes, put in by hand."""
    out = copy.deepcopy(body)
    ids = {run["id"]: number for number, run in enumerate(out["runs"])}
    losses = {loss["name"]: number for number, loss in enumerate(out["collector"]["losses"])}
    for one in sets:
        here: Any = out
        steps = one["path"].replace("]", "").replace("[", ".").replace('"', "").split(".")
        for place, step in enumerate(steps):
            key: Any = ids.get(step, losses.get(step, step))
            key = int(key) if isinstance(key, str) and key.isdigit() else key
            if place == len(steps) - 1:
                here[key] = one["value"]
                break
            if isinstance(here, dict) and key not in here:
                here[key] = {}
            here = here[key]
    return out


def told(answer: airbough.OperatingPointAnswer, figure: str) -> Any:
    """Return a figure of an answer, by run where it is of runs."""
    where, _, field = figure.rpartition(".")
    if not where:
        return answer.outcome
    if where == "system":
        return getattr(answer.system, field)
    rows = answer.runs if where == "runs" else answer.hoods
    return {row.id if where == "runs" else row.run: getattr(row, field) for row in rows}


def asked_alone(body: dict[str, Any]) -> airbough.OperatingPointAnswer | airbough.Refused:
    """Return the answer to a question of its own, or why there is none."""
    try:
        return CLIENT.operating_point(body)
    except airbough.Refused as refused:
        return refused


def alike(one: Any, other: Any, size: float) -> bool:
    """Return whether two values are the same, numbers within a share of the largest beside them."""
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= SAME * max(abs(one), abs(other), size)
    return bool(one == other)


def hold_together(answer: airbough.VariantsAnswer, number: int, alone: airbough.OperatingPointAnswer) -> None:
    """Compare a variant with the answer to a question of its own."""
    for figure in FIGURE_NAMES:
        own, column = told(alone, figure), answer.columns[figure]
        if figure in BY_ROUNDING:
            continue
        if not isinstance(own, dict):
            assert alike(column[number], own, 0.0), (figure, column[number], own)
            continue
        size = max((abs(value) for value in own.values() if isinstance(value, float)), default=0.0)
        for run, value in own.items():
            assert alike(column[run][number], value, size), (figure, run, column[run][number], value)
    codes = {finding.code for finding in alone.findings}
    for check, code in FINDINGS.items():
        holds = answer.checks[check][number]
        assert (holds is False) == (code in codes), (check, holds)


@pytest.mark.parametrize("seed", range(24))
def test_a_variant_is_the_question_of_its_own(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    singles: list[int] = []
    solve = singly.solve
    monkeypatch.setattr(
        singly, "solve", lambda reading, variant: singles.append(variant.number) or solve(reading, variant)
    )
    dice, body = random.Random(seed), shop(seed)
    every = [{"set": change(dice, body)} for _ in range(25)]
    gated = [run["id"] for run in body["runs"] if run.get("gate")]
    for one in every[::4]:
        one["state"] = {"open": dice.sample(gated, min(len(gated), 2))} if gated else {}
    answer = CLIENT.variants(units="us", tree=body, changes=every, only=FIGURE_NAMES)
    refused = 0
    for number, one in enumerate(every):
        asked = {**changed(body, one["set"]), **({"state": one["state"]} if "state" in one else {})}
        alone = asked_alone(asked)
        if isinstance(alone, airbough.Refused):
            refused += 1
            problem = answer.problems[str(number)]
            assert problem.type == alone.problem.type
            wrong = {(fault.path.removeprefix(f"changes[{number}]."), fault.code) for fault in problem.errors}
            assert wrong == {(fault.path, fault.code) for fault in alone.problem.errors}
            continue
        hold_together(answer, number, alone)
    assert len(answer.problems) == refused
    if seed % 3:
        assert len(singles) < len(every) - refused, "none went the quick way"


def test_verdicts_turn_where_those_of_the_question_turn() -> None:
    body = json.loads((Path(__file__).parents[1] / "data" / "eight_machines.json").read_text("utf-8"))
    speeds, state = [round(0.20 + 0.01 * step, 3) for step in range(160)], {"open": ["planer"]}
    grid = {"collector.fan.speed_ratio": speeds}
    answer = CLIENT.variants(units="us", tree=body, state=state, grid=grid, only=["outcome"])
    for number, speed in enumerate(speeds):
        one = copy.deepcopy(body)
        one["collector"]["fan"]["speed_ratio"] = speed
        codes = {finding.code for finding in CLIENT.operating_point({**one, "state": state}).findings}
        for check, code in FINDINGS.items():
            assert (answer.checks[check][number] is False) == (code in codes), (check, speed)
    for check in ("transport-velocity", "upper-velocity", "design-flow", "suction", "fan-speed", "motor-load"):
        assert {True, False} <= set(answer.checks[check]), check


def test_a_grid_is_every_combination_and_names_them() -> None:
    body = shop(1)
    grid = {"runs[0].length": [4, "6 ft"], "collector.fan.speed_ratio": [0.9, 1.0, 1.05]}
    answer = CLIENT.variants(units="metric", tree=body, grid=grid, only=["system.flow"])
    assert answer.names[1] == "runs[0].length=4, collector.fan.speed_ratio=1"
    assert answer.units == {"flow": "m^3/h"}
    one = copy.deepcopy(body)
    one["runs"][0]["length"], one["collector"]["fan"]["speed_ratio"] = 6, 1.05
    alone = CLIENT.operating_point(one).system.flow
    assert alone is not None
    assert math.isclose(answer.columns["system.flow"][5], alone * 1.699010795, rel_tol=1e-8)


def test_an_outline_is_changed_in_its_own_places_and_in_those_of_its_tree() -> None:
    body = examples.request("outline")
    outline = CLIENT.outline(body)
    run = outline.tree.runs[0].id
    machine = body["machines"][0]["id"]
    every = [
        {},
        {"set": [{"path": f"machines[{machine}].hose", "value": 9}]},
        {"set": [{"path": f"runs[{run}].length", "value": 30}]},
        {"set": [{"path": f"machines[{machine}].hose", "value": 9}, {"path": f"runs[{run}].length", "value": 30}]},
        {"set": [{"path": "collector.fan.speed_ratio", "value": 0.95}]},
    ]
    answer = CLIENT.variants(units=body["units"], outline=body, changes=every, only=["system.flow"])
    assert not answer.problems
    longer = copy.deepcopy(body)
    longer["machines"][0]["hose"] = 9
    slower = copy.deepcopy(body)
    slower["collector"]["fan"]["speed_ratio"] = 0.95
    trees = [
        outline.tree,
        CLIENT.outline(longer).tree,
        outline.tree.with_run(run, length=30),
        CLIENT.outline(longer).tree.with_run(run, length=30),
        CLIENT.outline(slower).tree,
    ]
    for number, tree in enumerate(trees):
        alone = CLIENT.operating_point(tree).system.flow
        assert alone is not None
        assert math.isclose(answer.columns["system.flow"][number], alone, rel_tol=SAME)


def test_all_faults_of_changes_are_told_at_once_each_in_its_place() -> None:
    body = shop(1)
    one = body["runs"][0]["id"]
    sets = [
        {"path": f"runs[{one}].lenght", "value": 3},
        {"path": "runs[nobody].length", "value": 3},
        {"path": f"runs[{one}].length", "value": "3 kg"},
        {"path": f"runs[{one}].diameter", "value": 400},
        {"path": f"runs[{one}].diameter", "value": [4]},
        {"path": "air.temperature.low", "value": 3},
        {"path": "units", "value": "metric"},
        {"path": "runs[99].length", "value": 3},
        {"path": "runs..length", "value": 3},
        {"path": "collector.fan.curve[0]", "value": {"flow": 1}},
    ]
    with pytest.raises(airbough.NotComputable) as caught:
        CLIENT.variants(units="us", tree=body, changes=[{}, {"set": sets}])
    faults = {fault.path: fault for fault in caught.value.problem.errors}
    base = "changes[1].set"
    assert faults[f"{base}[0].path"].code == "unknown-path"
    assert "length" in faults[f"{base}[0].path"].detail
    told_at = {path for fault in faults.values() for path in fault.paths}
    wrong = {f"{base}[{number}].path" for number in (0, 1, 5, 6, 7, 8)}
    wrong |= {f"{base}[{number}].value" for number in (2, 3, 4)} | {f"{base}[9].value.pressure"}
    assert told_at == wrong
    assert faults[f"{base}[3].value"].code == "out-of-range"


def test_what_is_given_twice_or_not_at_all_is_refused() -> None:
    body = shop(1)
    for words, paths in (
        ({}, {"tree", "changes"}),
        ({"tree": body, "outline": examples.request("outline"), "changes": []}, {"outline"}),
        ({"tree": body, "changes": [], "grid": {"air.altitude": [1]}}, {"grid"}),
    ):
        with pytest.raises(airbough.NotComputable) as caught:
            CLIENT.variants(units="us", **words)
        assert {fault.path for fault in caught.value.problem.errors} == paths


def test_a_grid_too_large_for_a_server_is_refused_before_it_is_made() -> None:
    grid = {f"runs[{number}].length": list(range(1000)) for number in range(4)}
    request = msgspec.convert({"units": "us", "tree": shop(1), "grid": grid}, airbough.VariantsRequest)
    with pytest.raises(HttpRefusal, match="1000000000000 variants"):
        limits.check(request, Settings())
    with pytest.raises(airbough.NotComputable, match="1000000000000 variants"):
        CLIENT.variants(request)


def test_the_lists_of_figures_and_checks_are_those_that_are_told() -> None:
    assert set(FIGURES) == set(FIGURE_NAMES)
    assert set(FINDINGS) == set(Check.__args__)
    fields = {"system": airbough.OperatingPointSystem, "hoods": airbough.HoodResult, "runs": airbough.RunResult}
    known = {f"{where}.{name}" for where, struct in fields.items() for name in struct.__struct_fields__} | {"outcome"}
    beside = {"hoods.run", "hoods.machine", "runs.id", "runs.parts", "system.crossings"}
    assert known - set(FIGURE_NAMES) == beside
    assert set(FIGURE_NAMES) <= known


def test_every_variant_of_a_tree_that_is_none_says_why() -> None:
    body = shop(1)
    del body["collector"]["fan"]
    fan = {
        "rated_as": "fan-static",
        "includes": [],
        "curve": [{"flow": 0, "pressure": 9}, {"flow": 9000, "pressure": 1}],
    }
    answer = CLIENT.variants(
        units="us", tree=body, changes=[{}, {"set": [{"path": "collector.fan", "value": fan}]}], only=["system.flow"]
    )
    assert list(answer.problems) == ["0"]
    assert answer.problems["0"].errors[0].code == "fan-missing"
    assert answer.columns["system.flow"][0] is None
    assert answer.columns["system.flow"][1] > 0
    assert json.loads(msgspec.json.encode(answer))["checks"]["way-open"] == [None, True]


def test_of_two_values_for_one_place_the_later_stands():
    body = examples.request("variants")
    asked = {"units": body["units"], "tree": body["tree"], "only": ["system.flow"]}
    both = [{"path": "runs[main].length", "value": 10}, {"path": "runs[main].length", "value": 80}]
    told = CLIENT.variants(msgspec.convert(asked | {"changes": [{"set": both}, {"set": both[1:]}, {"set": both[:1]}]},
                           VariantsRequest))  # fmt: skip
    twice, later, earlier = told.columns["system.flow"]
    assert twice == later != earlier
