"""Pint quantities in requests: found by the kind of their field and written as the wire has it. Pint is not loaded."""

from __future__ import annotations

import importlib
import math
import sys
from collections.abc import Mapping
from typing import TypeGuard

import msgspec
from msgspec import Struct

from airbough.units.kinds import (
    Slot,
    below,
    slot_of,
    slots_of,
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
    replaced = _Writing(found).value(request, slot_of(struct), "", None)
    if found:
        from airbough import documents

        raise documents.invalid(found)
    return replaced


class _Writing:
    """One walk through a request, gathering faults."""

    def __init__(self, found: list[Fault]) -> None:
        self.found = found

    def value(self, value: object, slot: Slot, path: str, preset: str | None) -> object:
        if is_quantity(value):
            return self.quantity(value, slot.kind, path, preset)
        struct = slot.struct_of(value)
        if struct is not None:
            return self.struct(value, struct, path, preset)
        if isinstance(value, list | tuple) and slot.item is not None:
            item_slot = slot.item
            items = [self.value(item, item_slot, f"{path}[{index}]", preset) for index, item in enumerate(value)]
            return value if all(map(_same, items, value)) else items
        if isinstance(value, dict) and slot.item is not None:
            item_slot = slot.item
            table = {name: self.value(item, item_slot, below(path, str(name)), preset) for name, item in value.items()}
            return value if all(map(_same, table.values(), value.values())) else table
        return value

    def struct(self, value: object, struct: type[Struct], path: str, preset: str | None) -> object:
        table = _table(value)
        own = table.get("units")
        preset = own if isinstance(own, str) and own in PRESET_UNITS else preset
        slots = slots_of(struct)
        changes: dict[str, object] = {}
        for name, item in table.items():
            slot = slots.get(name)
            if slot is None or item is None:
                continue
            new = self.value(item, slot, below(path, name), preset)
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


def not_finite(value: object, path: str = "") -> list[Fault]:
    """Return a fault for each number that is not finite; JSON would carry it as null, a value left out."""
    if isinstance(value, float):
        return [] if math.isfinite(value) else [Fault(path=path, code="not-finite", detail=f"{value} is no number")]
    if isinstance(value, dict):
        parts = [(below(path, str(name)), item) for name, item in value.items()]
    elif isinstance(value, list | tuple):
        parts = [(f"{path}[{index}]", item) for index, item in enumerate(value)]
    else:
        return []
    return [fault for place, item in parts for fault in not_finite(item, place)]
