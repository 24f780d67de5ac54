"""Writes the demonstration workbook: three invented duct runs whose cells ask the service, and two with a mistake.

    python deploy/spreadsheet/make_workbook.py [--address http://127.0.0.1:8000] [--into FOLDER]

The same sheet as airbough-demo.fods (LibreOffice) and airbough-demo.xlsx (Excel for Windows). Needs nothing but Python.
"""

from __future__ import annotations

import argparse
import re
import zipfile
from pathlib import Path
from typing import TypeAlias
from xml.sax.saxutils import escape

Cell: TypeAlias = str | float | None
"""A text that begins with = is a formula, in English and with A1 references."""

FIRST = 6
"""Number of the row with the first run."""

TITLES = [
    "run (invented)", "flow, cfm", "diameter, in.", "length, ft", "duct", "elbows", "dust",
    "question", "answer", "friction loss, in. wg", "velocity, fpm",
    "elbows: answer", "elbow loss, in. wg", "transport check holds", "largest diameter, in.", "both losses, in. wg",
]  # fmt: skip
RUNS: list[list[Cell]] = [
    ["band saw", 350.5, 4.25, 12.75, "spiral-galvanized", 2, "sawdust"],
    ["planer", 785, 6, 18, "spiral-galvanized", 1, "shavings"],
    ["router", 240, 3.5, 6.5, "smooth-plastic", 3, "shavings"],
    ["mistake: no diameter", 400, 0, 10, "spiral-galvanized", 1, "shavings"],
    ["mistake: misspelt", 400, 4, 10, "spirral-galvanized", 1, "shaving"],
]
"""Invented."""


def number(question: str) -> str:
    """Return the formula of a number: the answer has a decimal point, whatever the sheet's own language writes."""
    return f'NUMBERVALUE({question},".",",")'


def formulas(row: int) -> list[Cell]:
    """Return the cells that ask about one row."""
    asked = f'"flow="&B{row}&"&diameter="&C{row}&"&units=us&errors=cell&value="'
    elbow = f'$B$2&"/v1/fittings/elbow/loss?angle=90&radius_ratio=1.5&count="&F{row}&"&"&{asked}&"loss"'
    check = f'$B$2&"/v1/velocity-check?dust="&G{row}&"&"&{asked}'
    return [
        f'=$B$2&"/v1/friction-loss?length="&D{row}&"&duct="&E{row}&"&"&{asked}',
        f'=WEBSERVICE(H{row}&"friction_loss")',
        "=" + number(f"I{row}"),
        "=" + number(f'WEBSERVICE(H{row}&"velocity")'),
        f"=WEBSERVICE({elbow})",
        "=" + number(f"L{row}"),
        f'=WEBSERVICE({check}&"holds")',
        "=" + number(f'WEBSERVICE({check}&"largest_diameter")'),
        f"=J{row}+M{row}",
    ]


def sheet(address: str) -> list[list[Cell]]:
    """Return all rows."""
    air = number('WEBSERVICE($B$2&"/v1/air?units=us&altitude="&B3&"&value=air.density")')
    rows: list[list[Cell]] = [
        ["Invented demonstration. Columns A to G are yours, the others ask the service; #ERR says what is wrong."],
        ["service", address],
        ["altitude, ft", 812.5, "air density, lb/ft³", f"={air}"],
        ["Estimates from published averages: measure the finished system, and let local codes and practice decide."],
        list(TITLES),
    ]
    rows += [[*given, *formulas(FIRST + index)] for index, given in enumerate(RUNS)]
    return rows


def open_formula(text: str) -> str:
    """Return a formula as an ODF file has it."""
    parts = re.split(r'("[^"]*")', text[1:])
    for index in range(0, len(parts), 2):
        part = parts[index].replace(",", ";").replace("WEBSERVICE", "COM.MICROSOFT.WEBSERVICE")
        parts[index] = re.sub(r"(\$?[A-Z]+\$?[0-9]+)", r"[.\1]", part)
    return "of:=" + "".join(parts)


