"""The question `drawing`: the picture shows what the other questions answer."""

import re
import xml.etree.ElementTree as ElementTree

import msgspec
import pytest

from airbough.wire.drawing import DrawingRequest
from airbough.wire.operating_point import OperatingPointRequest
from airbough_service.combined import registry
from airbough_service.terms.refusal import Refusal
from drawings import segments

SHOP = {  # an invented garage shop
    "units": "metric",
    "name": "garage shop",
    "dust": "shavings",
    "runs": [
        {"id": "main", "into": None, "diameter": 180, "length": 4, "duct": "spiral-galvanized"},
        {"id": "east", "into": "main", "join": {"type": "straight", "taper_length": 150}, "diameter": 150, "length": 3,
         "duct": "spiral-galvanized"},
        {"id": "saw", "into": "main", "join": {"type": "branch", "angle": 45}, "diameter": 100, "length": 2,
         "duct": "flexible-hose-ribbed", "stretch": 0.9, "gate": {"opening": 1.0},
         "hood": {"machine": "table-saw", "machine_id": "saw-1", "flow": 680, "entry": {"type": "plain-opening"}}},
        {"id": "planer", "into": "east", "diameter": 150, "length": 2.5, "duct": "spiral-galvanized",
         "gate": {"opening": 1.0},
         "hood": {"machine": "planer", "flow": 1330, "entry": {"type": "flanged-opening"}}},
    ],
    "collector": {"fan": {"rated_as": "fan-static", "curve": [
        {"flow": 0, "pressure": 2800}, {"flow": 1000, "pressure": 2700}, {"flow": 2000, "pressure": 2100},
        {"flow": 2700, "pressure": 1200}, {"flow": 3300, "pressure": 100}]}},
}  # fmt: skip


def ask(of, **changes):
    return registry.answer("drawing", msgspec.convert({**SHOP, "of": of, **changes}, DrawingRequest))


def operating(**changes):
    return registry.answer("operating-point", msgspec.convert({**SHOP, **changes}, OperatingPointRequest))


