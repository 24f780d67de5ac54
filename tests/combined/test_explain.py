"""Each term of an explanation is redone from the answer's own text: formula and inputs, nothing else."""

from __future__ import annotations

import ast
import json
import math
import operator
from pathlib import Path
from typing import Any

import pytest

from junction_models import under
from random_documents import document
from site_shop import ask

DEMO = json.loads((Path(__file__).parents[1] / "data" / "eight_machines.json").read_text("utf-8"))
OPERATIONS: dict[type, Any] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}
FUNCTIONS: dict[str, Any] = {"sqrt": math.sqrt, "log10": math.log10, "min": min, "max": max}


def calculated(formula: str, inputs: dict[str, float]) -> float:
    """Do the arithmetic of a formula, and nothing but arithmetic."""

    def value(node: ast.AST) -> float:
        if isinstance(node, ast.Constant):
            return float(node.value)  # type: ignore[arg-type]
        if isinstance(node, ast.Name):
            return inputs[node.id]
        if isinstance(node, ast.BinOp):
            return OPERATIONS[type(node.op)](value(node.left), value(node.right))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            return FUNCTIONS[node.func.id](*map(value, node.args))
        raise AssertionError(f"not arithmetic: {ast.dump(node)}")

    return value(ast.parse(formula.replace("^", "**"), mode="eval").body)


def redone(answer: Any) -> None:
    """Redo every term."""
    assert answer.explanation
    for term in answer.explanation:
        assert calculated(term.formula, term.inputs) == pytest.approx(term.value, rel=1.0e-9, abs=1.0e-9), term


def in_metric(body: dict[str, Any]) -> dict[str, Any]:
    """Return the demo shop read as metric by giving each number its unit."""
    text = json.loads(json.dumps(body))
    text["units"] = "metric"
    text["air"] = {"temperature": 20, "altitude": 300}
    for run in text["runs"]:
        for name, unit in (("diameter", "in"), ("length", "ft"), ("rise", "ft")):
            if name in run:
                run[name] = f"{run[name]} {unit}"
        hood = run.get("hood", {})
        for name, unit in (("flow", "cfm"), ("port_diameter", "in")):
            if name in hood:
                hood[name] = f"{hood[name]} {unit}"
        if "taper_length" in run.get("join", {}):
            run["join"]["taper_length"] = f"{run['join']['taper_length']} in"
    for point in [*text["collector"]["fan"]["curve"], *text["collector"]["losses"]]:
        point["flow"], point["pressure"] = f"{point['flow']} cfm", f"{point['pressure']} inH2O"
    return text


@pytest.mark.parametrize("question", ["operating-point", "balance"])
@pytest.mark.parametrize("junctions", ["flow-ratio", "flow-ratio-third-edition", "entry-angle", "none"])
@pytest.mark.parametrize("preset", ["us", "metric"])
def test_every_term_of_the_demo_shop_is_redone(question, junctions, preset):
    body = DEMO if preset == "us" else in_metric(DEMO)
    redone(ask(question, under(body, junctions) | {"explain": True}))


@pytest.mark.parametrize("seed", range(40))
def test_every_term_of_random_trees_is_redone(seed):
    answer = ask("operating-point", document(seed) | {"explain": True})
    if answer.outcome != "beyond-fan-curve":
        redone(answer)


def test_power_law_friction_is_redone():
    body = under(DEMO, "entry-angle", friction="power-law") | {"explain": True}
    body["runs"] = [
        {k: v for k, v in run.items() if k != "stretch"} | {"duct": "spiral-galvanized"} for run in body["runs"]
    ]
    answer = ask("balance", body)
    redone(answer)
    assert any("velocity_exponent" in term.inputs for term in answer.explanation)


@pytest.mark.parametrize(
    "fan",
    [{"rated_as": "fan-total", "outlet_diameter": 8}, {"rated_as": "inlet-static", "inlet_diameter": 7}],
    ids=["fan-total", "inlet-static"],
)
def test_the_fan_is_redone_for_every_rating(fan):
    body = json.loads(json.dumps(DEMO)) | {"explain": True}
    body["collector"]["fan"] |= fan | {"includes": ["filter"], "speed_ratio": 0.9}
    answer = ask("operating-point", body)
    redone(answer)
    (left,) = [term for term in answer.explanation if term.term == "left-for-tree"]
    assert left.formula == "fan_static_pressure - loss_1"


