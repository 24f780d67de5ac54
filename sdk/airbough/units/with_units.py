"""Answers whose numbers carry their units."""

from __future__ import annotations

import importlib
from types import SimpleNamespace
from typing import Any, cast

from msgspec import Struct

from airbough.wire.places import (
    Place,
    places_of,
)


class Measured(SimpleNamespace):
    """A struct of an answer, its quantities as pint quantities: `with_units(answer).system.flow.to("L/s")`."""

    def __getattr__(self, name: str) -> Any:  # the names are the answer's
        raise AttributeError(f"the answer has no {name}")


def with_units(answer: Struct) -> Measured:
    """Return a mirror of an answer in which every quantity is a pint quantity in the answer's own units.

    Raises:
        ImportError: where pint is not installed.
    """
    return _struct(answer, {})


def _struct(struct: Struct, units: dict[str, str]) -> Measured:
    own = getattr(struct, "units", None)
    units = own if isinstance(own, dict) else units
    named = getattr(struct, "unit", None)
    places = places_of(type(struct))
    told: dict[str, object] = {}
    for name, place in places.items():
        value = getattr(struct, name)
        if isinstance(named, str) and name in ("value", "limit") and isinstance(value, float):
            told[name] = _quantity(value, named)
        else:
            told[name] = _value(value, place, units)
    return Measured(**told)


def _value(value: object, place: Place, units: dict[str, str]) -> object:
    if isinstance(value, Struct):
        return _struct(value, units)
    if isinstance(value, tuple | list) and place.item is not None:
        each = place.item
        return tuple(_value(item, each, units) for item in value)
    if isinstance(value, dict) and place.item is not None:
        each = place.item
        return {key: _value(item, each, units) for key, item in value.items()}
    if place.kind and isinstance(value, float | int):
        return _quantity(float(value), units.get(place.kind, ""))
    return value


def _quantity(value: float, unit: str) -> object:
    return cast(object, importlib.import_module("airbough.units.pint_units").quantity(value, unit))
