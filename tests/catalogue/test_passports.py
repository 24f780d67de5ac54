"""Every number of the catalogue carries its passport; tables are whole and rise; words are unique and known."""

import math
import tomllib
from collections import defaultdict
from itertools import pairwise
from pathlib import Path

import pytest

import airbough
from airbough_service import catalogue
from airbough_service.catalogue import reading
from airbough_service.catalogue.families import table_of

FILES = reading.names()
HOW = {"read", "memory", "common-practice"}
PROSE = {"access", "edition", "id", "publisher", "title", "url", "year"}


def hoods(units):
    """Return what GET /v1/hoods tells of every machine."""
    return airbough.local().hoods({"units": units}).machines


def blocks(part, path):
    """Walk every table of a file, with its path."""
    if isinstance(part, dict):
        yield path, part
        for key, value in part.items():
            if key != "passport":
                yield from blocks(value, f"{path}.{key}")
    elif isinstance(part, list):
        for index, value in enumerate(part):
            yield from blocks(value, f"{path}[{index}]")


def has_number(value):
    if isinstance(value, list):
        return any(has_number(one) for one in value)
    return isinstance(value, int | float) and not isinstance(value, bool)


def without_passport(part, path, covered=False):
    """Return the paths of numbers that no passport covers: their own block's, or that of a block around it."""
    if isinstance(part, list):
        return [bad for i, one in enumerate(part) for bad in without_passport(one, f"{path}[{i}]", covered)]
    if not isinstance(part, dict):
        return []
    covered = covered or "passport" in part or ("source" in part and "how" in part)
    bad = []
    for key, value in part.items():
        if key in ("passport", "parameters"):
            continue
        if has_number(value) and not isinstance(value, dict) and not covered:
            bad.append(f"{path}.{key}")
        bad += without_passport(value, f"{path}.{key}", covered)
    return bad


@pytest.mark.parametrize("name", [name for name in FILES if name != "sources"])
def test_every_number_has_a_passport(name):
    assert without_passport(reading.read(name), name) == []


@pytest.mark.parametrize("type_", list(catalogue.families()))
def test_every_default_of_a_parameter_has_a_passport(type_):
    for parameter in catalogue.family(type_).parameters.values():
        if parameter.default is not None and parameter.kind not in ("word", "count"):
            assert parameter.passport is not None, parameter.name


@pytest.mark.parametrize("name", FILES)
def test_every_passport_is_complete_and_its_source_is_known(name):
    known = {source.id for source in catalogue.all_sources()}
    for path, block in blocks(reading.read(name), name):
        if "passport" not in block:
            continue
        passport = catalogue.passport_of(block)  # refuses a missing or unknown key
        assert passport.source in known, path
        assert passport.how in HOW, path
        assert passport.place.strip(), path
        assert 0.0 <= passport.spread < 3.0, path
        assert isinstance(passport.spread, float), path


@pytest.mark.parametrize("name", [name for name in FILES if name != "sources"])
def test_other_sources_named_beside_a_value_are_known(name):
    known = {source.id for source in catalogue.all_sources()}
    for path, block in blocks(reading.read(name), name):
        if isinstance(block.get("source"), str):
            assert block["source"] in known, path


@pytest.mark.parametrize("name", FILES)
def test_every_table_rises_and_has_no_gap(name):
    for path, block in blocks(reading.read(name), name):
        if isinstance(block.get("axes"), list) and "values" in block:
            table = table_of(block)  # refuses an axis that does not rise, a gap, a value that is no number
            assert len(table.axes) == len(block["axes"]), path
        if "angles" in block:
            assert len(block["angles"]) == len(block["values"]), path
            assert all(a < b for a, b in pairwise(block["angles"])), path


@pytest.mark.parametrize("name", FILES)
def test_no_two_entries_share_an_id(name):
    for kind, entries in reading.read(name).items():
        if isinstance(entries, list):
            ids = [entry["id"] for entry in entries]
            assert len(ids) == len(set(ids)), kind


def test_no_two_families_share_a_type():
    types = [type_ for name in reading.FITTING_FILES for type_ in reading.read(name)]
    assert len(types) == len(set(types))


def test_the_catalogue_is_of_a_useful_size():
    assert len(catalogue.all_ducts()) >= 8
    assert len(catalogue.all_dusts()) >= 8
    assert len(catalogue.all_machines()) >= 20
    assert sum(duct.kind == "hose" for duct in catalogue.all_ducts()) >= 2


