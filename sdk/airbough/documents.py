"""Requests as plain documents: tables in memory, JSON or TOML files."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Final, TypeVar

import msgspec
from msgspec import Struct

from airbough import errors
from airbough.units.kinds import (
    Slot,
    below,
    slot_of,
    slots_of,
)
from airbough.wire.problem import Fault
from airbough.wire.quantity import SPELLINGS

Request = TypeVar("Request", bound=Struct)

_STANDARD_FLOWS: Final = frozenset({"scfm", "sl/s", "slpm", "nm3/h", "nm^3/h"})
_PLACE: Final = re.compile(r"(?P<detail>.*) - at `\$(?:\.|(?=\[)|(?=`))(?P<path>.*)`", re.DOTALL)


def read(document: object, request: type[Request]) -> Request:
    """Return the request that a plain document says.

    Raises:
        InvalidRequest: with every fault of the document and its path.
    """
    try:
        return msgspec.convert(document, request, strict=True)
    except msgspec.ValidationError:
        raise invalid(faults(document, slot_of(request))) from None


def load(path: str | Path, request: type[Request]) -> Request:
    """Return the request in a file: TOML where the name ends in `.toml`, else JSON.

    TOML has no null, so there a key that must be given and may be null may be left out: `into` of the last run.

    Raises:
        OSError: where the file cannot be read.
        InvalidRequest: with every fault of the document and its path.
    """
    place = Path(path)
    content = place.read_bytes()
    try:
        if place.suffix.lower() == ".toml":
            return read(_with_nulls(msgspec.toml.decode(content), slot_of(request)), request)
        return read(msgspec.json.decode(content), request)
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise invalid([Fault(path="", code="not-decodable", detail=f"{place.name}: {error}")]) from None


def invalid(found: list[Fault]) -> errors.Refused | errors.ServerFailed:
    """Return the exception for faults found before anything was sent."""
    return errors.refused("against-schema", "The request does not fit the schema", 400, tuple(found))


def faults(value: object, slot: Slot, path: str = "") -> list[Fault]:
    """Return every fault of a plain value against its place, each with its path."""
    try:
        msgspec.convert(value, slot.annotation, strict=True)
    except msgspec.ValidationError as error:
        if slot.kind is not None and isinstance(value, str):
            return [Fault(path=path, code="invalid", detail=_no_quantity(value, slot.kind))]
        return _deeper(value, slot, path) or [_fault(str(error), path)]
    return []


def _no_quantity(text: str, kind: str) -> str:
    """Return why a text is no quantity of this kind."""
    spellings = ", ".join(SPELLINGS[kind])
    unit = text.lstrip("-0123456789./ ")
    if kind == "flow" and unit.lower() in _STANDARD_FLOWS:
        return f"flows are actual volumes at the duct's own density, not at standard conditions; use one of {spellings}"
    other = next((other for other, units in SPELLINGS.items() if unit in units), kind)
    if other != kind and unit not in SPELLINGS[kind]:
        return f"{unit} is a unit of {other}; {kind} takes {spellings}"
    return f"a number, or a number and a fraction, then a unit: {spellings}"


def _deeper(value: object, slot: Slot, path: str) -> list[Fault]:
    struct = slot.struct_of(value)
    if struct is not None and isinstance(value, Mapping):
        return _of_table(value, struct, path)
    if slot.item is not None and isinstance(value, list | tuple):
        return [fault for index, item in enumerate(value) for fault in faults(item, slot.item, f"{path}[{index}]")]
    if slot.item is not None and isinstance(value, Mapping):
        return [fault for name, item in value.items() for fault in faults(item, slot.item, below(path, str(name)))]
    return []


def _of_table(table: Mapping[str, object], struct: type[Struct], path: str) -> list[Fault]:
    slots = slots_of(struct)
    config = struct.__struct_config__
    known = {*slots, config.tag_field} if config.tag_field else set(slots)
    found: list[Fault] = []
    for name in table:
        if name not in known and config.forbid_unknown_fields:
            found.append(Fault(path=below(path, str(name)), code="unknown-field", detail="no such field"))
    for name, slot in slots.items():
        if name in table:
            found += faults(table[name], slot, below(path, name))
        elif slot.required:
            found.append(Fault(path=below(path, name), code="missing-field", detail="must be given"))
    return found


def _fault(message: str, path: str) -> Fault:
    placed = _PLACE.fullmatch(message)
    if placed is None:
        return Fault(path=path, code="invalid", detail=message)
    inner = placed["path"]
    joined = path + inner if inner.startswith("[") or not path or not inner else f"{path}.{inner}"
    return Fault(path=joined, code="invalid", detail=placed["detail"])


def _with_nulls(value: object, slot: Slot) -> object:
    struct = slot.struct_of(value)
    if struct is not None and isinstance(value, Mapping):
        slots = slots_of(struct)
        filled = {name: _with_nulls(item, slots[name]) if name in slots else item for name, item in value.items()}
        nulls = {name: None for name, inner in slots.items() if inner.required and inner.nullable}
        return {**nulls, **filled}
    if slot.item is not None and isinstance(value, list):
        inner_slot = slot.item
        return [_with_nulls(item, inner_slot) for item in value]
    if slot.item is not None and isinstance(value, dict):
        inner_slot = slot.item
        return {name: _with_nulls(item, inner_slot) for name, item in value.items()}
    return value
