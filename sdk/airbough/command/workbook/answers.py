"""The answers to a table of machines or of runs, as the rows of sheets."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import msgspec
from msgspec import Struct

from airbough import Client, Local, documents
from airbough.command.workbook.cells import OURS, Rows, Tables, Value, told
from airbough.errors import unreadable
from airbough.reading import outline_table, tree_table
from airbough.reading.answer_rows import rows as as_rows
from airbough.reading.request import Unreadable
from airbough.wire.answer import Assumed, Finding
from airbough.wire.gate_states import GateStatesAnswer, StateResult
from airbough.wire.operating_point import OperatingPointAnswer, OperatingPointRequest
from airbough.wire.outline import OutlineAnswer, OutlineRequest
from airbough.wire.tree import Tree

AS_STATED: Final = "as in the sheet"
_HOODS: Final = ("run", "machine", "open", "flow", "design_flow", "share_of_design", "served", "static_pressure")
_DUCTS: Final = (
    "id",
    "diameter",
    "flow",
    "velocity",
    "idle",
    "carrying_ratio",
    "carrying",
    "total_loss",
    "static_pressure",
)
_PARTS: Final = frozenset({"needed", "buy", "adapter", "not-stocked"})


@dataclass(frozen=True, slots=True)
class Answers:
    """What a sheet comes to: the tables to be written, and the findings in them."""

    tables: Tables
    findings: int


def answers(text: str, client: Client | Local, stock: Path | None = None) -> Answers:
    """Return the answers to a table: each machine of an outline alone, or runs in the state that the table names.

    Raises:
        AirboughError: the table is refused.
    """
    outline, asked = _asked(text, client)
    findings: list[Finding] = [] if outline is None else list(outline.findings)
    tables: Tables = {}
    if asked.collector is not None:
        flows, ducts, found = _of_point(asked, client) if outline is None else _of_machines(asked, client)
        tables |= {"flows": flows, "ducts": ducts}
        findings += found
    tables["findings"] = _findings(findings)
    tables |= _parts(asked, client, stock)
    if outline is not None:
        tables["assumed"] = _assumed(outline.assumed)
    return Answers({OURS + name: rows for name, rows in tables.items()}, len(findings))


def _asked(text: str, client: Client | Local) -> tuple[OutlineAnswer | None, OperatingPointRequest]:
    """Return the outline's answer, of a table of machines, and the question about the tree."""
    try:
        if tree_table.is_tree(text):
            document = tree_table.document(text, OperatingPointRequest)
            return None, documents.read(document, OperatingPointRequest)
        outline = documents.read(outline_table.document(text), OutlineRequest)
    except Unreadable as wrong:
        raise unreadable(wrong) from None
    answer = client.outline(outline)
    return answer, OperatingPointRequest(**{name: getattr(answer.tree, name) for name in Tree.__struct_fields__})


def _of_point(asked: OperatingPointRequest, client: Client | Local) -> tuple[Rows, Rows, Sequence[Finding]]:
    answer: OperatingPointAnswer = client.operating_point(asked)
    named = AS_STATED if asked.state is None or asked.state.open is None else ", ".join(asked.state.open)
    return _rows([(named, answer)], "hoods", _HOODS), _rows([(named, answer)], "runs", _DUCTS), answer.findings


def _of_machines(asked: OperatingPointRequest, client: Client | Local) -> tuple[Rows, Rows, Sequence[Finding]]:
    machines = dict.fromkeys(run.hood.machine_id or run.id for run in asked.runs if run.hood is not None)
    tree = {name: getattr(asked, name) for name in Tree.__struct_fields__}
    states = [{"name": name, "open": [name]} for name in machines]
    answer: GateStatesAnswer = client.gate_states({**_plain(tree), "states": states, "detail": "runs"})
    named = [(state.name, _with_units(state, answer)) for state in answer.states if state.named]
    hoods = _rows(named, "hoods", _HOODS)
    return [hoods[0], *(row for row in hoods[1:] if row[3])], _rows(named, "runs", _DUCTS), answer.findings


def _plain(tree: dict[str, Any]) -> dict[str, Any]:
    return {name: msgspec.to_builtins(value) for name, value in tree.items() if value is not None}


class _Told(Struct, frozen=True):
    """A state's lists beside the units of its answer."""

    units: dict[str, str]
    runs: tuple[Any, ...]
    hoods: tuple[Any, ...]


def _with_units(state: StateResult, answer: GateStatesAnswer) -> _Told:
    return _Told(answer.units, state.runs, state.hoods)


def _rows(answers: Iterable[tuple[str, Struct]], of: str, columns: Sequence[str]) -> Rows:
    """Return a list of some answers, these columns of it, each row with the name of its state."""
    headings: list[Value] = ["state"]
    out: Rows = []
    for name, answer in answers:
        for row in as_rows(answer, of, units=True):
            own = {heading: heading.partition(" [")[0] for heading in row}
            kept = sorted(
                (heading for heading in row if own[heading] in columns), key=lambda one: columns.index(own[one])
            )
            headings = ["state", *kept]
            out.append([name, *(_value(row[heading]) for heading in kept)])
    return [headings, *out]


def _value(value: object) -> Value:
    return told(value) if value is None or isinstance(value, str | int | float | bool) else str(value)


def _findings(findings: Sequence[Finding]) -> Rows:
    headings: list[Value] = ["severity", "where", "state", "what", "what to do", "code"]
    return [headings] + [
        [
            one.severity,
            one.run or one.at,
            one.state,
            one.message,
            None if one.suggestion is None else one.suggestion.text,
            one.code,
        ]
        for one in findings
    ]


def _assumed(assumed: Sequence[Assumed]) -> Rows:
    headings: list[Value] = ["where", "value", "unit", "why"]
    return [headings] + [[one.path, _taken(one.value), one.unit, one.reason] for one in assumed]


def _taken(value: object) -> Value:
    """Return what was taken: of a document its type alone where it has no more, else its JSON."""
    if isinstance(value, dict):
        return str(value["type"]) if set(value) == {"type"} else msgspec.json.encode(value).decode()
    return _value(value)


def _parts(asked: OperatingPointRequest, client: Client | Local, stock: Path | None) -> Tables:
    """Return what to buy and how to cut it."""
    more: dict[str, Any] = {} if stock is None else {"stock": documents.plain(stock)}
    tree = _plain({name: getattr(asked, name) for name in Tree.__struct_fields__})
    answer = client.parts_list({**tree, **more, "csv": True})
    rows = list(csv.reader(io.StringIO(answer.csv or "")))
    if not rows:
        return {}
    lists = [[_number(cell) for cell in row] for row in rows[1:]]
    headings: list[Value] = [*rows[0]]
    return {
        "parts": [headings, *(row for row in lists if row[0] in _PARTS)],
        "cuts": [headings, *(row for row in lists if row[0] not in _PARTS)],
    }


def _number(cell: str) -> Value:
    try:
        return float(cell)
    except ValueError:
        return cell or None
