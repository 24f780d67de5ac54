"""The query of a GET, read as strictly as a body, though a sheet writes it: a decimal comma is a point."""

from __future__ import annotations

import re
import typing
from dataclasses import dataclass
from typing import Any, Final, Literal, TypeAlias, TypeVar, cast
from urllib.parse import unquote_to_bytes

import msgspec
from msgspec import Struct

from airbough.wire.problem import Fault
from airbough_service.api.http import body
from airbough_service.terms.refusal import Refusal
from airbough_service.terms.walk import (
    hints_of,
    metadata,
)

AnyStruct = TypeVar("AnyStruct", bound=Struct)
Format: TypeAlias = Literal["json", "csv", "text", "xml"]

FORMATS: Final[tuple[Format, ...]] = ("json", "csv", "text", "xml")
HOW: Final = ("format", "value", "errors")
"""Parameters that say how to answer, not what is asked."""

_NUMBER: Final = re.compile(r"-?(?:0|[1-9][0-9]*)(?:[.,][0-9]+)?(?:[eE][+-]?[0-9]+)?")
_COMMA: Final = re.compile(r"(-?[0-9]+),([0-9]+.*)", re.DOTALL)


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
    given = pairs(query)
    hints = hints_of(wanted)
    data: dict[str, Any] = {}
    how: dict[str, str] = {}
    faults: list[Fault] = []
    for name, text in given:
        if name in data or name in how:
            faults.append(Fault(path=name[:64], code="repeated-parameter", detail="the parameter stands twice"))
        elif name in hints:
            data[name] = _value(text, hints[name])
        else:
            how[name] = text
    known = sorted({*hints, *HOW})
    faults += [
        Fault(path=name[:64], code="unknown-field", detail=f"no such parameter; known are {', '.join(known)}")
        for name in how
        if name not in HOW
    ]
    faults += _faults_of_how(how)
    try:
        request = body.convert(data, wanted)
    except Refusal as refusal:
        raise _refusal([*refusal.faults, *faults]) from None
    if faults:
        raise _refusal(faults)
    return request, How(cast("Format | None", how.get("format")), how.get("value"), "errors" in how)


def read_nothing(query: bytes) -> None:
    """Refuse any parameter.

    Raises:
        Refusal: `against-schema`.
    """
    faults = [
        Fault(path=name[:64], code="unknown-field", detail="no parameter is taken here") for name, _ in pairs(query)
    ]
    if faults:
        raise _refusal(faults)


def _faults_of_how(how: dict[str, str]) -> list[Fault]:
    faults = []
    if how.get("format", "json") not in FORMATS:
        faults.append(Fault(path="format", code="unknown-word", detail=f"one of {', '.join(FORMATS)}"))
    if how.get("errors", "cell") != "cell":
        faults.append(Fault(path="errors", code="unknown-word", detail="`cell`, or left out"))
    if not 1 <= len(how.get("value", "x")) <= 200:
        faults.append(Fault(path="value", code="length", detail="the path of a value, 1 to 200 characters"))
    return faults


def _refusal(faults: list[Fault]) -> Refusal:
    return Refusal("against-schema", faults)


def _value(text: str, annotation: Any) -> Any:
    """Return a parameter's text as the JSON value it stands for; what it cannot stand for stays text."""
    scalars = _scalars(annotation)
    if scalars & {float, int} and _NUMBER.fullmatch(text):
        try:
            return msgspec.json.decode(text.replace(",", "."))
        except msgspec.DecodeError:
            return text
    if bool in scalars and text in ("true", "false"):
        return text == "true"
    if float in scalars:
        comma = _COMMA.fullmatch(text)
        if comma and "," not in comma[2] and "." not in comma[2]:
            return f"{comma[1]}.{comma[2]}"
    return text


def _scalars(annotation: Any) -> set[Any]:
    bare, _ = metadata(annotation)
    members = typing.get_args(bare)
    if isinstance(bare, type) and not members:
        return {bare}
    if typing.get_origin(bare) is Literal:
        return {str}
    return {scalar for member in members for scalar in _scalars(member)}