def test_every_source_is_cited_by_the_catalogue():
    # Some documents are only named in a note: the text that carries another's table.
    texts = [reading.text(name).decode() for name in FILES if name != "sources"]
    unused = {source.id for source in catalogue.all_sources() if not any(source.id in text for text in texts)}
    assert unused == set()


def test_a_case_that_names_a_source_by_id_names_one_of_the_bibliography():
    known = {source.id for source in catalogue.all_sources()}
    folder = Path(__file__).parent.parent / "handbook" / "cases"
    cases = [case for file in folder.glob("*.toml") for case in tomllib.loads(file.read_text()).get("check", ())]
    named = {case["source"] for case in cases if " " not in case["source"]}
    assert named
    assert named <= known


def test_sources_say_how_they_are_had():
    for block in reading.read("sources")["source"]:
        assert set(block) <= PROSE
        assert block["access"] in ("open", "paid", "archive", "not-public", "none"), block["id"]
        assert (block["access"] == "none") == (block["id"] == "common-practice")
        assert block["title"].strip()
        assert block["publisher"].strip()
        assert block["edition"].strip()


def test_an_open_source_has_an_address_and_a_paid_one_none():
    for source in catalogue.all_sources():
        if source.access == "open":
            assert source.url is not None, source.id
        if source.access not in ("open", "archive"):
            assert source.url is None, source.id
        assert source.url is None or source.url.startswith(("https://", "http://")), source.id


@pytest.mark.parametrize("name", [name for name in FILES if name != "sources"])
def test_what_was_read_was_read_in_a_document_at_a_place(name):
    for path, block in blocks(reading.read(name), name):
        if "passport" in block:
            passport = catalogue.passport_of(block)
            assert (passport.how == "common-practice") == (passport.source == "common-practice"), path
            if passport.how == "read":
                assert len(passport.place) >= 3, path
                assert catalogue.source(passport.source).edition, path


@pytest.mark.parametrize("duct", catalogue.all_ducts(), ids=lambda duct: duct.id)
def test_a_duct_makes_sense(duct):
    low, high = duct.roughness_range
    assert 0.0 < low <= duct.roughness <= high < 0.02
    assert duct.kind in ("rigid", "hose")
    assert (duct.typical_stretch is not None) == (duct.kind == "hose")
    if duct.kind == "hose":
        assert catalogue.hose_slack(duct, duct.typical_stretch, 0.15).multiplier == 1.0
        assert catalogue.hose_slack(duct, 0.9, 0.15).multiplier > 1.0


@pytest.mark.parametrize("dust", catalogue.all_dusts(), ids=lambda dust: dust.id)
def test_a_dust_makes_sense(dust):
    # Common practice: 10 m/s for the lightest, 30 m/s for the heaviest waste.
    assert 10.0 <= dust.transport_velocity < dust.upper_velocity <= 35.0
    assert dust.cautions
    assert all(catalogue.caution(word).text for word in dust.cautions)


@pytest.mark.parametrize("machine", catalogue.all_machines(), ids=lambda machine: machine.id)
def test_a_machine_makes_sense(machine):
    assert catalogue.family(machine.typical_entry).place == "entry"
    if machine.typical_dust is not None:
        assert catalogue.dust(machine.typical_dust)
    assert machine.sizes
    for size in machine.sizes:
        assert 0.01 < size.flow < 10.0
        assert size.port is None or 0.05 <= size.port.diameter <= 0.4
    bounds = [size.maximum for size in machine.sizes[:-1]]
    assert all(bound is not None for bound in bounds)
    assert all(a < b for a, b in pairwise(bounds))
    assert len({size.parameter for size in machine.sizes}) == 1
    assert all(catalogue.caution(word).text for word in machine.cautions)


@pytest.mark.parametrize("machine", catalogue.all_machines(), ids=lambda machine: machine.id)
def test_what_was_read_of_a_machine_comes_before_what_is_remembered(machine):
    defaults = {size.passport.how for size in machine.sizes}
    assert len(defaults) == 1
    if defaults != {"read"}:
        assert not any(other.passport.how == "read" for other in machine.others)
    assert bool(machine.others) <= bool(machine.default_because)


def covered(sizes):
    """Return every size with the range of its parameter."""
    lower = 0.0
    for size in sizes:
        upper = math.inf if size.maximum is None else size.maximum
        yield size, lower, upper
        lower = upper


