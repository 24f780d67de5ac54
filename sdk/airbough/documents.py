"""Requests as plain documents: tables in memory, JSON, YAML or TOML files, and outlines as CSV."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Final, TypeVar

import msgspec
from msgspec import Struct

from airbough import errors
from airbough.reading import outline_table, tree_table
from airbough.reading import request as reading
from airbough.reading.request import Unreadable
from airbough.wire.operating_point import OperatingPointRequest
from airbough.wire.outline import OutlineRequest
from airbough.wire.places import (
    Place,
    place_of,
    places_of,
)
from airbough.wire.problem import Fault

Request = TypeVar("Request", bound=Struct)
_TABLES: Final = (".csv", ".tsv", ".txt")


def read(document: object, request: type[Request]) -> Request:
    """Return the request that a plain document says, each quantity within its printed range.

    Raises:
        InvalidRequest: with every fault of the document and its path, as the service would tell them.
    """
    try:
        return reading.read(document, request)
    except Unreadable as unreadable:
        raise errors.unreadable(unreadable) from None


def load(path: str | Path, request: type[Request]) -> Request:
    """Return the request in a file; by its ending TOML, YAML or JSON, or a table (`.csv`, `.tsv`, `.txt`).

    A table is of an outline, or of the runs of a tree.

    TOML has no null, so there a key that must be given and may be null may be left out: `into` of the last run.

    Raises:
        OSError: where the file cannot be read.
        InvalidRequest: with every fault of the document and its path.
    """
    document = plain(path, request)
    if Path(path).suffix.lower() == ".toml":
        document = _with_nulls(document, place_of(request))
    return read(document, request)


def plain(path: str | Path, request: type[Struct] = OperatingPointRequest) -> object:
    """Return the document in a file as it is written, not yet looked at; by its ending as `load`.

    Args:
        path: of the file.
        request: whose settings a table of runs may have.

    Raises:
        OSError: where the file cannot be read.
        InvalidRequest: where it is no such file.
        ImportError: for YAML without the extra `yaml`.
    """
    place = Path(path)
    content = place.read_bytes().removeprefix(b"\xef\xbb\xbf")
    try:
        if place.suffix.lower() == ".toml":
            return msgspec.toml.decode(content)
        if place.suffix.lower() in (".yaml", ".yml"):
            return _yaml(content.decode("utf-8"))
        if place.suffix.lower() in _TABLES:
            return _table(content.decode("utf-8"), request)
        return of_json(content)
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise invalid([Fault(path="", code="not-decodable", detail=f"{place.name}: {error}")]) from None


def of_json(content: bytes) -> object:
    """Return the document that JSON says.

    Raises:
        msgspec.DecodeError: where it is no JSON.
        UnicodeDecodeError: where it is not UTF-8.
        InvalidRequest: where an object names a key twice, as the service would refuse it.
    """
    document = msgspec.json.decode(content)
    json.loads(content.decode(), object_pairs_hook=_once, parse_int=str, parse_float=str, strict=False)
    return document


def _once(pairs: list[tuple[str, object]]) -> None:
    keys = {key for key, _ in pairs}
    for key, _ in pairs:
        if key not in keys:
            detail = f"the key `{key[:64]}` stands twice in one object"
            raise invalid([Fault(path="", code="duplicate-key", detail=detail)])
        keys.remove(key)


def read_outline(text: str) -> OutlineRequest:
    """Return the outline that a table says, as it is pasted from a sheet or stands in a CSV file.

    The template has its headings (`client.outline_template(units="us").csv`).

    Raises:
        InvalidRequest: with every fault of the table, else of the outline.
    """
    return read(_table(text, OutlineRequest), OutlineRequest)


def _table(text: str, request: type[Struct]) -> object:
    try:
        if request is not OutlineRequest and tree_table.is_tree(text):
            return tree_table.document(text, request)
        return outline_table.document(text)
    except Unreadable as unreadable:
        raise errors.unreadable(unreadable) from None


def _yaml(text: str) -> object:
    """Return what YAML 1.2 says: there `off` and `8:00` are texts, which an outline needs."""
    try:
        from ruamel.yaml import YAML
        from ruamel.yaml.error import YAMLError
    except ModuleNotFoundError:
        raise ImportError("reading YAML needs ruamel.yaml: pip install 'airbough[yaml]'") from None
    try:
        return YAML(typ="safe", pure=True).load(text)
    except YAMLError as error:
        raise msgspec.DecodeError(str(error)) from None


def invalid(found: list[Fault]) -> errors.Refused | errors.ServerFailed:
    """Return the exception for faults found before anything was sent."""
    return errors.unreadable(reading.unreadable(found))


def _with_nulls(value: object, place: Place) -> object:
    struct = place.struct_of(value)
    if struct is not None and isinstance(value, Mapping):
        places = places_of(struct)
        filled = {name: _with_nulls(item, places[name]) if name in places else item for name, item in value.items()}
        nulls = {name: None for name, inner in places.items() if inner.required and inner.nullable}
        return {**nulls, **filled}
    if place.item is not None and isinstance(value, list):
        inner = place.item
        return [_with_nulls(item, inner) for item in value]
    if place.item is not None and isinstance(value, dict):
        inner = place.item
        return {name: _with_nulls(item, inner) for name, item in value.items()}
    return value
