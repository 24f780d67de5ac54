"""Workbooks filled by the command: what is read, what is written, and that all else stays as it was."""

from __future__ import annotations

import csv
import hashlib
import io
import zipfile

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.chart import BarChart, Reference
from openpyxl.comments import Comment
from openpyxl.styles import PatternFill

import airbough
from commanding import run

CLIENT = airbough.local()
TEMPLATE = CLIENT.outline_template(units="us").csv
OURS = ("airbough flows", "airbough ducts", "airbough findings", "airbough parts", "airbough cuts", "airbough assumed")
RUNS = """units,us
dust,shavings
fan_flow (cfm),0,600,1200,2000
fan_pressure (inH2O),11.5,11,8.5,2
open,planer

id,into,diameter (in),length (ft),duct,join,angle,machine,flow (cfm),entry,gate
main,,7,14,spiral-galvanized,,,,,,
saw,main,4,6,spiral-galvanized,,45,table-saw,400,plain-opening,1
planer,main,6,8,spiral-galvanized,straight,,planer,785,flanged-opening,1
"""


def rows_of(text: str) -> list[list[str | float | None]]:
    """Return a table's cells as a sheet holds them."""

    def cell(value: str) -> str | float | None:
        try:
            return float(value)
        except ValueError:
            return value or None

    return [[cell(value) for value in row] for row in csv.reader(io.StringIO(text))]


@pytest.fixture
def book(tmp_path):
    """A workbook as somebody would have it: the shop, and sheets with a chart, a formula, a colour, a comment."""
    made = Workbook()
    notes, shop = made.active, made.create_sheet("the shop")
    notes.title = "notes"
    notes["A1"], notes["A2"], notes["A3"] = "hours", 3, "='airbough flows'!E2*A2"
    notes["A1"].fill, notes["A1"].comment = PatternFill("solid", fgColor="FFCC00"), Comment("mine", "somebody")
    chart = BarChart()
    chart.add_data(Reference(notes, min_col=1, min_row=1, max_row=2))
    notes.add_chart(chart, "D2")
    for row in rows_of(TEMPLATE):
        shop.append(row or [None])
    path = tmp_path / "shop.xlsx"
    made.save(path)
    return path


def parts(path) -> dict[str, str]:
    with zipfile.ZipFile(path) as package:
        return {name: hashlib.sha256(package.read(name)).hexdigest() for name in package.namelist()}


def test_answers_come_in_sheets_of_their_own_and_all_else_stays_byte_for_byte(book) -> None:
    before = parts(book)
    told = run("workbook", book)
    assert told.returncode == 0, told.stderr
    after = parts(book)
    moved = {name for name in before if after[name] != before[name]}
    assert moved == {"xl/workbook.xml", "xl/_rels/workbook.xml.rels", "[Content_Types].xml"}
    assert any(name.startswith("xl/charts/") for name in after)
    sheets = load_workbook(book)
    assert sheets.sheetnames == ["notes", "the shop", *OURS]
    assert sheets["notes"]["A3"].value == "='airbough flows'!E2*A2"
    tree = CLIENT.outline(airbough.read_outline(TEMPLATE)).tree
    states = [{"name": name, "open": [name]} for name in ("planer", "saw", "band saw")]
    answer = CLIENT.gate_states(tree, states=states, detail="runs")
    rows = list(sheets["airbough flows"].iter_rows(values_only=True))
    flow = next(k for k, heading in enumerate(rows[0]) if heading == "flow [ft^3/min]")
    wanted = [(state.name, hood.run, hood.flow) for state in answer.states for hood in state.hoods if hood.open]
    assert [(row[0], row[1]) for row in rows[1:]] == [(name, run) for name, run, _ in wanted]
    assert [row[flow] for row in rows[1:]] == pytest.approx([flow for *_, flow in wanted], rel=1e-14)
    taken = dict(row[:2] for row in sheets["airbough assumed"].iter_rows(values_only=True))
    assert taken["machines[0].entry"] == "plain-opening"


def test_a_changed_shop_is_answered_again_in_the_same_sheets(book) -> None:
    run("workbook", book)
    first = list(load_workbook(book)["airbough flows"].iter_rows(values_only=True))
    text = TEMPLATE.replace("greatest_flow (ft^3/min),1600", "greatest_flow (ft^3/min),900")
    changed = load_workbook(book)
    for number, row in enumerate(rows_of(text), 1):
        for column, value in enumerate(row, 1):
            changed["the shop"].cell(number, column, value)
    changed.save(book)
    assert run("workbook", book).returncode == 0
    again = load_workbook(book)
    assert again.sheetnames == ["notes", "the shop", *OURS]
    assert list(again["airbough flows"].iter_rows(values_only=True)) != first


