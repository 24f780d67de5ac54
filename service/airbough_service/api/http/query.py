"""The query of a GET, read by the grammar of bodies, though a sheet writes it and all of it is text."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal, TypeAlias, TypeVar, cast
from urllib.parse import unquote_to_bytes

from msgspec import Struct

from airbough.reading import (
    faults,
    quantity_text,
)
from airbough.reading.examples import ungrouped
from airbough.reading.quantity_text import Decimal
from airbough.reading.request import whole_numbers
from airbough.reading.telling import taught
from airbough.reading.wrong import Wrong
from airbough.wire.places import (
    Place,
    places_of,
)
from airbough.wire.problem import Fault
from airbough_service.api.http import body
from airbough_service.terms.refusal import Refusal

AnyStruct = TypeVar("AnyStruct", bound=Struct)
Format: TypeAlias = Literal["json", "csv", "text", "xml"]

DECIMALS: Final[tuple[Decimal, ...]] = ("comma", "point")
FORMATS: Final[tuple[Format, ...]] = ("json", "csv", "text", "xml")
HOW: Final = ("format", "value", "errors", "decimal")
"""Parameters that say how to read and to answer, not what is asked."""


@dataclass(frozen=True, slots=True)
class How:
    """How the caller wants to be answered.

    Attributes:
        format: wins over `Accept`; None leaves it to `Accept`.
        value: path of the one value wanted.
        cell: whether a refusal is told as a cell's text with status 200.
    """

    format: Format | None = None
    value: str | None = None
    cell: bool = False


def pairs(query: bytes) -> list[tuple[str, str]]:
    """Return the parameters in order.

    Raises:
        Refusal: where one is not UTF-8 or has no `=`.
    """
    found = []
    for part in query.split(b"&"):
        if not part:
            continue
        name, equals, value = part.replace(b"+", b" ").partition(b"=")
        try:
            found.append((unquote_to_bytes(name).decode(), unquote_to_bytes(value).decode()))
        except UnicodeDecodeError:
            raise _refusal([Fault(path="", code="not-utf-8", detail="a parameter is not UTF-8")]) from None
        if not equals:
            path = found[-1][0][:64]
            raise _refusal([Fault(path=path, code="missing-value", detail="a parameter is written `name=value`")])
    return found


def wants_cell(query: bytes) -> bool:
    """Return whether refusals are to be told as a cell, even where the query cannot be read."""
    return b"errors=cell" in query.split(b"&")


def read(query: bytes, wanted: type[AnyStruct]) -> tuple[AnyStruct, How]:
    """Return the question and how to answer it.

    Raises:
        Refusal: `against-schema` with every fault; each parameter may stand once.
    """
    places = places_of(wanted)
    asked, how, found = _sorted(query, places)
    found += _faults_of_how(how)
    decimal = cast("Decimal | None", how["decimal"] if how.get("decimal") in DECIMALS else None)
    data: dict[str, Any] = {}
    unread: dict[str, Fault] = {}
    for name, text in asked.items():
        try:
            data[name] = _value(text, places[name], decimal)
        except Wrong as wrong:
            ((_, code, detail),) = wrong.found
            data[name] = text
            unread[name] = Fault(path=name, code=code, detail=detail, example=ungrouped(text))
    if found or unread:
        schema = [fault for fault in faults.find(whole_numbers(data), wanted) if fault.path not in unread]
        raise _refusal(taught([*schema, *unread.values(), *found], asked | how))
    return body.convert(data, wanted), How(cast("Format | None", how.get("format")), how.get("value"), "errors" in how)


def _sorted(query: bytes, places: Mapping[str, Place]) -> tuple[dict[str, str], dict[str, str], list[Fault]]:
    """Return what is asked, how it is to be answered, and what is neither."""
    asked: dict[str, str] = {}
    how: dict[str, str] = {}
    found: list[Fault] = []
    for name, text in pairs(query):
        if name in asked or name in how:
            found.append(Fault(path=name[:64], code="repeated-parameter", detail="the parameter stands twice"))
        elif name in places:
            asked[name] = text
        elif name in HOW:
            how[name] = text
        else:
            found.append(Fault(path=name[:64], code="unknown-field", detail=_unknown(name, {*places, *HOW})))
    return asked, how, found


def _unknown(name: str, known: set[str]) -> str:
    near = difflib.get_close_matches(name[:64], sorted(known), n=1)
    told = f"did you mean `{near[0]}`?" if near else f"known are {', '.join(sorted(known))}"
    return f"no such parameter; {told}"


def read_nothing(query: bytes) -> None:
    """Refuse any parameter.

    Raises:
        Refusal: `against-schema`.
    """
    refuse([name for name, _ in pairs(query)])


def refuse(names: Sequence[str]) -> None:
    """Refuse parameters of these names, where there are any.

    Raises:
        Refusal: `against-schema`.
    """
    if names:
        detail = "no parameter is taken here"
        raise _refusal([Fault(path=name[:64], code="unknown-field", detail=detail) for name in names])


def _faults_of_how(how: dict[str, str]) -> list[Fault]:
    found = []
    if how.get("format", "json") not in FORMATS:
        found.append(Fault(path="format", code="unknown-word", detail=f"one of {', '.join(FORMATS)}"))
    elif "value" in how and how.get("format", "text") != "text":
        found.append(Fault(path="format", code="contradiction", detail="`value` is answered as text"))
    if how.get("errors", "cell") != "cell":
        found.append(Fault(path="errors", code="unknown-word", detail="`cell`, or left out"))
    if how.get("decimal", "point") not in DECIMALS:
        found.append(Fault(path="decimal", code="unknown-word", detail=f"one of {', '.join(DECIMALS)}"))
    if not 1 <= len(how.get("value", "x")) <= 200:
        found.append(Fault(path="value", code="length", detail="the path of a value, 1 to 200 characters"))
    return found


def _refusal(found: list[Fault]) -> Refusal:
    return Refusal("against-schema", found)


def _value(text: str, place: Place, decimal: Decimal | None) -> Any:
    """Return a parameter's text as the plain value it stands for; what it cannot stand for stays text.

    Raises:
        Wrong: where a number's mark may be a decimal one or not.
    """
    if place.kind is not None or place.scalars & {float, int}:
        number = quantity_text.bare(text, decimal)
        if number is not None:
            return number
        return quantity_text.with_point(text, decimal) if decimal and place.kind else text
    if bool in place.scalars and text in ("true", "false"):
        return text == "true"
    return text
