"""A run whose bore changes inside: each length of duct by its own bore, like runs parted there."""

import fluids
import pytest

from airbough_service.terms.refusal import Refusal
from site_shop import ask

FAN = {"curve": [{"flow": 0, "pressure": 12}, {"flow": 1500, "pressure": 5}], "rated_as": "fan-static"}
INCH, FOOT, CFM, WATER = 0.0254, 0.3048, 0.3048**3 / 60, 249.08891


def taper(before, after, **more):
    return {"type": "taper", "upstream_diameter": before, "downstream_diameter": after, "length": 5, **more}


def shop(*runs, **more):
    hood = {"entry": {"type": "flanged-opening"}, "flow": 500}
    body = [{"into": None if k + 1 == len(runs) else f"r{k + 1}", "duct": "spiral-galvanized", **run, "id": f"r{k}"}
            for k, run in enumerate(runs)]  # fmt: skip
    body[0]["hood"] = hood
    return {"units": "us", "dust": "sawdust", "runs": body, "collector": {"fan": FAN}, **more}


def point(*runs, **more):
    return ask("operating-point", shop(*runs, **more))


def codes(answer):
    return {item.code: item for item in answer.findings}


PARTED = [
    ("first", [{"diameter": 4, "length": 30, "fittings": [taper(4, 6)]}],
     [{"diameter": 4, "length": 0, "fittings": [taper(4, 6)]}, {"diameter": 6, "length": 30}]),
    ("last", [{"diameter": 4, "length": 30, "fittings": [{"type": "elbow", "angle": 45}, taper(4, 6)]}],
     [{"diameter": 4, "length": 30, "fittings": [{"type": "elbow", "angle": 45}]},
      {"diameter": 4, "length": 0, "fittings": [taper(4, 6)]}]),
    ("inside", [{"diameter": 4, "length": 30, "fittings": [
        {"type": "elbow", "angle": 90}, taper(4, 6, at=2), {"type": "elbow", "angle": 30}, taper(6, 5, at=20),
        {"type": "offset", "angle": 30, "spacer_ratio": 8}]}],
     [{"diameter": 4, "length": 2, "fittings": [{"type": "elbow", "angle": 90}, taper(4, 6)]},
      {"diameter": 6, "length": 18, "fittings": [{"type": "elbow", "angle": 30}, taper(6, 5)]},
      {"diameter": 5, "length": 10, "fittings": [{"type": "offset", "angle": 30, "spacer_ratio": 8}]}]),
]  # fmt: skip


@pytest.mark.parametrize("model", ["colebrook", "power-law"])
@pytest.mark.parametrize(("name", "one", "parted"), PARTED, ids=[case[0] for case in PARTED])
def test_one_run_is_the_runs_that_it_could_be_parted_into(name, one, parted, model):
    whole, runs = point(*one, model={"friction": model}), point(*parted, model={"friction": model})
    (run,) = whole.runs
    assert run.flow == pytest.approx(runs.runs[-1].flow, rel=1e-10)
    for loss in ("entry_loss", "friction_loss", "fitting_loss", "total_loss"):
        assert getattr(run, loss) == pytest.approx(sum(getattr(one, loss) for one in runs.runs), rel=1e-9), loss
    assert run.static_pressure == pytest.approx(runs.runs[-1].static_pressure, rel=1e-9)
    with_duct = [one for one in runs.runs if one.friction_loss > 0.0]
    assert run.velocity == pytest.approx(min(one.velocity for one in with_duct), rel=1e-10)
    if run.parts is not None:
        assert [part.velocity for part in run.parts] == pytest.approx([one.velocity for one in with_duct], rel=1e-10)


def test_friction_of_a_tapered_run_is_that_of_the_bore_of_its_length():
    # 4 in port, taper to 6 in, 30 ft of 6 in spiral: Darcy-Weisbach with Colebrook's factor by `fluids`, at 6 in.
    (run,) = point(
        {"diameter": 4, "length": 30, "fittings": [taper(4, 6)]}, air={"density": 0.075, "viscosity": 1.22e-5}
    ).runs
    bore, flow, density, viscosity = 6 * INCH, run.flow * CFM, 0.075 * 16.018463, 1.22e-5 * 1.48816394
    velocity = flow / (3.141592653589793 * bore**2 / 4)
    reynolds = density * velocity * bore / viscosity
    factor = fluids.friction_factor(Re=reynolds, eD=9e-5 / bore, Method="Colebrook")
    assert run.diameter == pytest.approx(6)
    assert run.friction_loss * WATER == pytest.approx(factor * 30 * FOOT / bore * density * velocity**2 / 2, rel=1e-6)


