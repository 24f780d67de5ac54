"""One strict pass from the body's bytes to the request struct; everything slower waits for a failure."""

from __future__ import annotations

import json
from codecs import BOM_UTF8
from email.message import Message
from typing import Any, Final, NoReturn, TypeVar

import msgspec
from msgspec import Struct

from airbough.reading import outline_table
from airbough.reading import request as reading
from airbough.reading.faults import not_finite
from airbough.reading.request import Unreadable
from airbough.wire.known import known
from airbough.wire.outline import OutlineRequest
from airbough.wire.problem import Fault
from airbough.wire.quote import QuoteRequest
from airbough_service.api.http import sheet
from airbough_service.api.problems import HttpRefusal
from airbough_service.combined.quotes.digest import keep_sent
from airbough_service.core.distinct_keys import surely_distinct
from airbough_service.terms.refusal import (
    Refusal,
    refusal,
)

AnyStruct = TypeVar("AnyStruct", bound=Struct)


JSON: Final = "application/json"
TABLE: Final = "text/csv"
"""What the body of an outline, and of some questions about trees, may be too."""


class _WithStock(Struct):
    stock: msgspec.Raw


class _DuplicateKeyError(Exception):
    pass


def media_types(wanted: type[Struct]) -> tuple[str, ...]:
    """Return what the body of a request may be, the usual first."""
    return (JSON, TABLE) if wanted is OutlineRequest or wanted in sheet.TREES else (JSON,)


def check_headers(content_type: str, content_encoding: str, *wanted: str) -> str:
    """Return which of the media types wanted it is, in UTF-8 and not compressed; other parameters are not looked at.

    Raises:
        HttpRefusal: `unsupported-media-type`.
    """
    if (content_type, content_encoding) == (JSON, "") and JSON in wanted:
        return JSON
    header = Message()
    header["Content-Type"] = content_type
    if header.get_content_type() not in wanted or header.get_content_charset("utf-8") not in ("utf-8", "utf8"):
        detail = f"send `Content-Type: {' or '.join(wanted)}`"
        raise HttpRefusal("unsupported-media-type", detail, headers={"Accept": ", ".join(wanted)})
    if content_encoding.strip().lower() not in ("", "identity"):
        raise HttpRefusal(
            "unsupported-media-type",
            "send no `Content-Encoding`",
            headers={"Accept-Encoding": "identity"},
        )
    return header.get_content_type()


def decode_table(body: bytes, wanted: type[AnyStruct]) -> AnyStruct:
    """Return the outline that a table says.

    Raises:
        Refusal: with every fault of the table, else of the outline.
    """
    try:
        return reading.converted(outline_table.document(text_of(body)), wanted)
    except Unreadable as unreadable:
        raise refusal(unreadable) from None


def decode(body: bytes, wanted: type[AnyStruct], distinct: bool = False) -> AnyStruct:
    """Return the request that the body holds; `distinct`: its keys are already known to stand once each.

    Raises:
        Refusal: `not-json` where the text is no JSON at all; else `against-schema` or `out-of-range`, with every fault.
    """
    text = text_of(body)
    try:
        request = msgspec.json.decode(text, type=known(wanted), strict=True)
    except (msgspec.DecodeError, RecursionError):
        return convert(plain(text), wanted)
    if not distinct:
        refuse_duplicate_keys(body)
    if isinstance(request, QuoteRequest):
        keep_sent(request.stock, bytes(msgspec.json.decode(text, type=_WithStock).stock))
    return request


def at_first_sight(body: bytes, wanted: type[AnyStruct]) -> AnyStruct | None:
    """Return the request that a body holds; None where a closer look is needed, be it for its faults."""
    try:
        text = body.decode()
        request = msgspec.json.decode(text, type=known(wanted), strict=True)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return None
    return request if surely_distinct(body) else None


def text_of(body: bytes) -> str:
    """Return a body's text.

    Raises:
        Refusal: `not-json` where there is none, or it is not UTF-8.
    """
    if not body.strip():
        _not_json("empty-body", "the body is empty")
    try:
        return body.removeprefix(BOM_UTF8).decode()
    except UnicodeDecodeError as error:
        _not_json("not-utf-8", f"byte {error.start} is not UTF-8")


def _not_json(code: str, detail: str) -> NoReturn:
    raise Refusal("not-json", [Fault(path="", code=code, detail=detail)])


def plain(text: str) -> Any:
    """Return what JSON says, slowly; a number that is not finite is taken, so that its place can be told.

    Raises:
        Refusal: `not-json`.
    """
    try:
        data = msgspec.json.decode(text)
    except RecursionError:
        _not_json("nested-too-deep", "the document is nested too deep")
    except msgspec.DecodeError as error:
        data = _with_strange_numbers(text)
        if not not_finite(data):
            _not_json("malformed-json", str(error).partition(" - at ")[0])
    refuse_duplicate_keys(text.encode())
    return data


def _with_strange_numbers(text: str) -> Any:
    """Return what JSON says where only its numbers are strange: NaN, Infinity, or beyond what a float holds."""
    try:
        data = json.loads(text)
        json.dumps(data, ensure_ascii=False).encode()  # half of a surrogate pair is no text
    except (ValueError, RecursionError):
        return None
    return data


def convert(data: Any, wanted: type[AnyStruct]) -> AnyStruct:
    """Return plain data as the request.

    Raises:
        Refusal: with every fault.
    """
    try:
        return reading.converted(data, wanted)
    except Unreadable as unreadable:
        raise refusal(unreadable) from None


def refuse_duplicate_keys(text: bytes) -> None:
    """Refuse an object that names a key twice: readers differ on which of the two counts.

    Args:
        text: known to be JSON, in UTF-8.

    Raises:
        HttpRefusal: `not-json` with code `duplicate-key`.
    """
    if surely_distinct(text):
        return
    try:
        json.loads(text.removeprefix(BOM_UTF8).decode(), object_pairs_hook=_distinct)
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
