"""From plain data to the request that it says, or every reason why it says none."""

from __future__ import annotations

from typing import Any, Final, Literal, TypeAlias, TypeVar

import msgspec
from msgspec import Struct

from airbough.reading import (
    faults,
    in_si,
)
from airbough.reading.wrong import Wrong
from airbough.wire.known import known
from airbough.wire.problem import Fault

AnyStruct = TypeVar("AnyStruct", bound=Struct)
Kind: TypeAlias = Literal["not-json", "against-schema", "out-of-range"]

DEEPEST: Final = 64
"""No request nests half as deep; what does is hostile, and would exhaust the stack of what looks for its faults."""


class Unreadable(Exception):
    """Data that is no request.

    Attributes:
        kind: which type of problem it is.
        faults: everything that is wrong.
    """

    def __init__(self, kind: Kind, found: list[Fault]) -> None:
        super().__init__("; ".join(f"{fault.path}: {fault.detail}" for fault in found))
        self.kind: Kind = kind
        self.faults = found


def unreadable(found: list[Fault]) -> Unreadable:
    """Return the exception for faults against the schema; `out-of-range` where that is all that is wrong."""
    ranges_only = bool(found) and all(fault.code == "out-of-range" for fault in found)
    return Unreadable("out-of-range" if ranges_only else "against-schema", found)


def repeated_id(name: str) -> Unreadable:
    """Return the exception for a line of a batch whose id stood before."""
    detail = "this id stood in a line before; an answer could not be told from that line's"
    return unreadable([Fault(path="id", code="duplicate-id", detail=detail, id=name[:64])])


def converted(data: Any, wanted: type[AnyStruct]) -> AnyStruct:
    """Return plain data as a request whose quantities are not looked at yet.

    A whole number may be written as `22.0`, as JSON Schema has it.

    Raises:
        Unreadable: with every fault.
    """
    try:
        request = msgspec.convert(data, known(wanted), strict=True)
        if faults.all_finite(data):
            return request
    except (msgspec.ValidationError, RecursionError):
        pass
    data = whole_numbers(data)
    found = faults.find(data, wanted) or faults.not_finite(data)
    if found:
        raise unreadable(found)
    try:
        return msgspec.convert(data, known(wanted), strict=True)
    except msgspec.ValidationError as error:
        raise unreadable([Fault(path="", code="against-schema", detail=str(error))]) from None


def read(data: Any, wanted: type[AnyStruct]) -> AnyStruct:
    """Return the request that plain data says, its quantities still as written and each within its range.

    Raises:
        Unreadable: with every fault.
    """
    request = converted(data, wanted)
    to_si(request)
    return request


def to_si(request: AnyStruct) -> AnyStruct:
    """Return the request with every quantity as an SI float; bare numbers are in the preset `request.units`.

    Raises:
        Unreadable: with every fault.
    """
    try:
        return in_si.to_si(request)
    except Wrong as wrong:
        plain = whole_numbers(msgspec.to_builtins(request))
        found = faults.find(plain, type(request))
        raise unreadable(
            found or [Fault(path=path, code=code, detail=told) for path, code, told in wrong.found]
        ) from None


def whole_numbers(data: Any, depth: int = 0) -> Any:
    """Return plain data with each whole number as an integer.

    Raises:
        Unreadable: `not-json` where the data nests too deep.
    """
    if depth > DEEPEST:
        detail = f"the document is nested more than {DEEPEST} deep"
        raise Unreadable("not-json", [Fault(path="", code="nested-too-deep", detail=detail)])
    if isinstance(data, float) and data.is_integer() and abs(data) < 2**53:
        return int(data)
    if isinstance(data, dict):
        return {key: whole_numbers(item, depth + 1) for key, item in data.items()}
    if isinstance(data, list | tuple):
        return [whole_numbers(item, depth + 1) for item in data]
    return data
