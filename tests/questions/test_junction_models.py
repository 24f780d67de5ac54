"""Junction laws in a document: what they refuse, what a shut branch is, and the edition that a resolved one keeps."""

import copy

import msgspec
import pytest

from airbough_service import catalogue
from airbough_service.terms.refusal import Refusal
from site_shop import ask

FAN = {"curve": [{"flow": 0, "pressure": 3000}, {"flow": 2500, "pressure": 1500}, {"flow": 5000, "pressure": 0}],
       "rated_as": "fan-static"}  # fmt: skip
LAWS = ["flow-ratio", "flow-ratio-third-edition", "entry-angle", "none"]


def run(name, into, bore, join=None, hood=True, **more):
    own = {"id": name, "into": into, "diameter": bore, "length": 3, "duct": "spiral-galvanized"} | more
    if join is not None:
        own["join"] = join
    if hood:
        own |= {"hood": {"flow": 700, "entry": {"type": "plain-opening"}}, "gate": {"opening": 1.0}}
    return own


def shop(law, *arms):
    """Return an invented main with these runs into it."""
    main = run("main", None, 160, hood=False)
    return {"units": "metric", "runs": [main, *arms], "collector": {"fan": FAN}, "model": {"junctions": law}}


def straight(bore=125, **more):
    return run("straight", "main", bore, {"type": "straight"} | more)


def branch(name, angle=45, bore=100, **more):
    return run(name, "main", bore, {"type": "branch", "angle": angle} | more)


def told(body):
    return {one.id: one for one in ask("operating-point", body).runs}


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("bore", [100, 125, 160, 180])
def test_a_shut_branch_is_a_branch_taken_away(law, bore):
    """The contract's sentence, for the second branch of a double wye and for the only one beside a straight."""
    for others in ((), (branch("saw", 30, 90),)):
        lathe = branch("lathe", 60) | {"gate": {"opening": 0.0}}
        shut = told(shop(law, straight(bore), *others, lathe))
        away = told(shop(law, straight(bore), *others))
        for name, one in away.items():
            assert shut[name].flow == pytest.approx(one.flow, rel=1e-9), name
            assert shut[name].static_pressure == pytest.approx(one.static_pressure, rel=1e-9)


def test_a_straight_alone_under_entry_angle_keeps_its_static_pressure():
    one = told(shop("entry-angle", straight(125)))
    # By hand: static pressures meet, so that the fall of velocity pressure, 1 - (125/160)^4 of its own, is lost.
    lost = one["straight"].velocity_pressure * (1.0 - (125 / 160) ** 4)
    assert one["straight"].join_loss == pytest.approx(lost, rel=1e-9)
    assert told(shop("entry-angle", straight(180)))["straight"].join_loss == 0.0
    gradual = told(shop("entry-angle", straight(125, taper_length=300)))
    assert 0.0 < gradual["straight"].join_loss < 0.6 * lost
    known = told(shop("entry-angle", straight(125, coefficient=2.0)))
    assert known["straight"].join_loss == pytest.approx(2.0 * known["straight"].velocity_pressure, rel=1e-9)


@pytest.mark.parametrize("name", ["taper_length", "coefficient"])
@pytest.mark.parametrize(("law", "alone"), [("none", True), ("none", False), ("entry-angle", False)])
def test_a_change_of_size_that_the_law_does_not_charge_is_refused(law, alone, name):
    arms = [straight(125, **{name: 5})] + ([] if alone else [branch("saw")])
    with pytest.raises(Refusal) as refusal:
        ask("operating-point", shop(law, *arms))
    assert [(fault.path, fault.code) for fault in refusal.value.faults] == [
        (f"runs[1].join.{name}", "not-for-this-law")
    ]


FACTOR = {"low": 1.0, "slope": 0.0, "high": 1.0, "step": 9.0}


@pytest.mark.parametrize(
    ("law", "own"),
    [
        ("entry-angle", {"factor": FACTOR}),
        ("none", {"straight": {"linear": 1.0, "drag": 1.0}}),
        ("flow-ratio", {"entry_factor": 0.3}),
    ],
)
def test_a_branchs_number_of_another_law_is_refused(law, own):
    with pytest.raises(Refusal) as refusal:
        ask("operating-point", shop(law, straight(160), branch("saw", **own)))
    (name,) = own
    assert [(fault.path, fault.code) for fault in refusal.value.faults] == [
        (f"runs[2].join.{name}", "not-for-this-law")
    ]