def excel_formula(text: str) -> str:
    """Return a formula as an xlsx file has it: functions younger than the format carry a prefix."""
    return re.sub(r"\b(WEBSERVICE|NUMBERVALUE)\(", r"_xlfn.\1(", text[1:])


def attribute(text: str) -> str:
    """Return a text as the value of an attribute."""
    return escape(text, {'"': "&quot;"})


def flat_cell(cell: Cell) -> str:
    """Return a cell of a flat ODF file."""
    if isinstance(cell, str) and cell.startswith("="):
        return f'<table:table-cell table:formula="{attribute(open_formula(cell))}"/>'
    if isinstance(cell, str):
        return f'<table:table-cell office:value-type="string"><text:p>{escape(cell)}</text:p></table:table-cell>'
    return f'<table:table-cell office:value-type="float" office:value="{cell}"/>'


def flat_document(rows: list[list[Cell]]) -> str:
    """Return the flat ODF file."""
    names = "".join(
        f' xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{short}:1.0"' for short in ("office", "table", "text")
    )
    body = "".join(f"<table:table-row>{''.join(map(flat_cell, row))}</table:table-row>" for row in rows)
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<office:document{names} '
        'xmlns:of="urn:oasis:names:tc:opendocument:xmlns:of:1.2" office:version="1.3" '
        'office:mimetype="application/vnd.oasis.opendocument.spreadsheet"><office:body><office:spreadsheet>'
        f'<table:table table:name="Ducts">{body}</table:table>'
        "</office:spreadsheet></office:body></office:document>\n"
    )


def excel_cell(cell: Cell, place: str) -> str:
    """Return a cell of an xlsx sheet."""
    if isinstance(cell, str) and cell.startswith("="):
        return f'<c r="{place}"><f>{escape(excel_formula(cell))}</f></c>'
    if isinstance(cell, str):
        return f'<c r="{place}" t="inlineStr"><is><t>{escape(cell)}</t></is></c>'
    return f'<c r="{place}"><v>{cell}</v></c>'


def excel_parts(rows: list[list[Cell]]) -> dict[str, str]:
    """Return the files inside an xlsx file."""
    body = "".join(
        f'<row r="{number}">'
        + "".join(excel_cell(cell, f"{chr(65 + column)}{number}") for column, cell in enumerate(row))
        + "</row>"
        for number, row in enumerate(rows, 1)
    )
    office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    package = "http://schemas.openxmlformats.org/package/2006"
    main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    return {
        "[Content_Types].xml": f'<Types xmlns="{package}/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{kind}.sheet.main+xml"/>'
        f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{kind}.worksheet+xml"/></Types>',
        "_rels/.rels": f'<Relationships xmlns="{package}/relationships">'
        f'<Relationship Id="r1" Type="{office}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{main}" xmlns:r="{office}"><sheets>'
        '<sheet name="Ducts" sheetId="1" r:id="r1"/></sheets><calcPr fullCalcOnLoad="1"/></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{package}/relationships">'
        f'<Relationship Id="r1" Type="{office}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>',
        "xl/worksheets/sheet1.xml": f'<worksheet xmlns="{main}"><sheetData>{body}</sheetData></worksheet>',
    }


def write(address: str, into: Path) -> list[Path]:
    """Write both files and return where they are."""
    into.mkdir(parents=True, exist_ok=True)
    rows = sheet(address)
    flat, packed = into / "airbough-demo.fods", into / "airbough-demo.xlsx"
    flat.write_text(flat_document(rows), encoding="utf-8")
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in excel_parts(rows).items():
            declared = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n' + text
            archive.writestr(zipfile.ZipInfo(name, (2026, 1, 1, 0, 0, 0)), declared, zipfile.ZIP_DEFLATED)
    return [flat, packed]


def main() -> None:
    """Write the workbook."""
    parser = argparse.ArgumentParser(description="Write the demonstration workbook.")
    parser.add_argument("--address", default="http://127.0.0.1:8000", help="of the service")
    parser.add_argument("--into", type=Path, default=Path("demo-output"), help="folder for the two files")
    arguments = parser.parse_args()
    for path in write(arguments.address.rstrip("/"), arguments.into):
        print(path)


if __name__ == "__main__":
    main()