def words(svg):
    return ["".join(text.itertext()) for text in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


def test_a_tree_with_a_fan_shows_the_operating_point():
    shown, truth = words(ask("tree").svg), operating()
    assert truth.outcome == "operating-point"
    for run in truth.runs:
        assert run.id in shown
        assert f"{run.flow:.0f}" in shown
        assert f"{run.velocity:.1f}" in shown
    for hood in truth.hoods:
        assert (hood.machine or "").replace("-", " ") in " ".join(shown)
    point = f"{truth.system.flow:.0f} m³/h at {truth.system.fan_static_pressure:.0f} Pa"
    assert any(point in line for line in shown)


def test_every_finding_of_the_operating_point_is_marked_and_listed():
    answer, truth = ask("tree"), operating()
    assert [finding.code for finding in answer.findings] == [finding.code for finding in truth.findings]
    assert truth.findings
    shown = words(answer.svg)
    assert sum(re.match("(Danger|Warning|Note): ", line) is not None for line in shown) == len(
        {finding.code for finding in truth.findings}
    )
    assert {finding.code for finding in truth.findings} <= set(shown)


def test_a_named_state_is_drawn_in_place_of_the_documents():
    answer = ask("tree", states=[{"name": "saw alone", "open": ["saw-1"]}])
    shut = [{**run, **({"gate": {"opening": 0.0}} if run["id"] == "planer" else {})} for run in SHOP["runs"]]
    truth = operating(runs=shut)
    shown = words(answer.svg)
    assert "State of the gates: saw alone" in shown
    assert {"shut", "open"} <= set(shown)
    assert f"{truth.runs[2].flow:.0f}" in shown
    assert "no open machine, leaks at most" in shown


def test_without_a_fan_design_flows_are_drawn_and_add_up():
    shown = words(ask("tree", collector=None).svg)
    assert "2010" in shown  # 680 + 1330 m3/h in the main
    assert any(line.startswith("Design flows, 2010 m³/h") for line in shown)
    shut = [{**run, **({"gate": {"opening": 0.0}} if run["id"] == "saw" else {})} for run in SHOP["runs"]]
    assert "2010" not in words(ask("tree", collector=None, runs=shut).svg)


def test_without_flows_sizes_alone_are_drawn():
    runs = [
        {**run, **({"hood": {"entry": {"type": "plain-opening"}}} if "hood" in run else {})} for run in SHOP["runs"]
    ]
    shown = words(ask("tree", collector=None, runs=runs).svg)
    assert "Sizes only: no fan, and not every open hood has a design flow" in shown
    assert {"Diameter", "180"} <= set(shown)
    assert not {"Flow", "Velocity", "Gets"} & set(shown)


def test_beyond_the_curve_no_flow_is_made_up():
    weak = {
        "fan": {**SHOP["collector"]["fan"], "curve": [{"flow": 0, "pressure": 2800}, {"flow": 300, "pressure": 2700}]}
    }
    shown = words(ask("tree", collector=weak).svg)
    assert any("Beyond the fan's curve: at least 300 m³/h" in line for line in shown)
    assert "Flow" not in shown
    shown = words(ask("fan", collector=weak).svg)
    assert "at least 300 m³/h" in " ".join(shown)


def test_a_fan_shows_every_states_crossing():
    states = [
        {"name": "saw alone", "open": ["saw"]},
        {"name": "shut", "open": []},
        {"name": "saw half", "openings": {"saw": 0.5}},
    ]
    answer = ask("fan", states=states)
    shown = words(answer.svg)
    truth = operating()
    assert f"{truth.system.flow:.0f} m³/h at {truth.system.fan_static_pressure:.0f} Pa" in shown
    assert {"as in the document", "saw alone", "shut", "saw half", "no flow"} <= set(shown)
    assert [finding.code for finding in answer.findings] == ["all-gates-shut"]
    assert answer.findings[0].state == "shut"


def test_each_system_curve_passes_through_its_crossing():
    answer = ask("fan", states=[{"name": "saw alone", "open": ["saw"]}])
    root = ElementTree.fromstring(answer.svg)
    space = "{http://www.w3.org/2000/svg}"
    dots = [(float(dot.get("cx")), float(dot.get("cy"))) for dot in root.iter(f"{space}circle")][:2]
    curves = [
        [tuple(map(float, point.split())) for point in path.get("d")[1:].split("L")]
        for path in root.iter(f"{space}path")
        if path.get("stroke-width") == "1.9"
    ]
    assert len(curves) == 2
    for dot, curve in zip(dots, curves, strict=True):
        assert min(distance(dot, piece) for piece in segments(curve)) < 1.0


def distance(point, piece):
    (a, b), (c, d) = piece
    length = (c - a) ** 2 + (d - b) ** 2
    share = min(1.0, max(0.0, ((point[0] - a) * (c - a) + (point[1] - b) * (d - b)) / length))
    return ((a + share * (c - a) - point[0]) ** 2 + (b + share * (d - b) - point[1]) ** 2) ** 0.5


def test_us_units_are_drawn_in_the_us_preset():
    runs = [{**run, "diameter": f"{run['diameter']} mm", "length": f"{run['length']} m"} for run in SHOP["runs"]]
    runs = [
        {**run, "hood": {**run["hood"], "flow": f"{run['hood']['flow']} m^3/h"}} if "hood" in run else run
        for run in runs
    ]
    runs[1]["join"] = {"type": "straight", "taper_length": "150 mm"}
    shown = words(ask("tree", units="us", runs=runs, collector=None).svg)
    assert "1183" in shown  # 2010 m3/h over 60 * 0.3048^3
    assert {"cfm", "in.", "fpm", "3 15/16"} <= set(shown)


@pytest.mark.parametrize(
    ("of", "changes", "code", "path"),
    [
        ("fan", {"collector": None}, "fan-missing", "collector.fan"),
        ("fan", {"states": [{"name": "a", "open": ["nobody"]}]}, "unknown-machine", "states[0].open[0]"),
        ("fan", {"states": [{"name": "a", "openings": {"nobody": 1}}]}, "unknown-run", "states[0].openings.nobody"),
        ("fan", {"states": [{"name": "a", "openings": {"main": 1}}]}, "no-gate", "states[0].openings.main"),
        ("tree", {"states": [{"name": "a"}, {"name": "b"}]}, "one-state-a-drawing", "states"),
    ],
)
def test_what_cannot_be_drawn_is_refused_with_its_path(of, changes, code, path):
    with pytest.raises(Refusal) as caught:
        ask(of, **changes)
    assert [(fault.code, fault.path) for fault in caught.value.faults] == [(code, path)]


def test_more_runs_than_a_sheet_holds_are_refused():
    runs = [{"id": f"r{index}", "into": None, "diameter": 100, "length": 1} for index in range(2001)]
    with pytest.raises(Refusal) as caught:
        ask("tree", runs=runs)
    assert caught.value.faults[0].code == "too-many-to-draw"


def test_the_answer_says_its_size_and_words():
    answer = ask("tree", width=400)
    root = ElementTree.fromstring(answer.svg)
    assert answer.width == 400.0 == float(root.get("width"))
    assert answer.height == pytest.approx(float(root.get("height")), abs=0.01)
    assert root[0].text == answer.title == "garage shop"
    assert root[1].text == answer.description
    assert "saw into main, diameter 100 mm" in answer.description
    assert answer.cautions


def test_a_guessed_fan_shows_no_points_as_given():
    """Nobody gave points of a guess: the picture marks none, and its key says what the curve is."""
    given = ask("fan").svg
    guess = ask("fan", collector={"known_by": {"greatest_flow": 2700, "greatest_suction": 3000}}).svg
    assert "fan, and the points it was given by" in given
    assert 'width="6" height="6"' in given
    assert "fan, its curve guessed" in guess
    assert "points it was given by" not in guess
    assert 'width="6" height="6"' not in guess