@pytest.mark.parametrize("law", LAWS)
def test_a_law_and_its_numbers_survive_being_resolved(law):
    body = shop(law, straight(160), branch("saw"), branch("lathe", 80, 110)) | {"resolved": True}
    first = ask("operating-point", body)
    sent = msgspec.json.decode(msgspec.json.encode(first.resolved))
    assert sent.get("model", {}).get("junctions", "flow-ratio") == law
    again = ask("operating-point", sent)
    for one, two in zip(first.runs, again.runs, strict=True):
        assert two.join_loss == pytest.approx(one.join_loss, rel=1e-12, abs=1e-12)


def test_a_callers_own_terms_are_those_computed():
    own = {"factor": FACTOR, "straight": {"linear": 2.0, "drag": 1.0}}
    body = shop("flow-ratio", straight(160), branch("saw", **own))
    one = told(body)
    q, ratio, pressure = one["saw"].flow / one["main"].flow, (100 / 160) ** 2, one["main"].velocity_pressure
    # By hand: the momentum form, 2 q - q^2 - 2 q^2/n cos 45 for the straight run.
    assert one["straight"].join_loss == pytest.approx(pressure * (2.0 * q - q * q - 2.0**0.5 * q * q / ratio), rel=1e-9)
    factor = copy.deepcopy(body)
    factor["runs"][2]["join"]["factor"] = FACTOR | {"low": 0.9, "lift": 1.0}
    one = told(factor)
    q, pressure = one["saw"].flow / one["main"].flow, one["main"].velocity_pressure
    form = 1.0 + (q / ratio) ** 2 - 2.0 * (1.0 - q) ** 2 - 2.0**0.5 * q * q / ratio
    assert one["saw"].join_loss == pytest.approx(pressure * (0.9 * (1.0 + form) - 1.0), rel=1e-9)


@pytest.mark.parametrize(("ratio", "measured"), [(1.0, 0.35), (0.641, 1.13), (0.5, 2.41), (0.41, 3.5)])
def test_a_branch_that_runs_alone_loses_in_a_tree_what_was_measured(ratio, measured):
    """Bassett 2001, fig. 10 (n 1: .30, n .5), and Wang 2015 (n 1: .39, n .641, n .41: 3.4 to 3.6), air, 45 degrees."""
    shut = straight(160) | {"gate": {"opening": 0.0}}
    one = told(shop("flow-ratio", shut, branch("saw", 45, 160.0 * ratio**0.5)))
    assert one["saw"].join_loss / one["main"].velocity_pressure == pytest.approx(measured, rel=0.11, abs=0.06)


def test_the_editions_differ_where_a_branch_runs_alone():
    """Measured at area ratio 0.41 (Wang 2015): 3.5 velocity pressures of the common run; the third edition has half."""
    losses = {}
    for law in LAWS[:2]:
        body = shop(law, straight(160) | {"gate": {"opening": 0.0}}, branch("saw", 45, 102.4))
        one = told(body)
        losses[law] = one["saw"].join_loss / one["main"].velocity_pressure
    assert losses["flow-ratio"] == pytest.approx(3.5, abs=0.2)
    assert losses["flow-ratio-third-edition"] < 0.6 * losses["flow-ratio"]


def test_the_ranges_hold_the_straight_run_to_a_seventh_of_a_velocity_pressure():
    """Half the air from a branch, half from the straight run: its coefficient is drawn within 0.15 of the middle."""
    law = catalogue.branch_law(45.0, 1.0, "wye")
    assert 0.5 * law.linear * law.straight[1].spread == pytest.approx(0.15)
    body = shop("flow-ratio", straight(160), branch("saw", 45, 160)) | {"uncertainty": {"samples": 400, "seed": 1}}
    terms = {term.entry for term in ask("operating-point", body).uncertainty.terms}
    assert {"flow-ratio", "flow-ratio/wye-straight"} <= terms
