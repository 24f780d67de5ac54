"""What a machine loses inside, in the air of the tree."""

import pytest

from airbough_service.terms.refusal import Refusal
from site_shop import ask, faults

CURVE = [{"flow": 0, "pressure": 20}, {"flow": 1500, "pressure": 1}]


def shop(altitude, exponent=2.0, rated=None):
    inside = {"flow": 400, "pressure": 3, "exponent": exponent, "rated_air": rated}
    run = {
        "id": "r", "into": None, "diameter": 4, "length": 10, "duct": "spiral-galvanized",
        "hood": {"entry": {"type": "plain-opening"}, "flow": 400, "resistance": inside},
    }  # fmt: skip
    loss = {"name": "cyclone", "flow": 400, "pressure": 3, "exponent": exponent, "rated_air": rated}
    return {
        "units": "us",
        "air": {"temperature": 68, "altitude": altitude, "humidity": 0},
        "runs": [run],
        "collector": {"fan": {"curve": CURVE, "rated_as": "fan-static", "includes": []}, "losses": [loss]},
    }


@pytest.mark.parametrize("exponent", [1.0, 1.5, 2.0])
@pytest.mark.parametrize("altitude", [0, 3000, 6000, 8000])
def test_a_resistance_is_corrected_for_density_as_a_collector_loss_is(altitude, exponent):
    # 3 in. wg at 400 cfm for both: they were 3.000 against 3.011, 2.699, 2.413, 2.237 at these altitudes.
    answer = ask("operating-point", shop(altitude, exponent))
    assert answer.runs[0].resistance_loss == pytest.approx(answer.system.collector_loss, rel=1e-9)


def test_at_the_rated_flow_a_resistance_falls_with_density():
    answer = ask("balance", shop(6000))
    # Dry air at 68 degF and 6000 ft over 1.2 kg/m3: 0.8045 (standard atmosphere), so 3 becomes 2.413 in. wg.
    assert answer.runs[0].resistance_loss == pytest.approx(2.413, abs=0.001)


def test_a_resistance_read_in_this_air_is_not_corrected():
    air = {"temperature": 68, "altitude": 6000, "humidity": 0}
    assert ask("balance", shop(6000, 1.6, air)).runs[0].resistance_loss == pytest.approx(3, rel=1e-9)


def test_a_resistance_is_explained_and_resolved_with_its_rated_air():
    first = ask("operating-point", shop(6000, 1.6) | {"explain": True, "resolved": True})
    (term,) = [term for term in first.explanation if term.term == "resistance-loss"]
    assert "rated_density" in term.inputs
    assert first.resolved["runs"][0]["hood"]["resistance"]["rated_air"]["density"] > 0.0


def refused(body):
    """Return path -> code of what is wrong with a body."""
    with pytest.raises(Refusal) as refusal:
        ask("operating-point", body)
    return faults(refusal.value)


def test_the_air_that_a_resistance_is_rated_in_is_looked_at_as_any_air():
    both, body = {"altitude": 600, "pressure": "101 kPa"}, shop(0, 1.6)
    body["runs"][0]["hood"]["resistance"]["rated_air"] = both
    assert refused(body) == {"runs[0].hood.resistance.rated_air.pressure": "altitude-and-pressure"}


@pytest.mark.parametrize("others", [1, 3])
def test_each_of_several_fans_is_looked_at_as_the_collectors_own_is(others):
    """A curve that includes a loss that the collector does not have is another machine's."""
    body = shop(0)
    good = body["collector"]["fan"]
    bad = good | {"includes": ["no such loss"]}
    body["fans"] = [{"name": f"good {number}", "fan": good} for number in range(others)] + [{"name": "bad", "fan": bad}]
    assert {path.split(".includes")[0] for path in refused(body)} == {f"fans[{others}].fan"}
