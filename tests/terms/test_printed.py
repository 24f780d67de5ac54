"""What is printed: the trade's units, figures that an eye takes in, and nothing that cannot be sent back."""

import pytest

from airbough.reading.quantity_text import parse
from airbough.reading.units import from_preset
from airbough.wire.quantity import PRESET_UNITS, RANGES, duration, printed
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
