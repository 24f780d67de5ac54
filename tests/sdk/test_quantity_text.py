"""The one grammar of quantities: what is read and as what, and what is refused with which code."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from airbough.reading import quantity_text
from airbough.reading.units import (
    TABLE,
    from_preset,
)
from airbough.reading.wrong import Wrong
from airbough.wire.quantity import (
    ALSO_READ,
    LOOSE_PATTERN,
    PRESET_UNITS,
    SPELLINGS,
)

INCH = 0.0254  # exact, international inch of 1959
FOOT = 0.3048

LENGTHS = [
    ("6 in", 6 * INCH),
    ("6in", 6 * INCH),
    ("6.5 in", 6.5 * INCH),
    ("6,5 in", 6.5 * INCH),
    ("0,125 in", 0.125 * INCH),
    ("4 1/2 in", 4.5 * INCH),
    ("4-1/2 in", 4.5 * INCH),
    ("4 1/2in", 4.5 * INCH),
    ("0 3/8in", 0.375 * INCH),
    ("1/2 in", 0.5 * INCH),
    ("15/16 in.", 0.9375 * INCH),
    ("½ in", 0.5 * INCH),
    ("4½ in", 4.5 * INCH),
    ("4 ½ in", 4.5 * INCH),
    ("4-½ in", 4.5 * INCH),
    ("2⅜ in", 2.375 * INCH),
    ('¾"', 0.75 * INCH),
    ("1\u20442 in", 0.5 * INCH),
    ("-1 1/2 ft", -1.5 * FOOT),
    ("-½ in", -0.5 * INCH),
    ("-4-1/2 in", -4.5 * INCH),
    ("\u22123 in", -3 * INCH),
    ("6 ft 4 in", 76 * INCH),
    ("6ft4in", 76 * INCH),
    ("6 ft. 4 in.", 76 * INCH),
    ("12' 6 1/2\"", 150.5 * INCH),
    ("12'-6\"", 150 * INCH),
    ("12'-6 1/2\"", 150.5 * INCH),
    ("12'6\"", 150 * INCH),
    ("-6 ft 4 in", -76 * INCH),
    ("12\u2019 6\u00bd\u201d", 150.5 * INCH),
    ("12\u2032-6\u2033", 150 * INCH),
    ("6 Feet 4 Inches", 76 * INCH),
    ("0 ft 11.5 in", 11.5 * INCH),
    ("6'", 6 * FOOT),
    ('6"', 6 * INCH),
    ("1 foot", FOOT),
    ("10 feet", 10 * FOOT),
    ("1 inch", INCH),
    ("6 Inches", 6 * INCH),
    ("6 IN", 6 * INCH),
    ("6 FT.", 6 * FOOT),
    ("152.4mm", 0.1524),
    ("152.4 MM", 0.1524),
    ("3 meters", 3.0),
    ("3 Metres", 3.0),
    ("30 centimetres", 0.3),
    ("1.000 m", 1.0),
    ("12\u00a0mm", 0.012),
    ("12\u202fmm", 0.012),
    ("999999999 mm", 999999.999),
    ("0.000000000000001 m", 1e-15),
]
OTHERS = [
    ("800 CFM", "flow", 800 * FOOT**3 / 60),
    ("800 Ft^3/Min", "flow", 800 * FOOT**3 / 60),
    ("400,5 cfm", "flow", 400.5 * FOOT**3 / 60),
    ("3600 m³/h", "flow", 1.0),
    ("1 M3/H", "flow", 1 / 3600),
    ("5 l/s", "flow", 0.005),
    ("4000 FPM", "velocity", 4000 * FOOT / 60),
    ("4 in. wg", "pressure", 4 * 249.08891),
    ("4 in wg", "pressure", 4 * 249.08891),
    ("4 INWG", "pressure", 4 * 249.08891),
    ("4 in. w.g.", "pressure", 4 * 249.08891),
    ("4 in. H2O", "pressure", 4 * 249.08891),
    ("4 inWC", "pressure", 4 * 249.08891),
    ("1 KPA", "pressure", 1000.0),
    ("1 kPa", "pressure", 1000.0),
    ("-250 pa", "pressure", -250.0),
    ("10 mm H2O", "pressure", 98.0665),
    ("32 °F", "temperature", 273.15),
    ("32°F", "temperature", 273.15),
    ("212 degrees Fahrenheit", "temperature", 373.15),
    ("0 °C", "temperature", 273.15),
    ("300 k", "temperature", 300.0),
    ("45°", "angle", 45.0),
    ("45 Degrees", "angle", 45.0),
    ("50 %", "share", 0.5),
    ("50%", "share", 0.5),
    ("50 percent", "share", 0.5),
    ("1/2 hp", "power", 372.849935),
    ("1½ HP", "power", 1118.549805),
    ("2 Kilowatts", "power", 2000.0),
    ("2 ft²", "area", 2 * FOOT**2),
    ("3 m³", "volume", 3.0),
    ("5 MJ", "energy", 5.0e6),
    ("1 KWH", "energy", 3.6e6),
    ("0.000012 lb/(ft·s)", "viscosity", 0.000012 * 0.45359237 / FOOT),
]
CLOCK = [
    ("10 am", 36_000.0),
    ("12am", 0.0),
    ("12 p.m.", 43_200.0),
    ("8:00", 28800.0),
    ("08:00", 28800.0),
    ("13:30:15", 48615.0),
    ("0:00", 0.0),
    ("24:00", 86400.0),
    ("8:00 am", 28800.0),
    ("1:30 PM", 48600.0),
    ("12:00 a.m.", 0.0),
    ("12:15pm", 44100.0),
    ("9 h", 32400.0),
    ("90 min", 5400.0),
    ("8 1/2 hours", 30600.0),
    ("45 seconds", 45.0),
]
"""ISO 8601 writes hours and minutes so (from memory); am and pm are common practice, no source."""

REFUSED = [
    ("8:60", "clock", "quantity-grammar"),
    ("25:00", "clock", "quantity-grammar"),
    ("13:00 pm", "clock", "quantity-grammar"),
    ("0:10 am", "clock", "quantity-grammar"),
    ("8:5", "clock", "quantity-grammar"),
    ("8.5.0 h", "clock", "quantity-grammar"),
    ("8:00", "time", "quantity-grammar"),  # so long a delay, or a time of the day? It is not guessed
    ("8 ft", "time", "wrong-kind"),
    ("", "length", "quantity-grammar"),
    ("6", "length", "quantity-grammar"),
    ("½", "length", "quantity-grammar"),
    ("6  in", "length", "quantity-grammar"),
    ("6 in\n", "length", "quantity-grammar"),
    (" 6 in", "length", "quantity-grammar"),
    ("6 in ", "length", "quantity-grammar"),
    ("1e3 mm", "length", "quantity-grammar"),
    (".5 in", "length", "quantity-grammar"),
    ("6. in", "length", "quantity-grammar"),
    ("+6 in", "length", "quantity-grammar"),
    ("--6 in", "length", "quantity-grammar"),
    ("1 1/0 in", "length", "quantity-grammar"),
    ("4 3/2 in", "length", "quantity-grammar"),
    ("5/4 in", "length", "quantity-grammar"),
    ("4.5 1/2 in", "length", "quantity-grammar"),
    ("2*3 in", "length", "quantity-grammar"),
    ("2+3 in", "length", "quantity-grammar"),
    ("1.5.2 in", "length", "quantity-grammar"),
    ("12' 13\"", "length", "quantity-grammar"),
    ("12' 12 in", "length", "quantity-grammar"),
    ("6.5 ft 4 in", "length", "unknown-unit"),
    ("6 ft 4", "length", "unknown-unit"),
    ("4 in 3 ft", "length", "unknown-unit"),
    ("٦ in", "length", "quantity-grammar"),
    ("\uff16 in", "length", "quantity-grammar"),
    ("1_0 in", "length", "quantity-grammar"),
    ("6 ft 4 in", "flow", "unknown-unit"),
    ("6 furlong", "length", "unknown-unit"),
    ("5 mJ", "energy", "unknown-unit"),
    ("5 mj", "energy", "unknown-unit"),
    ("6 fpm", "length", "wrong-kind"),
    ("6 in. wg", "length", "wrong-kind"),
    ("400 scfm", "flow", "standard-flow"),
    ("400 SCFM", "flow", "standard-flow"),
    ("400 Nm³/h", "flow", "standard-flow"),
    ("1,000 cfm", "flow", "ambiguous-decimal"),
    ("12,500 mm", "length", "ambiguous-decimal"),
    ("1,400 cfm", "flow", "ambiguous-decimal"),
    ("1,000.5 cfm", "flow", "digit-grouping"),
    ("1.000,5 cfm", "flow", "digit-grouping"),
    ("1 000 cfm", "flow", "digit-grouping"),
    ("1\u00a0000 cfm", "flow", "digit-grouping"),
    ("1'000 mm", "length", "digit-grouping"),
    ("1,000,000 cfm", "flow", "digit-grouping"),
    ("1.000.000 cfm", "flow", "digit-grouping"),
    ("1_000 cfm", "flow", "digit-grouping"),
]


@pytest.mark.parametrize(("text", "kind", "si"), [(text, "length", si) for text, si in LENGTHS] + OTHERS)
def test_what_is_read(text, kind, si):
    assert quantity_text.parse(text, kind) == pytest.approx(si, rel=1e-14)


@pytest.mark.parametrize(("text", "seconds"), CLOCK)
def test_a_time_of_the_day(text, seconds):
    assert quantity_text.parse(text, "clock") == seconds


@pytest.mark.parametrize("text", [text for text, _ in LENGTHS + CLOCK] + [text for text, _, _ in OTHERS])
def test_the_loose_pattern_of_the_schema_lets_it_pass(text):
    assert re.search(LOOSE_PATTERN, text)


@pytest.mark.parametrize("preset", ["us", "metric"])
def test_what_an_answer_is_printed_in_can_be_sent_back(preset):
    for kind, unit in PRESET_UNITS[preset].items():
        printed = unit.replace("^3", "³").replace("^2", "²").replace("deg", "°" if kind == "temperature" else "deg")
        assert quantity_text.parse(f"3 {printed}", kind) == from_preset(kind, 3.0, preset)
    for shown, unit, kind in (
        ("cfm", "ft^3/min", "flow"),
        ("fpm", "ft/min", "velocity"),
        ("in. wg", "inH2O", "pressure"),
    ):
        assert quantity_text.parse(f"3 {shown}", kind) == quantity_text.parse(f"3 {unit}", kind)


@pytest.mark.parametrize(("text", "kind", "code"), REFUSED)
def test_what_is_refused(text, kind, code):
    with pytest.raises(Wrong) as caught:
        quantity_text.parse(text, kind)
    assert [found[1] for found in caught.value.found] == [code]


def test_a_standard_flow_is_told_why():
    with pytest.raises(Wrong, match="at the duct's own density"):
        quantity_text.parse("400 scfm", "flow")


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("1,000 cfm", "comma", 1.0),
        ("1.000 cfm", "point", 1.0),
        ("1,5 cfm", "point", 1.5),
        ("1.5 cfm", "comma", 1.5),
        ("1.000 cfm", "comma", None),
        ("1,000 cfm", "point", None),
        ("0.125 cfm", "comma", None),
        ("0,125 cfm", None, 0.125),
        ("1.0005 cfm", "comma", 1.0005),
    ],
)
def test_what_the_caller_says_of_the_decimal_mark_settles_it(text, decimal, value):
    if value is None:
        with pytest.raises(Wrong, match="a thousand times"):
            quantity_text.parse(text, "flow", decimal)
        with pytest.raises(Wrong, match="a thousand times"):
            quantity_text.bare(text.removesuffix(" cfm"), decimal)
    else:
        assert quantity_text.parse(text, "flow", decimal) == pytest.approx(value * FOOT**3 / 60, rel=1e-14)
        assert quantity_text.bare(text.removesuffix(" cfm"), decimal) == value


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("12", 12.0),
        ("-12.5", -12.5),
        ("70,5", 70.5),
        ("4 1/2", 4.5),
        ("½", 0.5),
        ("1e3", 1000.0),
        ("1E-05", 1e-5),
        ("1,5E2", 150.0),
        ("0.1234567890123456789", 0.1234567890123456789),
        ("1" + "0" * 20, 1e20),
        ("", None),
        ("1_0", None),
        (".5", None),
        (" 70", None),
        ("nan", None),
        ("inf", None),
        ("\uff16", None),
        ("6 in", None),
    ],
)
def test_a_number_without_a_unit(text, number):
    assert quantity_text.bare(text) == number


SPELLED = [(kind, unit, way) for kind in SPELLINGS for unit in SPELLINGS[kind] for way in ALSO_READ.get(unit, ())]


@pytest.mark.parametrize(("kind", "unit", "way"), SPELLED)
def test_another_spelling_is_the_same_unit(kind, unit, way):
    assert quantity_text.parse(f"3 {way}", kind) == quantity_text.parse(f"3 {unit}", kind)


def test_no_two_units_of_a_kind_are_written_alike():
    for kind, units in SPELLINGS.items():
        seen: dict[str, tuple[float, float]] = {}
        for unit in units:
            for way in (unit, *ALSO_READ.get(unit, ())):
                folded = way if way == "MJ" else way.lower()
                assert seen.setdefault(folded, TABLE[kind][unit]) == TABLE[kind][unit]


def test_every_other_spelling_belongs_to_a_unit():
    assert set(ALSO_READ) <= {unit for units in SPELLINGS.values() for unit in units}


@given(
    whole=st.integers(0, 999), over=st.integers(1, 63), under=st.sampled_from([2, 4, 8, 16, 32, 64]),
    minus=st.sampled_from(["", "-"]), between=st.sampled_from([" ", "-"]), blank=st.sampled_from(["", " "]),
)  # fmt: skip
def test_a_fraction_adds_to_its_number(whole, over, under, minus, between, blank):
    text = f"{minus}{whole}{between}{over}/{under}{blank}in"
    if over >= under:
        with pytest.raises(Wrong):
            quantity_text.parse(text, "length")
        return
    expected = (whole + over / under) * INCH
    assert quantity_text.parse(text, "length") == pytest.approx(-expected if minus else expected, rel=1e-14)


@given(text=st.text(alphabet="0123456789 .,-/'\"½²³°infteMJ%:ap", max_size=14), kind=st.sampled_from(sorted(SPELLINGS)))
def test_whatever_is_written_is_read_or_refused_with_a_code(text, kind):
    try:
        assert math.isfinite(quantity_text.parse(text, kind))
    except Wrong as wrong:
        ((path, code, detail),) = wrong.found
        assert path == ""
        assert code in {
            "quantity-grammar", "unknown-unit", "wrong-kind", "standard-flow", "ambiguous-decimal", "digit-grouping",
        }  # fmt: skip
        assert detail


def test_a_clock_without_minutes_is_told_how_a_clock_is_written():
    with pytest.raises(quantity_text.Wrong, match="8:00"):
        quantity_text.parse("10 o'clock", "clock")