def test_the_terms_are_those_of_the_answer():
    answer = ask("operating-point", DEMO | {"explain": True})
    by_run = {
        (term.run, term.term): term.value
        for term in answer.explanation
        if term.at and term.at.startswith("runs[") and term.at.endswith("]")
    }
    for run in answer.runs:
        assert by_run[run.id, "total-loss"] == pytest.approx(run.total_loss, rel=1.0e-12)
        assert by_run[run.id, "static-pressure"] == pytest.approx(run.static_pressure, rel=1.0e-12)
        assert by_run[run.id, "total-pressure"] == pytest.approx(run.total_pressure, rel=1.0e-12)
        if run.flow > 0.0:
            assert by_run[run.id, "velocity"] == pytest.approx(run.velocity, rel=1.0e-12)
            assert by_run[run.id, "reynolds"] == pytest.approx(run.reynolds, rel=1.0e-12)
            assert by_run[run.id, "friction-loss"] == pytest.approx(run.friction_loss, rel=1.0e-12)


def test_the_pieces_add_up_to_the_losses_told():
    answer = ask("operating-point", DEMO | {"explain": True})
    for run in answer.runs:
        own = [term for term in answer.explanation if term.run == run.id]
        assert sum(t.value for t in own if t.term == "fitting-loss") == pytest.approx(run.fitting_loss, abs=1.0e-12)
        assert sum(t.value for t in own if t.term == "entry-loss") == pytest.approx(run.entry_loss, abs=1.0e-12)
        joined = sum(t.value for t in own if t.term in ("join-law", "change-loss"))
        assert joined == pytest.approx(run.join_loss, abs=1.0e-12)


def test_a_term_from_the_catalogue_names_its_source():
    answer = ask("operating-point", DEMO | {"explain": True})
    known = {source.id for source in answer.sources}
    fittings = [term for term in answer.explanation if term.term in ("fitting-loss", "entry-loss", "join-law")]
    assert fittings
    assert all(term.source in known and term.place for term in fittings)


def test_a_straight_duct_by_hand():
    # 785 ft3/min in 6 in: V = Q/A = 785 / 0.19635 = 3998 ft/min, arithmetic.
    body = {
        "units": "us",
        "explain": True,
        "runs": [{"id": "a", "into": None, "diameter": 6, "length": 10, "roughness": 0.0003,
                  "hood": {"flow": 785, "entry": {"type": "known-coefficient", "coefficient": 0.5}}}],
    }  # fmt: skip
    terms = {term.term: term for term in ask("balance", body).explanation}
    assert terms["velocity"].value == pytest.approx(785.0 / (math.pi * 0.25**2))
    # The velocity-pressure method prints V = 1096 sqrt(VP/density) (ACGIH Industrial Ventilation, from memory).
    density = terms["velocity-pressure"].inputs["density"]
    assert terms["velocity-pressure"].value == pytest.approx(density * (3998.0 / 1097.0) ** 2, rel=2.0e-3)
    assert terms["entry-loss"].value == pytest.approx(0.5 * terms["velocity-pressure"].value)


@pytest.mark.parametrize("junctions", ["flow-ratio", "flow-ratio-third-edition", "entry-angle", "none"])
@pytest.mark.parametrize("question", ["operating-point", "balance"])
def test_a_leaking_tree_is_redone(question, junctions):
    body = DEMO | {"explain": True, "runs": [run | {"leakage_class": "round-unsealed"} for run in DEMO["runs"]]}
    answer = ask(question, under(body, junctions))
    redone(answer)
    for run in answer.runs:
        own = [term for term in answer.explanation if term.run == run.id]
        leaks = [term.value for term in own if term.term == "leak-flow"]
        assert sum(leaks) == pytest.approx(run.flow - run.flow_upstream, rel=1.0e-6, abs=1.0e-9)
        pieces = sum(term.value for term in own if term.term in ("fitting-loss", "leak-loss"))
        assert pieces == pytest.approx(run.fitting_loss, abs=1.0e-9)
        friction = sum(term.value for term in own if term.term == "friction-loss")
        assert friction == pytest.approx(run.friction_loss, abs=1.0e-9)
