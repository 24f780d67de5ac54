import math
from typing import Any

import msgspec
import pytest

from airbough.reading import quantity_text
from airbough.wire.air import (
    AirRequest,
    AirResult,
)
from airbough.wire.answer import HoodResult
from airbough.wire.balance import BalanceRequest
from airbough.wire.quantity import (
    PRESET_UNITS,
    SPELLINGS,
)
from airbough.wire.reference import (
    AirAnswer,
    FittingAnswer,
    FrictionLossRequest,
    ListedFitting,
)
from airbough_service.terms import units
from airbough_service.terms.refusal import (
    NotFiniteError,
    Refusal,
)

# NIST SP 811 (2008), appendix B.8, from memory: the printed digits, seven of them, decide the tolerance.
NIST = [
    ("1 ft", "length", 3.048e-1),
    ("1 in", "diameter", 2.54e-2),
    ("1 ft^3/min", "flow", 4.719474e-4),
    ("1 fpm", "velocity", 5.08e-3),
    ("1 inH2O", "pressure", 2.490889e2),
    ("1 mmH2O", "pressure", 9.80665),
    ("1 lb/ft^3", "density", 1.601846e1),
    ("1 lb/(ft*s)", "viscosity", 1.488164),
    ("1 hp", "power", 7.456999e2),
    ("1 kWh", "energy", 3.6e6),
    ("1 ft^2", "area", 9.290304e-2),
    ("1 in^2", "area", 6.4516e-4),
    ("1 ft^3", "volume", 2.831685e-2),
]

# Fixed points of the temperature scales, exact by definition.
TEMPERATURES = [("32 degF", 273.15), ("212 degF", 373.15), ("0 degC", 273.15), ("-40 degF", 233.15), ("300 K", 300.0)]


@pytest.mark.parametrize(("text", "kind", "si"), NIST)
def test_factors_agree_with_the_published_ones(text, kind, si):
    assert quantity_text.parse(text, kind) == pytest.approx(si, rel=5e-7)


@pytest.mark.parametrize(("text", "kelvin"), TEMPERATURES)
def test_temperatures_meet_the_fixed_points(text, kelvin):
    assert quantity_text.parse(text, "temperature") == pytest.approx(kelvin, rel=1e-14)


def test_every_spelling_of_the_wire_has_a_factor_and_no_other_has():
    assert {kind: set(table) for kind, table in units.TABLE.items()} == {
        kind: set(spellings) for kind, spellings in SPELLINGS.items()
    }


@pytest.mark.parametrize("preset", ["us", "metric"])
def test_out_and_in_again_gives_the_same_number(preset):
    for kind in PRESET_UNITS[preset]:
        text = f"{units.value(kind, 300.0, preset):.15f} {units.unit(kind, preset)}"
        assert quantity_text.parse(text, kind) == pytest.approx(300.0, rel=1e-9), kind


def tree(units_word="us", **run: Any):
    data = {"units": units_word, "runs": [{"id": "a", "into": None, "diameter": 6, "length": 10, **run}]}
    return msgspec.convert(data, BalanceRequest)


def test_bare_numbers_are_in_the_preset_and_texts_in_their_own_unit():
    us = units.to_si(tree(length="3 m", gate={"opening": "50 %"})).runs[0]
    assert (us.diameter, us.length, us.gate.opening) == (pytest.approx(0.1524), 3.0, 0.5)
    metric = units.to_si(tree("metric", diameter=150, length="10 ft")).runs[0]
    assert (metric.diameter, metric.length) == (pytest.approx(0.15), pytest.approx(3.048))


def test_quantities_are_found_in_lists_and_tagged_unions():
    fittings = [
        {"type": "elbow", "angle": 90, "radius_ratio": 1.5},
        {"type": "taper", "upstream_diameter": 4, "downstream_diameter": "6 in", "length": 12},
    ]
    done = units.to_si(tree(fittings=fittings)).runs[0].fittings
    assert done[0].angle == 90.0
    assert (done[1].upstream_diameter, done[1].downstream_diameter) == (pytest.approx(0.1016), pytest.approx(0.1524))
    assert done[1].length == pytest.approx(0.3048)


