"""From a question to what is sent, and from what came back to its reply; nothing here touches the network."""

from __future__ import annotations

import json as standard_json
import numbers
from collections.abc import Mapping
from decimal import Decimal
from typing import Final, TypeAlias, TypeVar
from urllib.parse import quote

import msgspec
from msgspec import Struct, structs

from airbough import (
    documents,
    errors,
    signatures,
)
from airbough.calls import Call
from airbough.raw_reply import Raw
from airbough.reading.faults import (
    all_finite,
    find,
    not_finite,
)
from airbough.reply import Reply
from airbough.signatures import PublicKeys
from airbough.travel.transport import Outgoing
from airbough.units import quantities
from airbough.wire.problem import Fault
from airbough.wire.tree import Tree

Request = TypeVar("Request", bound=Struct)
Answer = TypeVar("Answer", bound=Struct)
Document: TypeAlias = Mapping[str, object]
"""A request as a plain table, as JSON or TOML would give it; pint quantities may stand in it."""

Written: TypeAlias = Tree | Document
"""What a request may be made from: a tree alone, for a question about trees, or a plain table."""


def asked(
    call: Call[Request, Answer], request: Request | Tree | Document | None, words: Mapping[str, object]
) -> Request:
    """Return the request struct: the one given, or made from a document or from keywords.

    A tree alone, such as that of an outline's answer, is taken by every question about trees; keywords add to it, as
    they add to a document, and go before what it says.

    Raises:
        TypeError: where a call's own struct and keywords are given, or the struct is another call's.
        InvalidRequest: with every fault of a document or of keywords, or of the pint quantities in it.
    """
    if type(request) is Tree and issubclass(call.request, Tree):
        request, words = {**structs.asdict(request), **words}, {}
    if isinstance(request, Mapping):
        request, words = {**request, **words}, {}
    if request is not None and words:
        raise TypeError("give a request or keywords, not both; a document, or a tree alone, takes keywords too")
    if request is None:
        request = words
    if isinstance(request, Mapping):
        return documents.read(plain(quantities.written(request, call.request)), call.request)
    if not isinstance(request, call.request):
        raise TypeError(f"{call.name} takes a {call.request.__name__}, not a {type(request).__name__}")
    return request


def plain(request: object) -> object:
    """Return a request as plain tables, lists, texts and numbers.

    Raises:
        InvalidRequest: where a value is of a type that JSON does not have.
    """
    try:
        built: object = msgspec.to_builtins(request, enc_hook=_number, str_keys=True)
    except (TypeError, RecursionError) as error:
        raise documents.invalid([Fault(path="", code="wrong-type", detail=str(error))]) from None
    return built


def _number(value: object) -> float | int:
    if isinstance(value, numbers.Integral):
        return int(value)
    if isinstance(value, numbers.Real | Decimal):
        return float(value)
    raise TypeError(f"a {type(value).__name__} cannot be sent")


def body(request: Struct) -> bytes:
    """Return a request as JSON.

    Raises:
        InvalidRequest: where it holds what cannot be sent.
    """
    sent = quantities.written(request, type(request))
    told = quickly(sent)
    if told is not None:
        return told
    table = plain(sent)
    if not all_finite(table):
        raise documents.invalid(find(table, type(request)) or not_finite(table))
    return json(table)


_NO_RUN: Final = b'"into":null'  # of a run that ends at the collector: the one null that a request is written with


def quickly(request: object, ends: int | None = None) -> bytes | None:
    """Return a request, or what holds one, as JSON in one pass; None where it must be looked at.

    What is not finite is `null` there.

    Args:
        request: of structs; else `ends` tells its nulls.
        ends: how many runs of a plain document end at the collector; in one, any value could stand at `into`.
    """
    try:
        told = msgspec.json.encode(request)
    except (TypeError, ValueError, RecursionError):  # plain data says which of them it is, and where
        return None
    if ends is not None:
        return told if told.count(b"null") == ends else None
    null = told.find(b"null")
    while null >= 0 and told.endswith(_NO_RUN, 0, null + 4):
        null = told.find(b"null", null + 4)
    return told if null < 0 else None


def ends(document: object) -> int:
    """Return how many runs of a plain document are written as ending at the collector."""
    runs = document.get("runs") if isinstance(document, dict) else None
    rows = [run for run in runs if isinstance(run, dict)] if isinstance(runs, list | tuple) else []
    return sum([run.get("into", "") is None for run in rows])


def json(table: object) -> bytes:
    """Return plain data as JSON; a number that is not finite as `NaN`, which the service refuses with its place.

    Raises:
        InvalidRequest: where it holds what JSON does not have.
    """
    try:
        if all_finite(table):
            return msgspec.json.encode(table)
        return standard_json.dumps(table, ensure_ascii=False).encode()  # msgspec's would be null, a value left out
    except UnicodeEncodeError:
        fault = Fault(path="", code="not-utf-8", detail="half of a surrogate pair is no text")
        raise documents.invalid([fault]) from None


def outgoing(call: Call[Request, Answer], request: Request, path_words: tuple[str, ...] = ()) -> Outgoing:
    """Return what is sent for a question.

    Raises:
        InvalidRequest: where the request holds what cannot be sent.
    """
    path = filled(call, path_words)
    if call.method != "GET":
        return Outgoing(call.method, path, body=body(request))
    table = plain(quantities.written(request, type(request)))
    documents.read(table, type(request))  # a query is all text: what is wrong by type would be read as right
    pairs = table.items() if isinstance(table, dict) else ()
    return Outgoing(call.method, path, query={name: _text(value) for name, value in pairs if value is not None})


def filled(call: Call[Request, Answer], words: tuple[str, ...]) -> str:
    """Return a call's path with its words in place.

    Raises:
        ValueError: where a word is empty or dots alone, which would name another address.
    """
    path = call.path
    for name, word in zip(call.path_words, words, strict=True):
        if not word.strip("."):
            raise ValueError(f"{name} cannot be {word!r}")
        path = path.replace(f"{{{name}}}", quote(word, safe=""))
    return path


def _text(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return format(Decimal(repr(value)), "f").removesuffix(".0")  # the same number, never an exponent
    return str(value)


def reply(call: Call[Request, Answer], raw: Raw, keys: PublicKeys | None = None) -> Reply[Answer]:
    """Return a successful reply; with `keys`, one whose signature holds.

    Raises:
        SignatureRefused: where the signature is missing or does not hold.
        AirboughError: the exception that the reply stands for, where it is no success.
    """
    if raw.status != 200:
        raise errors.from_reply(raw)
    told = Reply(raw, call.answer)
    if keys is not None:
        signatures.verify_reply(told, keys)
    return told
