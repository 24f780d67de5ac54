"""Verdicts as a table, JSON, JUnit, CSV or Parquet."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Final
from xml.etree import ElementTree

import msgspec
from rich.console import Console
from rich.table import Table
from rich.text import Text

from airbough.command.verdict import Row

SHOWN: Final = 40  # designs in a table; the rest are counted
NOT_PLAIN: Final = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]")
MARK: Final = {"holds": ("holds", "green"), "fails": ("FAILS", "red"), "refused": ("REFUSED", "magenta")}


def plain(text: str) -> str:
    """Return a text without what a terminal or an XML reader would take as a command."""
    return NOT_PLAIN.sub("\ufffd", text)


def table(rows: Sequence[Row], console: Console) -> None:
    """Print each design that does not hold, or all where they are few; then the counts."""
    shown = list(rows) if len(rows) <= SHOWN else [row for row in rows if row.verdict != "holds"][:SHOWN]
    if shown:
        console.print(_table(shown))
    counts = {verdict: sum(row.verdict == verdict for row in rows) for verdict in MARK}
    hidden = len(rows) - len(shown)
    left_out = f"; {hidden} not shown" if hidden else ""
    console.print(
        f"{len(rows)} designs: {counts['holds']} hold, {counts['fails']} fail, {counts['refused']} refused{left_out}",
        highlight=False,
    )


def _table(rows: Sequence[Row]) -> Table:
    shown = Table(box=None, pad_edge=False)
    for heading in ("design", "verdict", "flow", "findings"):
        shown.add_column(heading, overflow="fold")
    for row in rows:
        word, colour = MARK[row.verdict]
        flow = (row.figures or {}).get("flow")
        number = f"{flow:.4g}" if isinstance(flow, float) else ""
        shown.add_row(Text(plain(row.place)), Text(word, style=colour), number, Text(plain(_words(row))))
    return shown


def _words(row: Row) -> str:
    """Return a row's findings or faults in short: equal ones once, with their number."""
    if row.verdict == "refused":
        more = f" and {len(row.faults) - 3} more" if len(row.faults) > 3 else ""
        return "; ".join(f"{path}: {words}" if path else words for path, words in row.faults[:3]) + more
    told = [f"{code} ({times})" if times > 1 else code for code, times, _ in row.grave]
    return ", ".join(told) or f"{row.others} of less weight" * bool(row.others)


def as_json(rows: Sequence[Row]) -> str:
    """Return the verdicts as one JSON list."""
    return msgspec.json.format(msgspec.json.encode(rows)).decode() + "\n"


def as_junit(rows: Sequence[Row]) -> str:
    """Return the verdicts as JUnit XML: a suite, a case a design; refusals are errors."""
    suite = ElementTree.Element("testsuite", name="airbough check", tests=str(len(rows)))
    for verdict, name in (("fails", "failures"), ("refused", "errors")):
        suite.set(name, str(sum(row.verdict == verdict for row in rows)))
    for row in rows:
        case = ElementTree.SubElement(suite, "testcase", name=plain(row.place), classname=plain(row.question))
        if row.verdict == "holds":
            continue
        kind = "failure" if row.verdict == "fails" else "error"
        told = ElementTree.SubElement(case, kind, type=plain(row.grave[0][0] if row.grave else row.outcome))
        told.set("message", plain(_words(row)))
        told.text = plain("\n".join([words for _, _, words in row.grave] + [f"{at}: {why}" for at, why in row.faults]))
    suites = ElementTree.Element("testsuites")
    suites.append(suite)
    ElementTree.indent(suites)
    return ElementTree.tostring(suites, encoding="unicode", xml_declaration=True) + "\n"


def flat(rows: Sequence[Row]) -> tuple[list[str], list[list[str | float | int | None]]]:
    """Return headings and cells: a design a row, its figures under their names."""
    names = sorted({name for row in rows for name in row.figures or {}})
    headings = ["design", "question", "verdict", "outcome", "findings", "faults", *names]
    return headings, [
        [
            row.place,
            row.question,
            row.verdict,
            row.outcome,
            " ".join(code for code, _, _ in row.grave),
            "; ".join(f"{path}: {words}" if path else words for path, words in row.faults),
            *((row.figures or {}).get(name) for name in names),
        ]
        for row in rows
    ]


def as_csv(rows: Sequence[Row]) -> str:
    """Return the verdicts as CSV (RFC 4180); a text that a sheet would take as a formula is quoted by a mark."""
    headings, cells = flat(rows)
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(headings)
    writer.writerows([[harmless(cell) for cell in line] for line in cells])
    return out.getvalue()


def harmless(cell: str | float | int | None) -> str | float | int | None:
    """Return a cell that no sheet takes for a formula."""
    if isinstance(cell, str) and cell[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return "'" + cell
    return cell


def write_parquet(rows: Sequence[Row], path: Path) -> None:
    """Write the verdicts as Parquet; raises as `write_columns`."""
    write_columns(*flat(rows), path)


def write_columns(headings: Sequence[str], cells: Sequence[Sequence[object]], path: Path) -> None:
    """Write rows as Parquet.

    Raises:
        ImportError: without the extra `parquet`.
    """
    try:
        import pyarrow
        from pyarrow import parquet
    except ModuleNotFoundError:
        raise ImportError("Parquet needs pyarrow: pip install 'airbough[parquet]'") from None
    columns = {name: [line[number] for line in cells] for number, name in enumerate(headings)}
    parquet.write_table(pyarrow.table(columns), path)
