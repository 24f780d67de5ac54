"""Pint quantities in requests: found by the kind of their field and written as the wire has it. Pint is not loaded."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Mapping
from typing import TypeGuard

import msgspec
from msgspec import Struct

from airbough import documents
from airbough.wire.places import (
    Place,
    below,
    place_of,
    places_of,
)
from airbough.wire.problem import Fault
from airbough.wire.quantity import PRESET_UNITS


def is_quantity(value: object) -> TypeGuard[object]:
    """Return whether a value is a pint quantity; without pint loaded none is."""
    pint = sys.modules.get("pint")
    return pint is not None and isinstance(value, pint.Quantity)


def written(request: object, struct: type[Struct]) -> object:
    """Return a request with its pint quantities as texts with a unit, or as bare numbers of the preset.

    Raises:
        InvalidRequest: where a quantity is of the wrong kind, or stands where none belongs.
    """
    if "pint" not in sys.modules:
        return request
    found: list[Fault] = []
    replaced = _Writing(found).value(request, place_of(struct), "", None)
    if found:
        raise documents.invalid(found)
    return replaced


class _Writing:
    """One walk through a request, gathering faults."""

    def __init__(self, found: list[Fault]) -> None:
        self.found = found

    def value(self, value: object, place: Place, path: str, preset: str | None) -> object:
        if is_quantity(value):
            return self.quantity(value, place.kind, path, preset)
        struct = place.struct_of(value)
        if struct is not None:
            return self.struct(value, struct, path, preset)
        if isinstance(value, list | tuple) and place.item is not None:
            each = place.item
            items = [self.value(item, each, f"{path}[{index}]", preset) for index, item in enumerate(value)]
            return value if all(map(_same, items, value)) else items
        if isinstance(value, dict) and place.item is not None:
            each = place.item
            table = {name: self.value(item, each, below(path, str(name)), preset) for name, item in value.items()}
            return value if all(map(_same, table.values(), value.values())) else table
        return value

    def struct(self, value: object, struct: type[Struct], path: str, preset: str | None) -> object:
        table = _table(value)
        own = table.get("units")
        preset = own if isinstance(own, str) and own in PRESET_UNITS else preset
        places = places_of(struct)
        changes: dict[str, object] = {}
        for name, item in table.items():
            place = places.get(name)
            if place is None or item is None:
                continue
            new = self.value(item, place, below(path, name), preset)
            if new is not item:
                changes[name] = new
        if not changes:
            return value
        if isinstance(value, Struct):
            return msgspec.structs.replace(value, **changes)
        return {**table, **changes}

    def quantity(self, value: object, kind: str | None, path: str, preset: str | None) -> object:
        if kind is None:
            self.found.append(Fault(path=path, code="wrong-type", detail="no quantity belongs here"))
            return value
        pint_units = importlib.import_module("airbough.units.pint_units")
        try:
            told: object = pint_units.written(value, kind, preset)
        except ValueError as error:
            self.found.append(Fault(path=path, code="wrong-kind", detail=str(error)))
            return value
        return told


def _same(new: object, old: object) -> bool:
    return new is old


def _table(value: object) -> dict[str, object]:
    if isinstance(value, Struct):
        info = msgspec.structs.fields(value)
        return {field.encode_name: getattr(value, field.name) for field in info}
    return {str(name): item for name, item in value.items()} if isinstance(value, Mapping) else {}
