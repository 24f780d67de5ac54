"""Pint quantities on both sides: the same meaning as the service's own table."""

from __future__ import annotations

import re
import subprocess
import sys

import msgspec
import pint
import pytest

import airbough
from airbough.calls import (
    AIR,
    BALANCE,
    DRAWING,
)
from airbough.reading import quantity_text
from airbough.travel import exchange
from airbough.units import pint_units
from airbough.wire.places import places_of
from airbough.wire.quantity import (
    ALSO_READ,
    PRESET_UNITS,
    SPELLINGS,
)
from airbough_service.terms import units

SI = pint_units._SI | {"share": "dimensionless"}
EVERY_SPELLING = [(kind, spelling) for kind, spellings in SPELLINGS.items() for spelling in spellings]


def quantity(value, unit):
    return pint_units.registry().Quantity(value, unit)


@pytest.mark.parametrize(("kind", "spelling"), EVERY_SPELLING)
@pytest.mark.parametrize("value", [1.0, 0.25, 137.0])
def test_both_tables_mean_the_same(kind, spelling, value):
    ours = quantity(value, spelling).to(SI[kind]).magnitude
    assert ours == pytest.approx(quantity_text.parse(f"{value} {spelling}", kind), rel=4e-15)


@pytest.mark.parametrize(
    ("preset", "kind"), [(preset, kind) for preset in PRESET_UNITS for kind in PRESET_UNITS[preset]]
)
def test_each_presets_unit_is_one_of_the_registry(preset, kind):
    si = quantity(3.0, PRESET_UNITS[preset][kind]).to(SI[kind]).magnitude
    assert units.value(kind, si, preset) == pytest.approx(3.0, rel=1e-14)


WORDS = [
    (kind, unit, way)
    for kind, unit in EVERY_SPELLING
    for way in ALSO_READ.get(unit, ())
    if re.fullmatch("[a-z]{4,}", way) and kind != "share"
]


@pytest.mark.parametrize(("kind", "unit", "word"), WORDS)
def test_whole_words_mean_what_pint_means_by_them(kind, unit, word):
    assert unit not in ("inH2O", "inWC", "inwg", "mmH2O")
    ours = quantity(2.0, word).to(SI[kind]).magnitude
    assert ours == pytest.approx(quantity_text.parse(f"2 {word}", kind), rel=4e-15)


def test_what_plain_pint_gets_wrong():
    # Read in pint's own registry: `cfm` parses as centi-femtometre, `mm2` is not known.
    assert pint.UnitRegistry().Unit("cfm").dimensionality == {"[length]": 1}
    assert quantity(1, "cfm").check("[length]**3/[time]")
    assert quantity(1, "mm3").to("m^3").magnitude == pytest.approx(1e-9, rel=1e-15)
    assert quantity(1, "in2").to("in^2").magnitude == pytest.approx(1.0, rel=1e-15)


@pytest.mark.parametrize(
    ("value", "unit", "kind", "written"),
    [
        (6, "in", "diameter", "6.0 in"),
        (6.5, "inch", "diameter", "6.5 in"),
        (800, "cfm", "flow", "800.0 cfm"),
        (800, "ft^3/min", "flow", "800.0 ft^3/min"),
        (0.5, "liter/second", "flow", "0.5 L/s"),
        (4, "inWC", "pressure", "4.0 inH2O"),
        (-40, "degF", "temperature", "-40.0 degF"),
        (50, "percent", "share", 0.5),
        (0.5, "dimensionless", "share", 0.5),
        (1, "yard", "length", "0.9144 m"),
        (2, "kW", "power", "2.0 kW"),
        (1.5e-6, "m", "roughness", "0.0000015 m"),
        # 20 decimals and more are not in the grammar: a bare number of the preset, to full precision.
        (1.2345678901234567e-5, "m", "roughness", 1.2345678901234567e-5 / 0.3048),
    ],
)
def test_a_quantity_is_written_with_its_unit_or_bare(value, unit, kind, written):
    told = pint_units.written(quantity(value, unit), kind, "us")
    assert told == (pytest.approx(written, rel=1e-15) if isinstance(written, float) else written)


@pytest.mark.parametrize(
    ("value", "unit", "kind"),
    [
        (6, "s", "diameter"),
        (6, "degC", "pressure"),
        (6, "in", "share"),
        ([1, 2], "in", "diameter"),
        (1, "kg/s", "flow"),
    ],
)
def test_a_quantity_of_the_wrong_kind_is_refused(value, unit, kind):
    with pytest.raises(ValueError, match=r"not a|one number"):
        pint_units.written(quantity(value, unit), kind, "us")


def test_quantities_of_another_registry_mean_what_they_mean_there():
    theirs = pint.UnitRegistry()
    assert pint_units.written(theirs.Quantity(6, "inch"), "diameter", "us") == "6.0 in"
    theirs.define("inch_H2O = 250 * pascal = inH2O")
    assert pint_units.written(theirs.Quantity(2, "inH2O"), "pressure", "us") == "500.0 Pa"
    # Theirs is 550 ft*lbf/s to all digits; the wire's is 745.69987 W.
    written = pint_units.written(theirs.Quantity(1, "hp"), "power", "us")
    assert written == f"{theirs.Quantity(1, 'hp').to('W').magnitude!r} W"