@pytest.mark.parametrize("machine", catalogue.all_machines(), ids=lambda machine: machine.id)
def test_the_spread_of_a_flow_covers_what_other_sources_say_of_the_same_size(machine):
    ranges = defaultdict(list)
    for other in machine.others:
        ranges[other.passport.source, other.parameter].append(other)
    for size, low, high in covered(machine.sizes):
        for others in ranges.values():
            for other, least, most in covered(others):
                same = other.parameter == size.parameter and least < high and low < most
                same_port = other.parameter == "port_diameter" and size.port and least < size.port.diameter <= most
                if same or same_port:
                    assert abs(other.flow / size.flow - 1.0) <= size.passport.spread, (size.size, other.size)


def test_hoods_tell_of_each_flow_whether_it_was_read():
    told = {(machine.id, size.size): size for machine in hoods("metric") for size in machine.sizes}
    rows = {(block["id"], row["size"]): row for block in reading.read("hoods")["machine"] for row in block["sizes"]}
    read = {key for key, row in rows.items() if row["passport"]["how"] == "read"}
    assert set(told) == set(rows)
    assert {key for key, size in told.items() if size.flow_read} == read
    assert 30 < len(read) < len(rows)
    for key in set(rows) - read:
        assert told[key].passport.how in ("memory", "common-practice")
        assert told[key].port_flow is not None, key  # a second opinion beside what nobody could read


def test_a_port_carries_its_dust_at_the_transport_velocity():
    # By hand: 20 m/s in 120 mm are 20 * pi / 4 * 0.12^2 * 3600 = 814 m3/h; TRGS 553 (2022), Annex 2, prints 820.
    machines = {machine.id: machine for machine in hoods("metric")}
    planer = machines["planer"].sizes[0]
    assert planer.port_diameter == pytest.approx(120.0)
    assert planer.port_flow == pytest.approx(814.3, abs=0.1)
    assert planer.flow == pytest.approx(820.0, abs=0.1)
    assert planer.port_passport is None  # read where the flow was
    # By hand: 18 m/s, fine sanding dust, in 100 mm are 508.9 m3/h.
    disc = machines["disc-sander"].sizes[0]
    assert disc.port_flow == pytest.approx(508.9, abs=0.1)
    assert disc.port_passport.how == "common-practice"
    assert machines["bench-grinder"].sizes[0].port_flow is None


def test_sizes_are_bounded_in_the_preset():
    us = {machine.id: machine.sizes[0] for machine in hoods("us")}
    assert (us["disc-sander"].maximum, us["disc-sander"].maximum_unit) == (pytest.approx(12.0), "in")
    assert (us["drum-sander"].maximum, us["drum-sander"].maximum_unit) == (pytest.approx(200.0 / 144.0), "ft^2")
    assert (us["cnc-router"].maximum, us["cnc-router"].maximum_unit) == (1, None)
    assert (us["lathe"].maximum, us["lathe"].maximum_unit) == (None, None)


def test_the_bibliography_tells_where_a_document_is_had():
    told = {source.id: source for source in airbough.local().sources({"units": "us"}).bibliography}
    assert told["trgs-553-2022"].access == "open"
    assert told["trgs-553-2022"].url.startswith("https://")
    assert (told["idelchik-2"].access, told["idelchik-2"].url) == ("paid", None)


def test_cautions_name_no_threshold_and_never_approve():
    for block in reading.read("cautions")["caution"]:
        words = block["text"].lower()
        assert not any(character.isdigit() for character in words), block["id"]
        for word in ("approved", "compliant", "is safe", "is ok"):
            assert word not in words, block["id"]
        assert block["severity"] in ("note", "warning", "danger")


@pytest.mark.parametrize(
    ("ask", "word", "near"),
    [
        (catalogue.duct, "spiral-galvanised", "spiral-galvanized"),
        (catalogue.dust, "saw-dust", "sawdust"),
        (catalogue.machine, "tabelsaw", "table-saw"),
        (catalogue.family, "elbows", "elbow"),
        (catalogue.source, "iso-5802", "iso-5801"),
    ],
)
def test_an_unknown_word_is_told_with_its_nearest(ask, word, near):
    with pytest.raises(catalogue.UnknownWordError) as error:
        ask(word)
    assert error.value.nearest[0] == near
    assert 1 <= len(error.value.nearest) <= 3


def test_the_digest_is_that_of_every_file():
    assert len(catalogue.digest()) == 12
    assert catalogue.digest() == catalogue.digest()
    assert {"air", "ducts", "elbows", "sources"} <= set(FILES)


def test_the_check_for_passports_finds_what_has_none():
    good = {"value": 1.0, "passport": {}}
    assert without_passport({"entry": [good]}, "file") == []
    bad = {"entry": [good, {"id": "bare", "values": [[1.0], [2.0]]}], "loose": 3.0}
    assert without_passport(bad, "file") == ["file.entry[1].values", "file.loose"]
