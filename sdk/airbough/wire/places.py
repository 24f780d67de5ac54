"""What each place of a wire struct takes, read from its annotations once for each struct; every walk goes by this."""

from __future__ import annotations

import types
import typing
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from msgspec import Meta, Struct, convert, structs


@dataclass(frozen=True, slots=True)
class Place:
    """What a place takes.

    Attributes:
        annotation: the annotation as written.
        extra: merged `extra` of all `Meta` around it: a quantity's kind and range.
        structs: the structs that may stand here, told apart by their tag.
        scalars: the plain types that may stand here.
        words: the words that may stand here, where only some may.
        numbers: the whole numbers that may stand here, where only some may.
        item: what the items of a list or the values of a table take.
        container: `tuple`, `list` or `dict`, where there are items.
        nullable: whether null may stand here.
        required: whether the field must be given.
    """

    annotation: Any
    extra: Mapping[str, Any] = field(default_factory=dict)
    structs: tuple[type[Struct], ...] = ()
    scalars: frozenset[Any] = frozenset()
    words: tuple[str, ...] = ()
    item: Place | None = None
    container: type | None = None
    nullable: bool = False
    required: bool = False
    numbers: tuple[int, ...] = ()

    @property
    def kind(self) -> str | None:
        """The kind of quantity, or None."""
        return self.extra.get("kind")

    def struct_of(self, value: object) -> type[Struct] | None:
        """Return which of the structs a struct or a table is, by its type or its tag."""
        if isinstance(value, Struct):
            return type(value)
        if not isinstance(value, Mapping):
            return None
        for struct in self.structs:
            config = struct.__struct_config__
            if config.tag_field is None or value.get(config.tag_field) == config.tag:
                return struct
        return None


@cache
def places_of(struct: type[Struct]) -> dict[str, Place]:
    """Return the field's name on the wire -> its place."""
    hints = typing.get_type_hints(struct, include_extras=True)
    return {told.encode_name: place_of(hints[told.name], required=told.required) for told in structs.fields(struct)}


def place_of(annotation: Any, *, required: bool = False) -> Place:
    """Return what a place with this annotation takes."""
    extra, members = _members(annotation)
    held: list[type[Struct]] = []
    scalars: set[Any] = set()
    words: list[str] = []
    numbers: list[int] = []
    item: Place | None = None
    container: type | None = None
    for member in members:
        origin = typing.get_origin(member)
        if isinstance(member, type) and origin is None and issubclass(member, Struct):
            held.append(member)
        elif origin in (tuple, list, dict):
            container = origin
            item = place_of(typing.get_args(member)[1 if origin is dict else 0])
        elif origin is typing.Literal:
            scalars |= {type(word) for word in typing.get_args(member)}
            words += [word for word in typing.get_args(member) if isinstance(word, str)]
            numbers += [word for word in typing.get_args(member) if type(word) is int]
        elif member is not type(None):
            scalars.add(member)
    return Place(
        annotation,
        extra,
        tuple(held),
        frozenset(scalars),
        tuple(words),
        item,
        container,
        type(None) in members,
        required,
        tuple(numbers),
    )


def _members(annotation: Any) -> tuple[dict[str, Any], list[Any]]:
    """Return the merged `extra` and the bare members of a possibly annotated union."""
    if typing.get_origin(annotation) is typing.Annotated:
        inner, *notes = typing.get_args(annotation)
        extra, members = _members(inner)
        for note in notes:
            if isinstance(note, Meta) and note.extra:
                extra |= note.extra
        return extra, members
    if typing.get_origin(annotation) in (typing.Union, types.UnionType):
        parts = [_members(member) for member in typing.get_args(annotation)]
        merged = {name: item for extra, _ in parts for name, item in extra.items()}
        return merged, [member for _, members in parts for member in members]
    return {}, [annotation]


def metas_of(annotation: Any) -> list[Meta]:
    """Return the metadata around an annotation and around each member of its union."""
    if typing.get_origin(annotation) is typing.Annotated:
        inner, *notes = typing.get_args(annotation)
        return [*metas_of(inner), *(note for note in notes if isinstance(note, Meta))]
    if typing.get_origin(annotation) in (typing.Union, types.UnionType):
        return [meta for member in typing.get_args(annotation) for meta in metas_of(member)]
    return []


def part(struct: type[Struct], name: str, value: object) -> Any:
    """Return the value of a field, tables in it as the structs that stand there; one of no field as it is.

    Raises:
        ValidationError: of msgspec, where a table is no such struct.
    """
    place = places_of(struct).get(name)
    return value if place is None or not isinstance(value, dict | list | tuple) else convert(value, place.annotation)


def below(path: str, step: str) -> str:
    """Return the path one level down: `runs[3]` and `angle` make `runs[3].angle`."""
    return path + step if not path or step.startswith("[") or not step else f"{path}.{step}"
