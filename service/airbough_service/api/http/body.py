"""One strict pass from the body's bytes to the request struct; everything slower waits for a failure."""

from __future__ import annotations

import json
from typing import Any, Final, NoReturn, TypeVar

import msgspec
from msgspec import Struct

from airbough.wire.problem import Fault
from airbough_service.api.http import faults
from airbough_service.api.http.problems import HttpRefusal
from airbough_service.terms.refusal import Refusal

AnyStruct = TypeVar("AnyStruct", bound=Struct)

_DEEPEST: Final = 64
"""No request nests half as deep; what does is hostile, and would exhaust the stack of what looks for its faults."""


class _DuplicateKeyError(Exception):
    pass


def check_headers(content_type: str, content_encoding: str, wanted: str = "application/json") -> None:
    """Take one media type and nothing else.

    Raises:
        HttpRefusal: `unsupported-media-type`.
    """
    bare, _, parameters = content_type.partition(";")
    charset = parameters.strip().lower().replace('"', "")
    if bare.strip().lower() != wanted or charset not in ("", "charset=utf-8"):
        raise HttpRefusal("unsupported-media-type", f"send `Content-Type: {wanted}`", headers={"Accept": wanted})
    if content_encoding.strip().lower() not in ("", "identity"):
        raise HttpRefusal(
            "unsupported-media-type",
            "send no `Content-Encoding`",
            headers={"Accept-Encoding": "identity"},
        )


def decode(body: bytes, wanted: type[AnyStruct], distinct: bool = False) -> AnyStruct:
    """Return the request that the body holds; `distinct`: its keys are already known to stand once each.

    Raises:
        HttpRefusal: `not-json` where the text is no JSON at all.
        Refusal: `against-schema`, with every fault.
    """
    text = _text(body)
    try:
        request = msgspec.json.decode(text, type=wanted, strict=True)
    except (msgspec.DecodeError, RecursionError):
        request = _decode_slowly(text, wanted)
    if not distinct:
        refuse_duplicate_keys(text)
    return request


def _text(body: bytes) -> str:
    if not body.strip():
        _not_json("empty-body", "the body is empty")
    try:
        return body.decode()
    except UnicodeDecodeError as error:
        _not_json("not-utf-8", f"byte {error.start} is not UTF-8")


def _not_json(code: str, detail: str) -> NoReturn:
    raise HttpRefusal("not-json", detail, [Fault(path="", code=code, detail=detail)])


def _decode_slowly(text: str, wanted: type[AnyStruct]) -> AnyStruct:
    """Return the request where only whole numbers were written as `22.0`, else refuse with every fault."""
    try:
        data = msgspec.json.decode(text)
    except RecursionError:
        _not_json("nested-too-deep", "the document is nested too deep")
    except msgspec.DecodeError as error:
        _not_json("malformed-json", str(error).partition(" - at ")[0])
    refuse_duplicate_keys(text)
    return convert(data, wanted)


def convert(data: Any, wanted: type[AnyStruct]) -> AnyStruct:
    """Return decoded JSON as the request; a whole number may be written as `22.0`, as JSON Schema has it.

    Raises:
        Refusal: `against-schema`, with every fault.
    """
    data = _whole_numbers(data)
    try:
        return msgspec.convert(data, wanted, strict=True)
    except msgspec.ValidationError as error:
        found = faults.find(data, wanted) or [Fault(path="", code="against-schema", detail=str(error))]
        raise Refusal("against-schema", found) from None


def _whole_numbers(data: Any, depth: int = 0) -> Any:
    if depth > _DEEPEST:
        _not_json("nested-too-deep", f"the document is nested more than {_DEEPEST} deep")
    if isinstance(data, float) and data.is_integer() and abs(data) < 2**53:
        return int(data)
    if isinstance(data, dict):
        return {key: _whole_numbers(item, depth + 1) for key, item in data.items()}
    if isinstance(data, list):
        return [_whole_numbers(item, depth + 1) for item in data]
    return data


def refuse_duplicate_keys(text: str) -> None:
    """Refuse an object that names a key twice: readers differ on which of the two counts.

    Raises:
        HttpRefusal: `not-json` with code `duplicate-key`.
    """
    try:
        json.loads(text, object_pairs_hook=_distinct)
    except _DuplicateKeyError as error:
        _not_json("duplicate-key", f"the key `{error}` stands twice in one object")
    except RecursionError:
        _not_json("nested-too-deep", "the document is nested too deep")
    except ValueError as error:
        _not_json("malformed-json", str(error))


def _distinct(pairs: list[tuple[str, Any]]) -> None:
    seen: set[str] = set()
    for key, _ in pairs:
        if key in seen:
            raise _DuplicateKeyError(key[:64])
        seen.add(key)