@pytest.mark.parametrize("at", [1, 8, 20])
def test_a_leaking_run_of_several_bores_leaks_as_much_as_its_parts(at):
    leak = {"leakage_class": "round-unsealed"}
    one = point({"diameter": 5, "length": 24, "fittings": [taper(5, 6, at=at)], **leak}).runs
    two = point(
        {"diameter": 5, "length": at, "fittings": [taper(5, 6, at=at)], **leak},
        {"diameter": 6, "length": 24 - at, **leak},
    ).runs
    leaks = [run.flow - run.flow_upstream for run in two]
    # One leak in place of two: the law is no straight line in pressure, so they agree to some percent.
    assert one[0].flow - one[0].flow_upstream == pytest.approx(sum(leaks), rel=0.05)
    assert one[0].flow_upstream == pytest.approx(two[0].flow_upstream, rel=0.005)


def test_each_part_is_judged_and_named():
    answer = point({"diameter": 3, "length": 30, "fittings": [taper(3, 7, at=4)]})
    found = codes(answer)
    slow, fast = found["below-transport-velocity"], found["needlessly-fast"]
    assert "7 in. part" in slow.message
    assert slow.at == "runs[0].fittings[0].downstream_diameter"
    assert "3 in. part" in fast.message
    assert fast.at == "runs[0].diameter"
    (run,) = answer.runs
    assert [part.length for part in run.parts] == pytest.approx([4, 26])
    assert slow.value == pytest.approx(run.parts[1].velocity)
    assert fast.value == pytest.approx(run.parts[0].velocity)


def test_gate_states_judge_each_part_as_an_operating_point_does():
    body = shop({"diameter": 3, "length": 30, "fittings": [taper(3, 7, at=4)]})
    (run,) = point(*body["runs"]).runs
    (state, *_) = ask("gate-states", body | {"states": [{"name": "all", "open": ["r0"]}]}).states
    # Sawdust: 20 m/s (DGUV 209-044), in ft/min.
    assert state.transport_margin == pytest.approx(run.parts[1].velocity / (20 / 0.3048 * 60), rel=1e-9)
    assert {"below-transport-velocity", "needlessly-fast"} <= set(state.findings)


@pytest.mark.parametrize(
    ("fittings", "code", "path"),
    [
        (
            [{"type": "elbow", "angle": 90}, taper(4, 6), {"type": "elbow", "angle": 90}],
            "change-not-placed",
            "runs[0].fittings[1].at",
        ),
        ([taper(4, 6, at=31)], "change-outside-run", "runs[0].fittings[0].at"),
        ([taper(4, 6, at=20), taper(6, 5, at=10)], "change-outside-run", "runs[0].fittings[1].at"),
    ],
)
def test_a_change_of_bore_that_has_no_place_is_refused(fittings, code, path):
    with pytest.raises(Refusal) as refused:
        point({"diameter": 4, "length": 30, "fittings": fittings})
    assert [(fault.code, fault.path) for fault in refused.value.faults] == [(code, path)]


def test_a_hose_has_one_bore():
    with pytest.raises(Refusal) as refused:
        point({"diameter": 4, "length": 8, "duct": "flexible-hose-ribbed", "fittings": [taper(4, 5, at=3)]})
    assert [fault.code for fault in refused.value.faults] == ["change-inside-hose"]


def test_a_lone_change_of_bore_is_said_to_be_taken_first():
    run = {"diameter": 4, "length": 30, "fittings": [taper(4, 6)]}
    assert "change-place-assumed" in codes(point(run))
    assert "change-place-assumed" not in codes(point(run | {"fittings": [taper(4, 6, at=0)]}))
    assert "change-place-assumed" not in codes(point(run | {"fittings": [taper(4, 6), {"type": "elbow", "angle": 90}]}))
    first, last = point(run).runs[0], point(run | {"fittings": [taper(4, 6, at=30)]}).runs[0]
    assert (first.diameter, last.diameter) == pytest.approx((6, 4))


def test_the_parts_list_cuts_each_length_in_its_own_bore():
    fittings = [taper(4, 6, at=2), {"type": "elbow", "angle": 90}, taper(6, 5, at=20)]
    body = shop({"diameter": 4, "length": 30, "fittings": fittings})
    body.pop("collector")
    needs = [need for need in ask("parts-list", body).requirement if need.type == "duct"]
    assert [need.diameters for need in needs] == [(4,), (6,), (5,)]
    assert [need.length for need in needs] == pytest.approx([2, 18, 10])
