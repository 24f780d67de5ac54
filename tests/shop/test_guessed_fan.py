"""A collector known by little: its curve is guessed, with a band, and never passed off as a curve."""

import math
import re
from typing import Any

import pytest

import airbough

CLIENT = airbough.local()
QUESTIONS = ("operating_point", "gate_states", "strength", "sizing", "parts_list", "balance")


def tree(known_by: dict[str, Any], **collector: Any) -> dict[str, Any]:
    """Return one duct with a gate, on a collector known by these figures."""
    hood = {"flow": 600, "entry": {"type": "plain-opening"}}
    run = {"id": "saw", "into": None, "diameter": 6, "length": 20, "duct": "spiral-galvanized", "hood": hood}
    return {
        "units": "us",
        "dust": "sawdust",
        "runs": [run | {"gate": {"opening": 1}}],
        "collector": {"known_by": known_by, **collector},
    }


TWO = {"greatest_flow": 1500, "greatest_suction": 12}
MOTOR = {"power": 3, "inlet_diameter": 7}


@pytest.mark.parametrize("figures", [TWO, MOTOR])
def test_the_answer_carries_the_band_and_says_that_it_is_a_guess(figures):
    answer = CLIENT.operating_point(tree(figures))
    band = answer.band
    assert band.flow_low < answer.system.flow < band.flow_high
    assert (band.hoods[0].run, band.hoods[0].flow_low) == ("saw", pytest.approx(band.flow_low))
    found = next(item for item in answer.findings if item.code == "fan-guessed")
    assert found.severity == "warning"
    assert "no curve of the maker's" in found.message
    told = re.search(r"at ([\d.]+) cfm \(([\d.]+) cfm to ([\d.]+) cfm\), and begins at ([\d.]+) in. wg "
                     r"\(([\d.]+) in. wg to ([\d.]+) in. wg\)", found.message)  # fmt: skip
    flow, least, most, suction, shallow, deep = map(float, told.groups())
    assert least < flow < most
    assert shallow < suction < deep
    assert "ask the seller" in found.suggestion.text
    assert "collector.fan.curve" in {item.path for item in answer.assumed}


@pytest.mark.parametrize("question", QUESTIONS)
def test_every_question_says_that_the_fan_is_a_guess(question):
    answer = getattr(CLIENT, question)(tree(TWO))
    assert "fan-guessed" in {item.code for item in answer.findings}


def test_the_drawing_of_the_fan_says_that_it_is_a_guess():
    drawn = CLIENT.drawing(tree(TWO) | {"of": "fan"})
    assert "A guess, no curve of the maker" in drawn.description
    assert "fan-guessed" in {item.code for item in drawn.findings}


def test_the_motors_power_is_what_the_air_takes_at_the_best_point():
    # flow times pressure is greatest on p (1 - x^2) at x = 3^-1/2, by calculus; a third of the motor's output is in it
    answer = CLIENT.operating_point(tree(MOTOR))
    curve = next(item.value for item in answer.assumed if item.path == "collector.fan.curve")
    flow = [point["flow"] * 0.3048**3 / 60 for point in curve]
    pressure = [point["pressure"] * 249.08891 for point in curve]
    best = flow[-1] / math.sqrt(3) * pressure[0] * 2 / 3
    assert best == pytest.approx(0.35 * 3 * 745.69987)
    assert flow[-1] / (math.pi / 4 * (7 * 0.0254) ** 2) == pytest.approx(25)


def test_losses_of_the_collector_are_beside_the_guess():
    losses = [{"name": "filter", "flow": 1000, "pressure": 1, "exponent": 1}]
    assert CLIENT.operating_point(tree(TWO, losses=losses)).system.flow < CLIENT.operating_point(tree(TWO)).system.flow


@pytest.mark.parametrize(
    ("collector", "code"),
    [
        ({"known_by": {"greatest_flow": 1500}}, "figures-do-not-fit"),
        ({"known_by": TWO | MOTOR}, "figures-do-not-fit"),
        ({"known_by": {"power": 100, "inlet_diameter": 3}}, "outside-range"),
        ({"known_by": TWO, "fan": {"curve": [{"flow": 0, "pressure": 9}, {"flow": 900, "pressure": 1}],
                                   "rated_as": "fan-static"}}, "curve-and-figures"),
    ],
)  # fmt: skip
def test_figures_that_say_too_little_or_too_much_are_refused(collector, code):
    with pytest.raises(airbough.Refused) as caught:
        CLIENT.operating_point(tree(TWO) | {"collector": collector})
    assert [(fault.path, fault.code) for fault in caught.value.problem.errors] == [("collector.known_by", code)]


def test_a_resolved_request_has_the_guess_as_numbers():
    answer = CLIENT.operating_point(tree(MOTOR) | {"resolved": True})
    assert "known_by" not in answer.resolved["collector"]
    assert CLIENT.operating_point(answer.resolved).system.flow == pytest.approx(answer.system.flow, rel=1e-12)


def test_draws_around_a_guess_are_refused():
    with pytest.raises(airbough.Refused, match="band"):
        CLIENT.operating_point(tree(TWO) | {"uncertainty": {"samples": 50}})


def test_a_curve_has_no_band():
    fan = {"curve": [{"flow": 0, "pressure": 12}, {"flow": 1500, "pressure": 2}], "rated_as": "fan-static"}
    assert CLIENT.operating_point(tree(TWO) | {"collector": {"fan": fan}}).band is None


def test_an_outline_takes_a_collector_known_by_little():
    line, machine = (
        {"id": "main", "length": 20},
        {"id": "saw", "line": "main", "at": 20, "drop": 6, "port": 4, "flow": 400},
    )
    outline = {"units": "us", "dust": "sawdust", "lines": [line], "machines": [machine], "collector": {"known_by": TWO}}
    assert CLIENT.operating_point(CLIENT.outline(outline).tree).band is not None
