"""What is printed: the trade's units, figures that an eye takes in, and nothing that cannot be sent back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from airbough.reading.quantity_text import parse
from airbough.reading.units import from_preset
from airbough.wire.quantity import PRESET_UNITS, RANGES, duration, length_told, printed
from airbough_service.terms.finding import machine_at, rounded, show, show_apart, show_limit

UNITS = [(preset, kind, unit) for preset, kinds in PRESET_UNITS.items() for kind, unit in kinds.items()]
CHIPS, EXACT = 20.0, 4000 * 0.3048 / 60  # m/s: a metric limit, and 4000 ft/min


@pytest.mark.parametrize(("preset", "kind", "unit"), UNITS)
def test_every_printed_unit_is_read_back(preset, kind, unit):
    assert parse(f"7 {printed(unit)}", kind) == pytest.approx(from_preset(kind, 7.0, preset), rel=1e-12)
    assert kind in RANGES


def test_the_trade_prints_these_in_the_us():
    shown = {kind: printed(PRESET_UNITS["us"][kind]) for kind in ("flow", "velocity", "pressure", "diameter", "length")}
    assert shown == {"flow": "cfm", "velocity": "fpm", "pressure": "in. wg", "diameter": "in.", "length": "ft"}


def test_numbers_are_shown_to_three_figures_without_exponent():
    assert [rounded(number) for number in (3937.0079, 0.000123456, 12.0, 1.0e7)] == [
        "3940",
        "0.000123",
        "12",
        "10000000",
    ]
    assert show("us", "velocity", CHIPS) == "3940 fpm"


def test_a_limit_that_is_round_in_other_units_is_about():
    assert show_limit("us", "velocity", CHIPS) == "about 3940 fpm"  # 20 m/s = 3937 ft/min
    assert show_limit("us", "velocity", EXACT) == "4000 fpm"
    assert show_limit("metric", "velocity", CHIPS) == "20 m/s"


def test_a_value_just_below_its_limit_is_told_apart_from_it():
    below, limit = show_apart("us", "velocity", 0.9999 * CHIPS, CHIPS)
    assert below != limit
    assert show_apart("us", "velocity", 0.5 * CHIPS, CHIPS) == ("1970 fpm", "about 3940 fpm")


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [
        (0.0, "0 s"),
        (4.25, "4.25 s"),
        (60.0, "1 min"),
        (1186.0, "19 min 46 s"),
        (3600.0, "1 h"),
        (7325.0, "2 h 2 min 5 s"),
    ],
)
def test_times_are_shown_as_on_a_clock(seconds, shown):
    assert duration(seconds) == shown


def test_a_machine_is_named_once_where_its_run_bears_its_name():
    assert machine_at("drum-sander", "drum-sander") == "drum sander"
    assert machine_at("drum-sander", "north") == "drum sander at north"
    assert machine_at(None, "north") == "north"


INCH = 0.0254  # exact, international inch of 1959


@pytest.mark.parametrize(
    ("inches", "length", "diameter"),
    [
        (0.0, "0 in.", "0 in."),
        (4.5, "4 1/2 in.", "4 1/2 in."),
        (76.25, "6 ft 4 1/4 in.", "76 1/4 in."),
        (144.0, "12 ft", "144 in."),
        (11.99, "1 ft", "12 in."),  # nearer to the foot than to the sixteenth below it
        (0.9375, "15/16 in.", "15/16 in."),
        (-18.0, "-1 ft 6 in.", "-18 in."),
        (0.024, "0.024 in.", "0.024 in."),  # a sheet's thickness: no rule shows it
    ],
)
def test_a_length_is_told_as_a_rule_shows_it(inches, length, diameter):
    assert length_told(inches * INCH, "us") == length
    assert length_told(inches * INCH, "us", feet=False) == diameter
    assert show("us", "length", inches * INCH) == length
    assert show("us", "diameter", inches * INCH) == diameter


def test_a_metric_length_is_told_in_millimetres():
    assert [length_told(metres, "metric") for metres in (0.1524, 3.6576, -2.0, 0.0004)] == [
        "152 mm", "3658 mm", "-2000 mm", "0.4 mm",
    ]  # fmt: skip


@given(
    metres=st.floats(-1000.0, 1000.0).filter(lambda metres: not 0.0 < abs(metres) < 1e-12),
    preset=st.sampled_from(["us", "metric"]),
    feet=st.booleans(),
)
def test_a_length_told_is_read_back_within_half_a_step(metres, preset, feet):
    half_step = INCH / 32 if preset == "us" else 0.0005
    told = length_told(metres, preset, feet=feet)
    assert parse(told, "length") == pytest.approx(metres, rel=1e-12, abs=half_step * (1 + 1e-6))
