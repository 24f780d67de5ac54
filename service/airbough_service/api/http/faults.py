"""All faults of a document against a wire type at once, each with its path; only walked once decoding has failed."""

from __future__ import annotations

import difflib
import math
import re
import types
import typing
from functools import cache
from typing import Any, Final

import msgspec

from airbough.wire.problem import Fault
from airbough.wire.quantity import (
    PRESET_UNITS,
    RANGES,
)
from airbough_service.terms import units
from airbough_service.terms.walk import (
    Wrong,
    hints_of,
    join,
    metadata,
)

MOST: Final = 100
"""Faults told at most; a thousand rows with the same slip need not be told a thousand times."""

_SUFFIX: Final = re.compile(r" - at `.*`$", re.DOTALL)
_CODES: Final = (
    ("out of range", "number-too-big"),
    ("Expected `str` matching", "pattern"),
    ("of length", "length"),
    ("Invalid enum value", "unknown-word"),
    (" >= ", "too-small"),
    (" <= ", "too-big"),
    (" > ", "too-small"),
    (" < ", "too-big"),
)


class Found(list[tuple[str, str, str]]):
    """What is wrong so far, and the preset in which bare numbers are read, where the document names one."""

    preset: str | None = None


def find(data: Any, annotation: Any) -> list[Fault]:
    """Return what is wrong with decoded JSON `data` against the annotation, at most `MOST` faults."""
    found = Found()
    preset = data.get("units") if isinstance(data, dict) else None
    found.preset = preset if isinstance(preset, str) and preset in PRESET_UNITS else None
    _look(data, annotation, "", found)
    return [Fault(path=path, code=code, detail=detail) for path, code, detail in found[:MOST]]


def _look(data: Any, annotation: Any, path: str, found: Found) -> None:
    if len(found) >= MOST:
        return
    bare, extra = metadata(annotation)
    if "kind" in extra:
        _look_at_quantity(data, annotation, extra, path, found)
        return
    members = _members(bare)
    if data is None and type(None) in members:
        return
    members = tuple(member for member in members if member is not type(None))
    structs = [member for member in members if _is_struct(metadata(member)[0])]
    if len(structs) == 1 and isinstance(data, dict):
        _look_at_struct(data, metadata(structs[0])[0], path, found)
    elif structs and isinstance(data, dict):
        _look_at_union(data, structs, path, found)
    elif len(members) == 1 and members[0] is not bare:
        _look(data, members[0], path, found)
    elif typing.get_origin(bare) in (tuple, list) and isinstance(data, list):
        _look_at_list(data, annotation, bare, path, found)
    else:
        _look_at_value(data, annotation, path, found)


def _members(bare: Any) -> tuple[Any, ...]:
    return typing.get_args(bare) if typing.get_origin(bare) in (typing.Union, types.UnionType) else (bare,)


def _is_struct(bare: Any) -> bool:
    return isinstance(bare, type) and issubclass(bare, msgspec.Struct)


def _look_at_struct(data: dict[str, Any], struct: Any, path: str, found: Found) -> None:
    info = struct.__struct_config__
    hints = hints_of(struct)
    known = set(hints) | ({info.tag_field} if info.tag_field else set())
    for name in data:
        if name not in known and info.forbid_unknown_fields:
            found.append((_below(path, name[:64]), "unknown-field", _unknown(name, known)))
    required = _required(struct)
    for name, hint in hints.items():
        if name in data:
            _look(data[name], hint, _below(path, name), found)
        elif name in required:
            found.append((_below(path, name), "missing-field", "this field is needed"))


@cache
def _required(struct: type[msgspec.Struct]) -> frozenset[str]:
    return frozenset(field.encode_name for field in msgspec.structs.fields(struct) if field.required)


def _below(path: str, step: str) -> str:
    return join(path, step) if path else step


def _unknown(name: str, known: set[str]) -> str:
    near = difflib.get_close_matches(name[:64], sorted(known), n=1)
    return (
        f"no such field; did you mean `{near[0]}`?" if near else f"no such field; known are {', '.join(sorted(known))}"
    )


def _look_at_union(data: dict[str, Any], structs: list[Any], path: str, found: Found) -> None:
    by_tag = {metadata(struct)[0].__struct_config__.tag: metadata(struct)[0] for struct in structs}
    field = next(iter(by_tag.values())).__struct_config__.tag_field
    if field not in data:
        found.append((_below(path, field), "missing-field", f"one of {', '.join(map(str, by_tag))}"))
    elif not isinstance(data[field], str) or data[field] not in by_tag:
        found.append((_below(path, field), "unknown-type", f"must be one of {', '.join(map(str, by_tag))}"))
    else:
        _look_at_struct(data, by_tag[data[field]], path, found)


def _look_at_list(data: list[Any], annotation: Any, bare: Any, path: str, found: Found) -> None:
    item = typing.get_args(bare)[0]
    before = len(found)
    for index, value in enumerate(data):
        _look(value, item, f"{path}[{index}]", found)
    if len(found) == before:
        _look_at_value(data, annotation, path, found)


def _look_at_quantity(data: Any, annotation: Any, extra: dict[str, Any], path: str, found: Found) -> None:
    kind: str = extra["kind"]
    if isinstance(data, str):
        try:
            si = units.parse(data, kind)
        except Wrong as wrong:
            found.extend((path, code, detail) for _, code, detail in wrong.places)
            return
    elif isinstance(data, int | float) and not isinstance(data, bool) and found.preset is not None:
        number = float(data) if abs(data) < 10**300 else math.inf  # JSON has integers that no float holds
        si = units.from_preset(kind, number, found.preset)
    else:
        _look_at_value(data, annotation, path, found)
        return
    low, high = extra.get("range", RANGES[kind])
    if found.preset is not None and not units.within(si, low, high):
        found.append((path, "out-of-range", f"must be {units.printed_range(kind, low, high, found.preset)}"))
        return
    _look_at_value(data, annotation, path, found)


def _look_at_value(data: Any, annotation: Any, path: str, found: Found) -> None:
    try:
        msgspec.convert(data, annotation, strict=True)
    except msgspec.ValidationError as error:
        detail = _SUFFIX.sub("", str(error)).replace("`", "")
        code = next((code for sign, code in _CODES if sign in detail), "wrong-type")
        found.append((path, code, detail))