def test_what_holds_no_quantity_is_the_same_object():
    asked = tree(fittings=[{"type": "tee-as-elbow"}])
    assert units.to_si(asked).runs[0].fittings[0] is asked.runs[0].fittings[0]


def test_all_faults_are_told_at_once_with_their_paths():
    asked = msgspec.convert(
        {
            "units": "us",
            "runs": [
                {"id": "a", "into": None, "diameter": 0.1, "length": 10},
                {"id": "b", "into": "a", "diameter": 4, "length": 1, "fittings": [{"type": "elbow", "angle": 999}]},
            ],
            "air": {"temperature": -300},
        },
        BalanceRequest,
    )
    with pytest.raises(Refusal) as caught:
        units.to_si(asked)
    assert caught.value.kind == "out-of-range"
    assert [fault.path for fault in caught.value.faults] == [
        "runs[0].diameter",
        "runs[1].fittings[0].angle",
        "air.temperature",
    ]
    assert caught.value.faults[0].detail == "must be 0.393701 to 118.11 in"


def test_a_fault_of_grammar_beside_one_of_range_is_against_the_schema():
    asked = FrictionLossRequest(units="us", flow="3 m", diameter=0.1, length=math.nan)
    with pytest.raises(Refusal) as caught:
        units.to_si(asked)
    assert caught.value.kind == "against-schema"
    assert {fault.path: fault.code for fault in caught.value.faults} == {
        "flow": "wrong-kind",
        "diameter": "out-of-range",
        "length": "not-finite",
    }


def test_a_range_is_inclusive_in_either_preset():
    assert units.to_si(AirRequest(units="us", temperature=-40.0)).temperature == pytest.approx(233.15)
    assert units.to_si(AirRequest(units="metric", temperature=-40.0)).temperature == pytest.approx(233.15)
    with pytest.raises(Refusal):
        units.to_si(AirRequest(units="us", temperature=-40.001))


def told_air(**changes: Any):
    air = AirResult(density=1.2, viscosity=1.82e-5, standard=True, **changes)
    return AirAnswer(units={}, preset="us", air=air)


def test_an_answer_is_told_in_the_preset_with_the_units_it_uses():
    told = units.told(told_air(temperature=293.15), "us")
    assert told.air.density == pytest.approx(0.0749136, rel=1e-6)
    assert told.air.temperature == pytest.approx(68.0)
    assert told.units == {"temperature": "degF", "density": "lb/ft^3", "viscosity": "lb/(ft*s)"}
    assert units.told(told_air(), "metric").air == told_air().air
    assert units.told(told_air(), "metric").units == {"density": "kg/m^3", "viscosity": "Pa*s"}


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_never_leaves(bad):
    with pytest.raises(NotFiniteError, match=r"air\.temperature"):
        units.told(told_air(temperature=bad), "us")
    with pytest.raises(NotFiniteError, match=r"air\.humidity"):
        units.told(told_air(humidity=bad), "us")


def test_numbers_hidden_in_free_form_data_are_looked_at_too():
    fitting = ListedFitting(
        type="x", title="x", place="x", refers_to="x", summary="x", parameters=(), passports=(),
        data={"table": [1.0, {"deep": (math.nan,)}]},
    )  # fmt: skip
    with pytest.raises(NotFiniteError, match=r"fitting\.data\.table\[1\]\.deep\[0\]"):
        units.told(FittingAnswer(units={}, preset="us", fitting=fitting), "us")


def test_a_number_of_a_numerics_library_leaves_as_a_plain_float():
    numpy = pytest.importorskip("numpy")
    flow, share = numpy.float64(0.5), numpy.float64(1)
    hood = HoodResult(run="a", flow=flow, open=True, static_pressure=-1.0, share_of_design=share)
    told = units.told(hood, "us")
    assert (type(told.flow), type(told.share_of_design)) == (float, float)
