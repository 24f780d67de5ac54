"""Which field of a wire struct is which kind of quantity, read from its annotations once for each struct."""

from __future__ import annotations

import functools
import types
import typing
from dataclasses import dataclass

from msgspec import Meta, Struct, inspect


@dataclass(frozen=True, slots=True)
class Slot:
    """What a place of a wire struct takes.

    Attributes:
        annotation: the annotation as written.
        kind: the kind of quantity, or None.
        structs: the structs that may stand here.
        item: what the items of a list or the values of a table take.
        nullable: whether null may stand here.
        required: whether the field must be given.
    """

    annotation: object
    kind: str | None = None
    structs: tuple[type[Struct], ...] = ()
    item: Slot | None = None
    nullable: bool = False
    required: bool = False

    def struct_of(self, value: object) -> type[Struct] | None:
        """Return which of the structs a struct or a table is, by its type or its tag."""
        if isinstance(value, Struct):
            return type(value)
        if not isinstance(value, typing.Mapping):
            return None
        for struct in self.structs:
            config = struct.__struct_config__
            if config.tag_field is None or value.get(config.tag_field) == config.tag:
                return struct
        return None


@functools.cache
def slots_of(struct: type[Struct]) -> dict[str, Slot]:
    """Return wire name -> slot of a struct's fields."""
    hints = typing.get_type_hints(struct, include_extras=True)
    info = inspect.type_info(struct)
    fields = info.fields if isinstance(info, inspect.StructType) else ()
    return {field.encode_name: slot_of(hints[field.name], required=field.required) for field in fields}


def slot_of(annotation: object, *, required: bool = False) -> Slot:
    """Return what a place with this annotation takes."""
    kind, members = _members(annotation)
    structs: list[type[Struct]] = []
    item: Slot | None = None
    for member in members:
        origin = typing.get_origin(member)
        if isinstance(member, type) and origin is None and issubclass(member, Struct):
            structs.append(member)
        elif origin in (tuple, list):
            item = slot_of(typing.get_args(member)[0])
        elif origin is dict:
            item = slot_of(typing.get_args(member)[1])
    return Slot(annotation, kind, tuple(structs), item, type(None) in members, required)


def _members(annotation: object) -> tuple[str | None, list[object]]:
    """Return the kind of quantity and the bare members of a possibly annotated union."""
    if typing.get_origin(annotation) is typing.Annotated:
        inner, *notes = typing.get_args(annotation)
        kind, members = _members(inner)
        for note in notes:
            if isinstance(note, Meta) and note.extra:
                kind = note.extra.get("kind", kind)
        return kind, members
    if typing.get_origin(annotation) in (typing.Union, types.UnionType):
        parts = [_members(member) for member in typing.get_args(annotation)]
        kinds = [kind for kind, _ in parts if kind]
        return (kinds[0] if kinds else None), [member for _, members in parts for member in members]
    return None, [annotation]


def below(path: str, name: str) -> str:
    """Return the path of a field."""
    return f"{path}.{name}" if path else name
