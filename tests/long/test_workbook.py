"""LibreOffice opens the workbooks that `airbough workbook` fills, and what it saves is filled again."""

import csv
import io
import os
import subprocess

import pytest
from openpyxl import Workbook, load_workbook

import airbough
from commanding import run
from programs import needed

pytestmark = pytest.mark.long
FORMULA = "=SUM('airbough flows'!E2:E100)"


def saved_as(path, ending, folder, locale="en-US"):
    """Return what LibreOffice makes of a workbook in another format."""
    folder.mkdir(exist_ok=True)
    words = ["--headless", "--norestore", f"-env:UserInstallation={(folder / 'profile').as_uri()}"]
    subprocess.run(
        [needed("soffice"), *words, "--convert-to", ending, "--outdir", str(folder), str(path)],
        check=True, capture_output=True, timeout=240, env={**os.environ, "LC_ALL": f"{locale.replace('-', '_')}.UTF-8"},
    )  # fmt: skip
    return folder / f"{path.stem}.{ending}"


def values(path):
    """Return every sheet's values."""
    book = load_workbook(path, data_only=True)
    return {sheet.title: [row for row in sheet.iter_rows(values_only=True) if any(row)] for sheet in book.worksheets}


def trimmed(rows):
    """Return rows without empty cells at their ends, numbers to twelve figures."""
    out = []
    for row in rows:
        cells = [float(f"{cell:.12g}") if isinstance(cell, float | int) else cell for cell in row]
        while cells and cells[-1] is None:
            cells.pop()
        out.append(cells)
    return out


@pytest.fixture
def book(tmp_path):
    made = Workbook()
    made.active.title = "notes"
    made.active["A1"], made.active["A2"] = "all together", FORMULA
    shop = made.create_sheet("shop")
    for row in csv.reader(io.StringIO(airbough.local().outline_template(units="us").csv)):
        shop.append([float(cell) if cell.replace(".", "", 1).isdigit() else cell or None for cell in row] or [None])
    path = tmp_path / "shop.xlsx"
    made.save(path)
    return path


def test_a_filled_workbook_opens_with_every_sheet_and_its_formulas_computed(book, tmp_path):
    assert run("workbook", book).returncode == 0
    told = values(saved_as(book, "xlsx", tmp_path / "opened"))
    written = values(book)
    assert list(told) == list(written)
    for name in (name for name in written if name.startswith("airbough ")):
        assert trimmed(told[name]) == trimmed(written[name]), name
    flow = written["airbough flows"][0].index("flow [ft^3/min]")
    assert flow == 4
    assert told["notes"][1][0] == pytest.approx(sum(row[flow] for row in written["airbough flows"][1:]), rel=1e-12)


@pytest.mark.parametrize("locale", ["en-US", "de-DE"])
def test_an_opendocument_sheet_is_filled_again_and_again(book, tmp_path, locale):
    ods = saved_as(book, "ods", tmp_path / "ods", locale)
    assert run("workbook", ods).returncode == 0
    first = values(saved_as(ods, "xlsx", tmp_path / "first", locale))
    assert run("workbook", book).returncode == 0
    for name, rows in values(book).items():
        if name.startswith("airbough "):
            assert trimmed(first[name]) == trimmed(rows), name
    resaved = saved_as(ods, "ods", tmp_path / "resaved", locale)
    assert run("workbook", resaved).returncode == 0
    again = values(saved_as(resaved, "xlsx", tmp_path / "again", locale))
    assert list(again) == list(first)
    assert {name: trimmed(rows) for name, rows in again.items()} == {
        name: trimmed(rows) for name, rows in first.items()
    }
