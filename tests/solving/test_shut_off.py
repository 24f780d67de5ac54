"""A curve that does not begin at no flow says nothing of shut-off: contract section 2, "nothing extrapolated"."""

import copy

import pytest

from site_shop import SHOP, ask, codes

CURVES = (
    [(500, 9.0), (900, 7.0), (1300, 3.0)],
    [(300, 9.0), (500, 9.5), (900, 7.0), (1300, 3.0)],
    [(800, 9.0), (900, 7.0), (1000, 3.0)],
)


def shut(curve, **more):
    """Return the shop with every gate shut and this curve."""
    body = copy.deepcopy(SHOP) | more
    body["collector"]["fan"]["curve"] = [{"flow": q, "pressure": p} for q, p in curve]
    for run in body["runs"][1:]:
        run["gate"]["opening"] = 0
    return body


@pytest.mark.parametrize("curve", CURVES)
def test_no_pressure_is_told_without_a_point_at_no_flow(curve):
    answer = ask("operating-point", shut(curve))
    assert answer.outcome == "no-flow"
    assert (answer.system.flow, answer.system.fan_static_pressure, answer.runs) == (0.0, None, ())
    assert {"all-gates-shut", "shut-off-not-on-curve"} <= set(codes(answer))


@pytest.mark.parametrize("curve", CURVES)
def test_every_question_about_the_state_says_so(curve):
    states = ask("gate-states", shut(curve, states=[{"name": "none", "open": []}]))
    for state in states.states:
        assert (state.flow, state.fan_static_pressure, state.deepest_suction) == (0.0, None, None)
        assert "shut-off-not-on-curve" in state.findings
    assert "shut-off-not-on-curve" in codes(states)
    assert codes(ask("strength", shut(curve))).count("shut-off-not-on-curve") == 1
    assert "shut-off-not-on-curve" in codes(ask("drawing", shut(curve, of="tree")))


def test_a_point_at_no_flow_tells_the_shut_off_pressure():
    answer = ask("operating-point", shut([(0, 9.0), (900, 7.0), (1300, 3.0)]))
    assert answer.system.fan_static_pressure == pytest.approx(9.0)
    assert [run.static_pressure for run in answer.runs] == pytest.approx(
        [-9.0] * 3
    )  # gates at the hoods: every run sees it
    assert "shut-off-not-on-curve" not in codes(answer)
