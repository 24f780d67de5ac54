"""Converting wire structs: for each struct type one plain function, written and compiled when it is first met."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from operator import is_
from threading import RLock
from typing import Any, TypeAlias

from msgspec import Struct, structs

from airbough.wire.places import (
    Place,
    places_of,
)

Convert: TypeAlias = Callable[[Any, Any], Any]
"""Takes a value that is not null and the walk's context, returns what stands in its place."""


class Converters:
    """The converters of one way of converting; a subclass says what is done with a value.

    A converter stops at the first value that it does not take, by the exception that `quantity` or `number` raise: what
    all is wrong with a document is told elsewhere, and slowly.
    """

    def __init__(self) -> None:
        self._made: dict[type[Struct], Convert | None] = {}
        self._begun: set[type[Struct]] = set()  # by the one thread that holds the lock
        self._lock = RLock()

    def struct(self, value: Any, context: Any) -> Any:
        """Return the struct with each field converted, itself where it holds nothing to convert."""
        convert = self.of(type(value))
        return value if convert is None else convert(value, context)

    def of(self, struct: type[Struct]) -> Convert | None:
        """Return the converter of a struct type; None where it holds nothing to convert."""
        if struct not in self._made:
            with self._lock:
                if struct in self._begun:  # it holds its own kind
                    return self.struct
                if struct not in self._made:
                    self._begun.add(struct)
                    self._made[struct] = self._compiled(struct)
                    self._begun.remove(struct)
        return self._made[struct]

    def quantity(self, extra: Mapping[str, Any]) -> Convert:
        """Return the conversion of a quantity of this `extra`."""
        raise NotImplementedError

    def quickly(self, place: Place) -> tuple[str, str] | None:
        """Return a condition on a float `x` and what then stands in its place, both as text of Python.

        The text may name `context` and what `begin` does. What the condition leaves goes to `quantity`, or to `number`
        where the place has no kind; None: all does.
        """
        return None

    keeps: bool = False
    """Whether a struct, list or table in which nothing changes stays itself: worth a look where much stays."""

    number: Convert | None = None
    """What is done with a float that has no kind; None leaves it."""

    numbers: Convert | None = None
    """What is done with a table of floats that have no kind, where it is not one by one."""

    anything: Convert | None = None
    """What is done with data of no declared type; None leaves it."""

    def begin(self, struct: type[Struct], names: dict[str, Any]) -> list[str]:
        """Return the first lines of a struct's converter of `value` in `context`; `names`: what its lines may name."""
        return []

    def end(self, struct: type[Struct], names: dict[str, Any]) -> list[str]:
        """Return the lines before a struct's converter returns."""
        return []

    def _compiled(self, struct: type[Struct]) -> Convert | None:
        """Write the converter of a struct type and compile it."""
        names: dict[str, Any] = {"replace": structs.replace}
        lines, fields = [], []
        for number, (name, place) in enumerate(places_of(struct).items()):
            convert = self.conversion(place)
            if convert is None:
                continue
            fields.append(name)
            names[f"convert_{number}"] = convert
            lines += [
                f"x = was_{number} = value.{name}",
                *self._field(place, f"convert_{number}"),
                f"field_{number} = x",
            ]
        before, after = self.begin(struct, names), self.end(struct, names)
        if not fields and not after:
            return None
        numbers = [number for number, name in enumerate(places_of(struct)) if name in fields]
        given = ", ".join(f"{name}=field_{number}" for name, number in zip(fields, numbers, strict=True))
        alike = " and ".join(f"field_{number} is was_{number}" for number in numbers)
        kept = f"value if {alike} else " if self.keeps else ""
        told = f"return {kept}replace(value, {given})" if fields else "return value"
        body = "\n    ".join([*before, *lines, *after, told])
        exec(compile(f"def convert(value, context):\n    {body}\n", f"<{struct.__name__}>", "exec"), names)
        made: Convert = names["convert"]
        return made

    def scalars(self, place: Place, container: type) -> Convert | None:
        """Return the conversion of a list of quantities, where it is faster than one by one; else None."""
        return None

    def _field(self, place: Place, convert: str) -> list[str]:
        """Return the lines that convert the field `x`; a float is not worth a call."""
        rows_alone = place.container is not None and not (place.structs or place.scalars)
        there = "x" if rows_alone and not self.keeps else "x is not None"  # most lists are empty
        slowly = [f"if {there}: x = {convert}(x, context)"]
        if place.structs or place.container or not (place.kind or float in place.scalars):
            return slowly
        quickly = self.quickly(place)
        if quickly is None:
            return slowly
        condition, result = quickly
        return [f"if type(x) is float and {condition}: x = {result}", f"el{slowly[0]}"]

    def conversion(self, place: Place) -> Convert | None:
        """Return the conversion for what is not null here, or None where there is nothing to do."""
        if Any in place.scalars:
            return self.anything
        by_type: dict[type, Convert] = {}
        for struct in place.structs:
            convert = self.of(struct)
            if convert is not None:
                by_type[struct] = convert
        scalar = self.quantity(place.extra) if place.kind is not None else self.number
        if scalar is not None and (place.kind is not None or float in place.scalars):
            by_type |= dict.fromkeys((float, int, str) if place.kind is not None else (float,), scalar)
        item = None if place.item is None else self.conversion(place.item)
        if item is not None and place.container is not None and place.item is not None:
            each = _unless_null(item) if place.item.nullable else item
            many = _mapping(each) if place.container is dict else self.scalars(place.item, place.container)
            many = _sequence(each, place.container) if many is None else many
            by_type[place.container] = _kept(many) if self.keeps else many
            if place.container is dict and item is self.number and self.numbers is not None:
                by_type[dict] = self.numbers
        if not by_type:
            return None
        first, *others = {id(convert): convert for convert in by_type.values()}.values()
        may_stand = len(place.structs) + (place.container is not None)
        alone = not others and (place.kind is not None or len(by_type) == may_stand + len(place.scalars))
        return first if alone else _by_type(by_type)


def _unless_null(item: Convert) -> Convert:
    return lambda value, context: None if value is None else item(value, context)


def _by_type(by_type: dict[type, Convert]) -> Convert:
    def convert(value: Any, context: Any) -> Any:
        found = by_type.get(type(value)) or (by_type.get(float) if isinstance(value, float) else None)
        return value if found is None else found(value, context)

    return convert


def _sequence(item: Convert, container: type) -> Convert:
    def convert(values: Any, context: Any) -> Any:
        return container([item(value, context) for value in values]) if values else values

    return convert


def _mapping(item: Convert) -> Convert:
    def convert(values: Any, context: Any) -> Any:
        return {key: item(value, context) for key, value in values.items()}

    return convert


def _kept(many: Convert) -> Convert:
    """Return a converter that returns the list or table itself where all in it stays."""

    def convert(values: Any, context: Any) -> Any:
        made = many(values, context)
        if type(made) is not type(values):
            return made
        pairs = (made.values(), values.values()) if type(made) is dict else (made, values)
        return values if all(map(is_, *pairs)) else made

    return convert
