"""Every number that the catalogue says was read is computed again, as printed, from the code that answers.

An entry is covered where its own printed text comes out of the question about it (machines, dusts), where a case of
tests/handbook computes a printed value by way of it, or where `read_values` names it. The rest is listed with its
reason, and nothing else is.
"""

import re
import tomllib
from pathlib import Path

import pytest

import airbough
from airbough_service import catalogue
from airbough_service.catalogue import reading
from airbough_service.terms.units import TABLE
from handbook import measured_junctions
from handbook.read_values import VALUES
from handbook.validation import _passports

CASES = Path(__file__).parents[1] / "handbook" / "cases"
CLIENT = airbough.local()
LAWS = {
    "air-density": ("air moist_air", "air moist_air compressibility", "air moist_air saturation",
                    "air moist_air enhancement"),
    "standard-atmosphere": ("air standard_atmosphere",),
    "hose-friction-multiplier": ("ducts duct flexible-hose-ribbed stretch_law",),
    "friction-velocity-pressures-per-foot": ("ducts duct spiral-galvanized power_law",),
    "leakage": ("leakage law",),
    "long-tube": ("gauges buckling long",),
    "short-tube": ("gauges buckling short",),
    "flow-ratio-branch": ("junctions flow-ratio momentum", "junctions flow-ratio correction"),
    "traverse-depth": ("traverse rule log-linear",),
}  # fmt: skip
"""What a case computes -> entries whose constants are all of its way."""

CANNOT = {
    "printed and kept, but no answer computes with it": (
        "elbows elbow table mitered reynolds_factor",
        "junctions flow-ratio areas_add_up",
        "junctions flow-ratio areas_add_up branch",
        "junctions flow-ratio areas_add_up straight",
        "junctions flow-ratio effective_angle",
    ),
    "the document prints the law and no value in what was read of it; the rib's height is common practice": (
        "ducts duct flexible-hose-ribbed rib",
    ),
}
"""Why an entry that was read has no printed value to compute again -> its entries."""

MEASURED = {"branch": "junctions flow-ratio wye", "straight": "junctions flow-ratio wye_straight"}
"""What the measured points of tests/data/measured_junctions.toml are fitted by."""

OF_JUNCTIONS = {"entry-angle", "symmetrical-wye", "flow-ratio"}


def read_entries():
    """Return every entry that was read, by file and path."""
    return {
        f"{name} {entry}"
        for name in reading.names()
        for entry, passport in _passports(reading.read(name), ())
        if passport["how"] == "read"
    }


def cases():
    for path in CASES.glob("*-values.toml"):
        yield from tomllib.loads(path.read_text("utf-8"))["check"]


def named_by(check):
    """Return the entries that a case of a single value goes by."""
    given, what = dict(check["inputs"]), check["what"]
    if what in catalogue.families() and what not in OF_JUNCTIONS:
        bore = given.pop("diameter", 0.1)
        yield from fitting_entries(what, catalogue.fitting_loss(what, given, bore).entry)
    if what == "roughness":
        yield f"ducts duct {given['duct']}"
    if what.startswith("gauge-"):
        yield f"gauges sheet {given['material']}" if "material" in given else "gauges sheet galvanized"
    if what == "symmetrical-wye" and given["angle"] == 90.0:
        yield "junctions symmetrical-wye head_on_tee"
    if what == "appliance-limit":
        yield f"make_up_air appliance {given['appliance']}"
    yield from LAWS.get(what, ())


def fitting_entries(type_, entry):
    """Return `elbows elbow table smooth` for the entry `elbow/smooth` of a loss."""
    words = entry.split("/")
    for name in reading.FITTING_FILES:
        if type_ in reading.read(name):
            yield f"{name} {type_} table {words[-1]}"
            yield f"{name} {type_} {words[-1]}"


def printed(file, kind, place):
    """Return the entries whose block carries the printed text that was read, with that text."""
    return [one for block in reading.read(file)[kind] for one in place(block)]


MACHINES = printed("hoods", "machine", lambda block: [
    (block["id"], number, size["printed"])
    for number, size in enumerate(block.get("sizes", ()))
    if size["passport"]["how"] == "read" and "per sq ft" not in size["printed"]
])  # fmt: skip
DUSTS = printed("dusts", "dust", lambda block: [
    (block["id"], block["printed"]) for _ in range(block["passport"]["how"] == "read")
])  # fmt: skip
FLOW = re.compile(r"([\d.,]+)\s*(cfm|m3/h)")
SPEED = re.compile(r"([\d.,]+)\s*(fpm|m/s)")


@pytest.mark.parametrize(("machine", "size", "text"), MACHINES)
def test_a_machine_answers_the_flow_that_was_read(machine, size, text):
    told = next(one for one in CLIENT.hoods({"units": "metric"}).machines if one.id == machine).sizes[size]
    number, unit = FLOW.search(text).groups()
    factor = TABLE["flow"][unit][0] * 3600.0
    assert told.flow == pytest.approx(float(number.replace(",", "")) * factor, abs=0.5 * factor)


@pytest.mark.parametrize(("dust", "text"), DUSTS)
def test_a_dust_answers_the_velocity_that_was_read_of_a_range_its_end(dust, text):
    asked = {"units": "metric", "flow": 1000, "diameter": 150, "dust": dust}
    told = CLIENT.velocity_check(asked).transport_velocity
    ends = [float(number) for number in re.findall(r"[\d.]+", text)]
    factor = TABLE["velocity"][SPEED.search(text)[2]][0]
    assert any(told == pytest.approx(end * factor, abs=0.05) for end in ends)


@pytest.mark.parametrize("dust", [block["id"] for block in reading.read("dusts")["dust"]])
def test_faster_than_28_metres_a_second_is_needless(dust):
    """DGUV Information 209-044, foreword, read: up to 28 m/s at machine outlets."""
    asked = {"units": "metric", "flow": 1000, "diameter": 150, "dust": dust}
    assert CLIENT.velocity_check(asked).upper_velocity == pytest.approx(28.0)


def covered():
    """Return every entry that some test of a printed value goes by."""
    found = {entry for check in cases() for entry in named_by(check)}
    found |= {f"hoods machine {machine} sizes {number + 1}" for machine, number, _ in MACHINES}
    found |= {f"dusts dust {dust}" for dust, _ in DUSTS} | {value.entry for value in VALUES}
    found |= {MEASURED[arm] for _, _, arm, angle, *_ in measured_junctions.points() if angle <= 60.0}
    return found | {f"dusts dust {block['id']} upper_velocity" for block in reading.read("dusts")["dust"]}


def test_every_read_entry_is_computed_again_or_listed_with_its_reason():
    """What is new must get a case, and what has got one leaves the list."""
    assert read_entries() - covered() == {entry for entries in CANNOT.values() for entry in entries}


@pytest.mark.parametrize("value", VALUES, ids=lambda value: f"{value.entry}: {value.what}")
def test_a_value_of_a_read_entry_comes_out_as_printed(value):
    assert value.ours() == pytest.approx(value.printed, abs=value.tolerance + 1e-12, rel=0.0)


def test_every_value_names_an_entry_that_was_read():
    assert {value.entry for value in VALUES} <= read_entries()