def test_a_sheet_of_runs_is_answered_in_the_state_that_it_names(tmp_path) -> None:
    made = Workbook()
    for row in rows_of(RUNS):
        made.active.append(row or [None])
    path = tmp_path / "runs.xlsx"
    made.save(path)
    assert run("workbook", path).returncode == 0
    rows = list(load_workbook(path)["airbough flows"].iter_rows(values_only=True))
    assert {row[0] for row in rows[1:]} == {"planer"}
    served = {row[1]: dict(zip(rows[0], row, strict=True)) for row in rows[1:]}
    assert served["planer"]["open"] is True
    assert served["saw"]["flow [ft^3/min]"] == 0.0


def test_what_the_sheet_says_wrong_is_told_and_nothing_written(book) -> None:
    changed = load_workbook(book)
    shop = changed["the shop"]
    machine = next(cell for cell in shop[7] if cell.value == "machine").column
    shop.cell(9, machine, "tabel-saw")
    shop.cell(10, next(cell for cell in shop[7] if cell.value == "line").column, "mian")
    changed.save(book)
    before = book.read_bytes()
    told = run("workbook", book)
    assert told.returncode == 2
    assert "mian" in told.stderr
    assert book.read_bytes() == before


@pytest.mark.parametrize(
    ("part", "text", "why"),
    [
        ("_xmlsignatures/sig1.xml", "<s/>", "signed"),
        ("xl/workbook.xml", '<workbook xmlns="http://purl.oclc.org/ooxml/spreadsheetml/main"/>', "strict"),
    ],
)
def test_what_would_break_is_refused_first(book, part, text, why) -> None:
    with zipfile.ZipFile(book) as old:
        every = {name: old.read(name) for name in old.namelist()}
    with zipfile.ZipFile(book, "w") as new:
        for name, content in {**every, part: text.encode()}.items():
            new.writestr(name, content)
    before = book.read_bytes()
    told = run("workbook", book)
    assert told.returncode == 2
    assert why in told.stderr
    assert book.read_bytes() == before


def test_another_format_a_formula_never_computed_and_a_date_are_told(tmp_path) -> None:
    other = tmp_path / "old.xlsx"
    other.write_bytes(b"\xd0\xcf\x11\xe0 an older format")
    assert "another format" in run("workbook", other).stderr
    for value, why in (("=1+1", "never computed"), (__import__("datetime").date(2026, 2, 1), "is a date")):
        made = Workbook()
        for row in rows_of(TEMPLATE):
            made.active.append(row or [None])
        made.active["E8"] = value
        path = tmp_path / f"{len(why)}.xlsx"
        made.save(path)
        told = run("workbook", path)
        assert told.returncode == 2
        assert "Sheet!E8" in told.stderr
        assert why in told.stderr


def test_a_csv_gets_files_beside_it(tmp_path) -> None:
    path = tmp_path / "shop.csv"
    path.write_text(TEMPLATE)
    assert run("workbook", path).returncode == 0
    assert path.read_text() == TEMPLATE.replace("\r\n", "\n")
    names = {other.name for other in tmp_path.iterdir()}
    assert names == {"shop.csv", *(f"shop-{name.removeprefix('airbough ')}.csv" for name in OURS)}


def test_a_template_has_the_catalogues_words_to_choose_from(tmp_path) -> None:
    path = tmp_path / "new.xlsx"
    assert run("workbook", path, "--template", "metric").returncode == 0
    made = load_workbook(path)
    lists = {str(one.sqref): one.formula1 for one in made["shop"].data_validations.dataValidation}
    assert any(ref.startswith("B1") or " B1" in ref for ref in lists)
    column = next(cell for cell in made["words"][1] if cell.value == "machine").column_letter
    words = [cell.value for cell in made["words"][column][1:] if cell.value]
    assert words == [machine.id for machine in CLIENT.hoods(units="us").machines]
    assert any(formula.startswith(f"words!${column}$2") for formula in lists.values())
    assert run("workbook", path).returncode == 0
    assert run("workbook", path, "--template", "us").returncode == 2