@pytest.mark.parametrize("as_struct", [True, False])
def test_quantities_anywhere_in_a_tree(shop, as_struct):
    shop["runs"][0]["diameter"] = quantity(178, "mm")
    shop["runs"][1]["fittings"][0]["angle"] = quantity(1.5707963267948966, "rad")
    shop["runs"][1]["gate"]["opening"] = quantity(100, "percent")
    shop["runs"][2]["hood"]["flow"] = quantity(370, "L/s")
    shop["collector"]["fan"]["curve"][0]["pressure"] = quantity(11.5, "inwg")
    shop["air"] = {"temperature": quantity(20, "degC")}
    if as_struct:
        request = airbough.BalanceRequest(
            units="us",
            air=airbough.Air(temperature=shop["air"]["temperature"]),
            runs=(
                airbough.Run(
                    id="a",
                    into=None,
                    diameter=shop["runs"][0]["diameter"],
                    length=1.0,
                    fittings=(airbough.Elbow(angle=quantity(90, "deg"), radius_ratio=1.5),),
                ),
            ),
        )
        sent = msgspec.json.decode(exchange.body(request))
        assert sent["runs"][0]["diameter"] == "178.0 mm"
        assert sent["runs"][0]["fittings"][0] == {"type": "elbow", "angle": "90.0 deg", "radius_ratio": 1.5}
    else:
        sent = msgspec.json.decode(exchange.body(exchange.asked(BALANCE, shop, {})))
        assert sent["runs"][0]["diameter"] == "178.0 mm"
        assert sent["runs"][1]["fittings"][0]["angle"] == "90.0 deg"
        assert "opening" in sent["runs"][1]["gate"]
        assert sent["runs"][2]["hood"]["flow"] == "370.0 L/s"
        assert sent["collector"]["fan"]["curve"][0]["pressure"] == "11.5 inH2O"
    assert sent["air"] == {"temperature": "20.0 degC"}
    msgspec.convert(sent, airbough.BalanceRequest)


@pytest.mark.parametrize(
    ("preset", "expected"), [("us", 1.2345678901234567e-5 / 0.3048), ("metric", 1.2345678901234567e-2)]
)
def test_a_bare_number_is_in_the_requests_own_preset(preset, expected):
    bare = {"id": "a", "into": None, "diameter": "6 in", "length": 1}
    shop = {"units": preset, "runs": [bare]}
    shop["runs"][0]["roughness"] = quantity(1.2345678901234567e-5, "m")
    assert exchange.asked(BALANCE, shop, {}).runs[0].roughness == pytest.approx(expected, rel=1e-15)


def test_quantities_in_a_table_of_openings(shop):
    drawing = {**shop, "of": "tree", "states": [{"name": "one", "openings": {"saw": quantity(30, "percent")}}]}
    assert msgspec.to_builtins(exchange.asked(DRAWING, drawing, {}))["states"][0]["openings"] == {"saw": 0.3}
    drawing["states"][0]["openings"]["saw"] = quantity(30, "in")
    with pytest.raises(airbough.InvalidRequest) as caught:
        exchange.asked(DRAWING, drawing, {})
    assert [fault.path for fault in caught.value.faults] == ["states[0].openings.saw"]


def test_faults_of_quantities_have_their_paths(shop):
    shop["runs"][1]["diameter"] = quantity(4, "second")
    shop["runs"][2]["id"] = quantity(4, "in")
    shop["name"] = quantity(float("nan"), "in")
    with pytest.raises(airbough.InvalidRequest) as caught:
        exchange.asked(BALANCE, shop, {})
    assert {fault.path for fault in caught.value.faults} == {"runs[1].diameter", "runs[2].id", "name"}


def test_a_quantity_in_a_query():
    request = exchange.asked(AIR, None, {"units": "us", "temperature": quantity(70, "degF")})
    assert exchange.outgoing(AIR, request).query == {"units": "us", "temperature": "70.0 degF"}


def test_an_answer_with_units(air_answer):
    finding = {"code": "c", "severity": "note", "message": "m", "value": 3.0, "limit": 4.0, "unit": "ft/min"}
    plain = msgspec.json.decode(air_answer) | {"findings": [finding]}
    told = airbough.with_units(msgspec.convert(plain, airbough.AirAnswer))
    assert told.air.density == quantity(0.0749, "lb/ft^3")
    assert told.air.density.to("kg/m^3").magnitude == pytest.approx(0.0749 * 0.45359237 / 0.3048**3, rel=1e-14)
    assert told.air.standard is True
    assert told.air.temperature is None
    assert told.findings[0].value == quantity(3.0, "ft/min")
    with pytest.raises(AttributeError, match="no colour"):
        _ = told.colour


def test_every_told_kind_can_be_a_quantity():
    for kind in PRESET_UNITS["us"]:
        assert pint_units.quantity(1.0, PRESET_UNITS["us"][kind]).units == quantity(1, PRESET_UNITS["us"][kind]).units
    assert places_of(airbough.RunResult)["flow"].kind == "flow"


def test_without_quantities_pint_is_not_loaded():
    code = (
        "import sys, airbough\nfrom airbough import calls\nfrom airbough.travel import exchange\n"
        "exchange.outgoing(calls.AIR, exchange.asked(calls.AIR, {'units': 'us', 'temperature': 3}, {}))\n"
        "print('pint' in sys.modules)"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert told.stdout.strip() == "False"
