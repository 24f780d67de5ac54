"""Walking a wire struct by its annotations, with a plan compiled once for each struct type."""

from __future__ import annotations

import types
import typing
from collections.abc import Callable
from functools import cache
from typing import Any, TypeAlias

from msgspec import Meta, Struct, structs

Convert: TypeAlias = Callable[[Any, Any], Any]
"""Takes a value and the walk's context, returns the value's replacement (the same object where nothing changes)."""

Place: TypeAlias = tuple[str, str, str]
"""Path, code and detail of something wrong."""


class Wrong(Exception):
    """What was found wrong below this point; each level of the walk puts its own step before the paths."""

    def __init__(self, places: list[Place]) -> None:
        super().__init__("; ".join(f"{path}: {detail}" for path, _, detail in places))
        self.places = places

    def below(self, step: str) -> list[Place]:
        """Return the places as seen from one level up."""
        return [(join(step, path), code, detail) for path, code, detail in self.places]


def join(step: str, path: str) -> str:
    """Return the path one level up: `runs[3]` and `angle` make `runs[3].angle`."""
    return step + path if not path or path.startswith("[") else f"{step}.{path}"


def metadata(annotation: Any) -> tuple[Any, dict[str, Any]]:
    """Return the bare type and the merged `extra` of all `Meta` around it."""
    extra: dict[str, Any] = {}
    while typing.get_origin(annotation) is typing.Annotated:
        for item in annotation.__metadata__:
            if isinstance(item, Meta) and item.extra:
                extra.update(item.extra)
        annotation = annotation.__origin__
    return annotation, extra


@cache
def hints_of(struct: type) -> dict[str, Any]:
    """Return a struct's annotations by field, with their metadata."""
    return typing.get_type_hints(struct, include_extras=True)


class Walker:
    """One way of walking: what to do with quantities, plain numbers and free-form data.

    Attributes:
        quantity: makes the conversion of a field whose `Meta.extra` names a kind.
        number: what is done with a float that has no kind; None leaves it.
        anything: what is done with data of no declared type; None leaves it.
        entering: gives the context inside a struct; None keeps it.
    """

    def __init__(
        self,
        quantity: Callable[[dict[str, Any]], Convert],
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
        places: list[Place] = []
        for name, convert in plan:
            old = getattr(value, name)
            if old is None:
                continue
            try:
                new = convert(old, context)
            except Wrong as wrong:
                places += wrong.below(name)
            else:
                if new is not old:
                    changes[name] = new
        if places:
            raise Wrong(places)
        return structs.replace(value, **changes) if changes else value

    def _plan(self, struct: type) -> tuple[tuple[str, Convert], ...]:
        hints = hints_of(struct)
        steps = ((name, self.conversion(hints[name])) for name in struct.__struct_fields__)  # type: ignore[attr-defined]
        return tuple((name, convert) for name, convert in steps if convert is not None)

    def conversion(self, annotation: Any) -> Convert | None:
        """Return the conversion for values of this annotation, or None where there is nothing to do."""
        bare, extra = metadata(annotation)
        if "kind" in extra:
            return self.quantity(extra)
        if bare is Any:
            return self.anything
        if bare is float:
            return self.number
        if isinstance(bare, type) and issubclass(bare, Struct):
            return self.struct
        origin, arguments = typing.get_origin(bare), typing.get_args(bare)
        if origin in (typing.Union, types.UnionType):
            return self._union(arguments)
        if origin in (tuple, list):
            item = self.conversion(arguments[0])
            return None if item is None else _sequence(item, origin)
        if origin is dict:
            item = self.conversion(arguments[1])
            return None if item is None else _mapping(item)
        return None

    def _union(self, members: tuple[Any, ...]) -> Convert | None:
        by_type: dict[type, Convert] = {}
        for member in members:
            convert = self.conversion(member)
            if convert is not None:
                by_type.update((kind, convert) for kind in _runtime_types(member))
        if not by_type:
            return None
        if len(set(map(id, by_type.values()))) == 1 and all(map(_may_be_quantity, members)):
            return next(iter(by_type.values()))

        def convert_union(value: Any, context: Any) -> Any:
            convert = by_type.get(type(value)) or (by_type.get(float) if isinstance(value, float) else None)
            return value if convert is None else convert(value, context)

        return convert_union


def _may_be_quantity(member: Any) -> bool:
    return member is type(None) or "kind" in metadata(member)[1]


def _runtime_types(annotation: Any) -> tuple[type, ...]:
    bare, extra = metadata(annotation)
    if "kind" in extra:
        return (float, int, str)
    if typing.get_origin(bare) in (typing.Union, types.UnionType):
        return tuple(kind for member in typing.get_args(bare) for kind in _runtime_types(member))
    origin = typing.get_origin(bare) or bare
    return (origin,) if isinstance(origin, type) else ()


def _sequence(item: Convert, container: type) -> Convert:
    def convert_sequence(values: Any, context: Any) -> Any:
        converted: list[Any] = []
        places: list[Place] = []
        for index, old in enumerate(values):
            try:
                converted.append(item(old, context))
            except Wrong as wrong:
                places += wrong.below(f"[{index}]")
        if places:
            raise Wrong(places)
        if all(new is old for new, old in zip(converted, values, strict=True)):
            return values
        return container(converted)

    return convert_sequence


def _mapping(item: Convert) -> Convert:
    def convert_mapping(values: Any, context: Any) -> Any:
        converted: dict[Any, Any] = {}
        places: list[Place] = []
        for key, old in values.items():
            try:
                converted[key] = item(old, context)
            except Wrong as wrong:
                places += wrong.below(str(key))
        if places:
            raise Wrong(places)
        return converted

    return convert_mapping
