"""A question about a tree as a table, and its answer as one: what a spreadsheet posts and reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias, cast

from msgspec import Struct

from airbough.reading import answer_rows, tree_table
from airbough.reading import request as reading
from airbough.reading.quantity_text import Decimal
from airbough.reading.request import Unreadable
from airbough.wire.balance import BalanceRequest
from airbough.wire.gate_states import GateStatesRequest
from airbough.wire.operating_point import OperatingPointRequest
from airbough.wire.problem import Fault
from airbough_service.terms.refusal import Refusal, refusal

Part: TypeAlias = Literal["runs", "hoods", "findings", "system", "states"]

TREES: Final[frozenset[type[Struct]]] = frozenset({OperatingPointRequest, BalanceRequest, GateStatesRequest})
"""Requests whose body may be a table of runs."""
PARTS: Final[tuple[Part, ...]] = ("runs", "hoods", "findings", "system", "states")
SEPARATORS: Final = {"comma": ",", "semicolon": ";", "tab": "\t"}
_DECIMALS: Final = ("comma", "point")
_CHOICES: Final = {"of": PARTS, "separator": tuple(SEPARATORS), "decimal": _DECIMALS}


@dataclass(frozen=True, slots=True)
class Sheet:
    """How a table is to be read and answered.

    Attributes:
        settings: of the question, beside those in the table.
        of: which list of the answer is told.
        separator: of its cells; None: a comma, but a semicolon beside decimal commas.
        decimal: mark of its numbers and of those read; None as the table's own setting says.
    """

    settings: tuple[tuple[str, str], ...] = ()
    of: Part = "runs"
    separator: str | None = None
    decimal: Decimal | None = None


def read(query: Sequence[tuple[str, str]]) -> Sheet:
    """Return what the parameters of a query say of a table.

    Raises:
        Refusal: `against-schema`, with every fault of what says how to answer.
    """
    how: dict[str, str] = {}
    settings: list[tuple[str, str]] = []
    faults: list[Fault] = []
    for name, value in query:
        if name in how or name in dict(settings):
            faults.append(Fault(path=name[:64], code="repeated-parameter", detail="the parameter stands twice"))
        elif name not in _CHOICES:
            settings.append((name, value))
        elif value not in _CHOICES[name]:
            detail = f"must be one of {', '.join(_CHOICES[name])}"
            faults.append(Fault(path=name, code="unknown-value", detail=detail, read=value[:60]))
        else:
            how[name] = value
    if faults:
        raise Refusal("against-schema", faults)
    decimal = cast("Decimal | None", how.get("decimal"))
    return Sheet(
        tuple(settings), cast("Part", how.get("of", "runs")), SEPARATORS.get(how.get("separator", "")), decimal
    )


def question(text: str, wanted: type[Struct], sheet: Sheet) -> Struct:
    """Return the question that a table of runs says.

    Raises:
        Refusal: with every fault of the table, else of the document.
    """
    settings = sheet.settings if sheet.decimal is None else (*sheet.settings, ("decimal", sheet.decimal))
    try:
        return reading.converted(tree_table.document(text, wanted, settings), wanted)
    except Unreadable as unreadable:
        raise refusal(unreadable) from None


def answered(answer: Struct, sheet: Sheet, text: str) -> bytes:
    """Return the answer's list as a table, in the decimal mark of the sheet.

    Raises:
        Refusal: the answer has no such list.
    """
    decimal: Decimal = sheet.decimal or ("comma" if tree_table.decimal_of(text) == "comma" else "point")
    separator = sheet.separator or (";" if decimal == "comma" else ",")
    try:
        rows = answer_rows.rows(answer, sheet.of, units=True)
    except LookupError as missing:
        raise Refusal("unknown-word", [Fault(path="of", code="unknown-value", detail=str(missing))]) from None
    return answer_rows.as_csv(rows, separator, decimal).encode()
