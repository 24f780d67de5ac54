"""A workbook with a sheet of machines or of runs, and the sheets of answers put beside it.

The package of the workbook is not read and written again by a library, which would lose what it does not know (shapes,
pictures, charts, macros): every part but our own sheets stays byte for byte as it was.
"""

from __future__ import annotations

from pathlib import Path

from airbough import Client, Local
from airbough.command.workbook import excel, opendocument, siblings
from airbough.command.workbook.answers import Answers, answers
from airbough.command.workbook.cells import Sheet, text_of

KINDS = {".xlsx": excel, ".xlsm": excel, ".ods": opendocument, ".csv": siblings}
"""Ending -> what reads and fills such a file."""


def fill(path: Path, client: Client | Local, sheet: str | None = None, stock: Path | None = None) -> Answers:
    """Answer the machines or runs in a workbook, and write flows, ducts, findings, parts and cuts into sheets of it.

    Args:
        path: of the workbook.
        client: who answers.
        sheet: the name of the sheet to read; left out: the first that has a row of headings.
        stock: a file of what can be bought, for prices and cuts.

    Returns:
        What was written.

    Raises:
        ValueError: a file that is none of these, that cannot be filled whole, or that has no such sheet.
        AirboughError: what the sheet says is refused.
    """
    kind = KINDS.get(path.suffix.lower())
    if kind is None:
        raise ValueError(f"{path.name}: filled are {', '.join(KINDS)}")
    kind.check(path)
    found = answers(text_of(_chosen(kind.sheets(path), path, sheet)), client, stock)
    kind.write(path, found.tables)
    return found


def _chosen(sheets: list[Sheet], path: Path, name: str | None) -> Sheet:
    own = [sheet for sheet in sheets if sheet.named(name)]
    if not own:
        every = ", ".join(sheet.name for sheet in sheets) or "no sheet"
        wanted = f"no sheet {name!r}" if name else "no sheet with headings that begin with `id`"
        raise ValueError(f"{path.name}: {wanted}; there is {every}")
    return own[0]
