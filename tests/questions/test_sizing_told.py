"""What sizing tells: a lack once, of what it is a share, advice that is left to follow, and a run as it is built."""

import pytest

import layout_shops
from airbough.calls import SIZING
from asking import ask as asked
from sizing_garage import fan, shop


def ask(body):
    return asked(SIZING.name, body)


def findings(answer, code):
    return [item for item in answer.findings if item.code == code]


def test_a_lack_of_pressure_is_said_once_and_as_a_share_of_pressure():
    answer = ask(shop(rules={"design_flow": None, "pressure_available": None}, collector=fan(300), flows="design"))
    assert {item.rule for item in answer.broken} == {"design_flow", "pressure_available"}
    (item,) = findings(answer, "preferred-rule-broken")
    assert item.message.startswith("design flow and pressure available do not hold at one place")
    (state,) = answer.states
    share = 100.0 * (state.fan_static_pressure / state.available - 1.0)
    assert item.message.endswith(f"by {share:.1f} % of the pressure that there is")


def test_what_the_fan_moves_too_little_is_a_share_of_air():
    answer = ask(shop(rules={"design_flow": "prefer"}, collector=fan(300), flows="fan"))
    (item,) = findings(answer, "preferred-rule-broken")
    assert item.message.startswith("design flow does not hold")
    assert item.message.endswith(" % of its air")


@pytest.mark.parametrize(
    ("rule", "word"), [("off", "a rule"), (None, "wider diameters"), ("prefer", "wider diameters")]
)
def test_advice_to_make_pressure_a_rule_is_given_where_it_is_none(rule, word):
    answer = ask(shop(rules={"design_flow": rule, "pressure_available": "off"}, collector=fan(300), flows="design"))
    (item,) = findings(answer, "fan-falls-short")
    assert word in item.suggestion.text
    assert ("a rule" in item.suggestion.text) == (rule == "off")


@pytest.mark.parametrize("transport", [None, "must"])
def test_a_run_of_no_length_that_changes_size_before_its_wye_is_judged_as_it_is_built(transport):
    """A branch of no duct, whose diameters are fixed by its wyes: its velocity is that of the engine's answer."""
    runs = [
        {"id": "main", "into": None, "length": 5.0, "diameter": 160},
        {"id": "far", "into": "main", "length": 3.0, "join": {"type": "straight"}, "hood": {"flow": 1100}},
        {"id": "near", "into": "main", "length": 0.0, "join": {"type": "branch", "angle": 45}, "hood": {"flow": 650}},
    ]
    for run in runs:
        run |= {"diameter": 160, "duct": "spiral-galvanized"}
        if "hood" in run:
            run["hood"] |= {"entry": layout_shops.ENTRY, "port_diameter": 100}
    stock = layout_shops.stock((100, 125, 160))
    stock["fittings"] = [item for item in stock["fittings"] if item["type"] != "wye"]
    stock["fittings"] += [{"type": "wye", "diameter": 160, "branch_diameter": 160, "angle": 45, "price": 9}]
    body = {"units": "metric", "dust": "sawdust", "runs": runs, "stock": stock, "flows": "design"}
    if transport:
        body["rules"] = {"transport_velocity": transport}
    answer = ask(body)
    assert answer.outcome == ("sized" if transport is None else "no-solution")
    told = {run.id: run.velocity for run in answer.runs}
    for run in answer.sizes:
        assert run.states[0].velocity == pytest.approx(told[run.run], rel=1e-9)
    slow = {
        f"runs[{number}].diameter" for number, run in enumerate(runs) for one in answer.broken if one.run == run["id"]
    }
    assert slow == {item.at for item in findings(answer, "below-transport-velocity")}
