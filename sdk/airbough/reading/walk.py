"""Walking a wire struct place by place, with a plan compiled once for each struct type."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeAlias

from msgspec import Struct, structs

from airbough.reading.wrong import (
    Found,
    Wrong,
)
from airbough.wire.places import (
    Place,
    places_of,
)

Convert: TypeAlias = Callable[[Any, Any], Any]
"""Takes a value and the walk's context, returns the value's replacement (the same object where nothing changes)."""


class Walker:
    """One way of walking: what to do with quantities, plain numbers and free-form data.

    Attributes:
        quantity: makes the conversion of a place whose `extra` names a kind.
        number: what is done with a float that has no kind; None leaves it.
        anything: what is done with data of no declared type; None leaves it.
    """

    def __init__(
        self,
        quantity: Callable[[Mapping[str, Any]], Convert],
        number: Convert | None = None,
        anything: Convert | None = None,
    ) -> None:
        self.quantity = quantity
        self.number = number
        self.anything = anything
        self._plans: dict[type, tuple[tuple[str, Convert], ...]] = {}

    def struct(self, value: Struct, context: Any) -> Struct:
        """Return the struct with each field converted, itself where nothing changed.

        Raises:
            Wrong: with everything found wrong in any field.
        """
        plan = self._plans.get(type(value))
        if plan is None:
            plan = self._plans[type(value)] = self._plan(type(value))
        changes: dict[str, Any] = {}
        found: list[Found] = []
        for name, convert in plan:
            old = getattr(value, name)
            if old is None:
                continue
            try:
                new = convert(old, context)
            except Wrong as wrong:
                found += wrong.under(name)
            else:
                if new is not old:
                    changes[name] = new
        if found:
            raise Wrong(found)
        return structs.replace(value, **changes) if changes else value

    def _plan(self, struct: type[Struct]) -> tuple[tuple[str, Convert], ...]:
        steps = ((name, self._conversion(place)) for name, place in places_of(struct).items())
        return tuple((name, convert) for name, convert in steps if convert is not None)

    def _conversion(self, place: Place) -> Convert | None:
        """Return the conversion for what is not None here, or None where there is nothing to do."""
        by_type: dict[type, Convert] = dict.fromkeys(place.structs, self.struct)
        scalar = self._of_scalars(place)
        if scalar is not None:
            by_type |= dict.fromkeys((float, int, str) if place.kind else (float,), scalar)
        item = None if place.item is None else self._conversion(place.item)
        if item is not None and place.container is not None and place.item is not None:
            each = _unless_null(item) if place.item.nullable else item
            by_type[place.container] = _mapping(each) if place.container is dict else _sequence(each, place.container)
        if Any in place.scalars:
            return self.anything
        if not by_type:
            return None
        first, *others = {id(convert): convert for convert in by_type.values()}.values()
        alone = not others and (place.kind is not None or place.scalars <= {float})
        return first if alone else _by_type(by_type)

    def _of_scalars(self, place: Place) -> Convert | None:
        if place.kind is not None:
            return self.quantity(place.extra)
        return self.number if float in place.scalars else None


def _unless_null(item: Convert) -> Convert:
    return lambda value, context: None if value is None else item(value, context)


def _by_type(by_type: dict[type, Convert]) -> Convert:
    def convert(value: Any, context: Any) -> Any:
        found = by_type.get(type(value)) or (by_type.get(float) if isinstance(value, float) else None)
        return value if found is None else found(value, context)

    return convert


def _sequence(item: Convert, container: type) -> Convert:
    def convert(values: Any, context: Any) -> Any:
        converted: list[Any] = []
        found: list[Found] = []
        for index, old in enumerate(values):
            try:
                converted.append(item(old, context))
            except Wrong as wrong:
                found += wrong.under(f"[{index}]")
        if found:
            raise Wrong(found)
        if all(new is old for new, old in zip(converted, values, strict=True)):
            return values
        return container(converted)

    return convert


def _mapping(item: Convert) -> Convert:
    def convert(values: Any, context: Any) -> Any:
        converted: dict[Any, Any] = {}
        found: list[Found] = []
        for key, old in values.items():
            try:
                converted[key] = item(old, context)
            except Wrong as wrong:
                found += wrong.under(str(key))
        if found:
            raise Wrong(found)
        return converted

    return convert
