"""What the decoder says is wrong with a value, in a code and in words for a person."""

from __future__ import annotations

import re
from typing import Any, Final

from airbough.wire.places import Place

_SUFFIX: Final = re.compile(r" - at `.*`$", re.DOTALL)
_BOUND: Final = re.compile(r"^Expected (\w+) (>=|<=|>|<) (\S+)$")
_LENGTH: Final = re.compile(r"^Expected (\w+) of length (>=|<=|==) (\d+)$")
_BOUNDS: Final = {
    ">=": ("too-small", "must be {} or more"),
    "<=": ("too-big", "must be {} or less"),
    ">": ("too-small", "must be above {}"),
    "<": ("too-big", "must be below {}"),
}
_LENGTHS: Final = {">=": "at least", "<=": "at most", "==": "exactly"}
_TYPES: Final = {bool: "true or false", int: "a whole number", float: "a number", str: "a text"}


def said(message: str, place: Place) -> tuple[str, str]:
    """Return code and detail of a value that the decoder refuses at a place."""
    plain = _SUFFIX.sub("", message).replace("`", "")
    if "out of range" in plain:
        return "number-too-big", "the number is too big"
    if plain.startswith("Expected str matching"):
        return "pattern", str(place.extra.get("pattern_means", "not written as the schema's pattern has it"))
    if (bound := _BOUND.match(plain)) is not None:
        code, words = _BOUNDS[bound[2]]
        return code, words.format(bound[3])
    if (length := _LENGTH.match(plain)) is not None:
        what = "character" if length[1] == "str" else "item"
        return "length", f"must have {_LENGTHS[length[2]]} {length[3]} {what}{'s' * (length[3] != '1')}"
    if place.words and plain.startswith("Invalid enum value"):
        return "unknown-word", f"must be one of {', '.join(place.words)}"
    if place.numbers and plain.startswith("Invalid enum value"):
        return "unknown-value", f"must be {_numbers(place)}"
    return "wrong-type", _needed(place) or plain


def _numbers(place: Place) -> str:
    """Return the only numbers that may stand at a place."""
    return " or ".join(map(str, place.numbers))


def _needed(place: Place) -> str:
    """Return which types may stand at a place."""
    ways: list[str] = []
    if place.kind is not None:
        ways.append("a number, or a text with a unit")
    else:
        ways += [words for scalar, words in _TYPES.items() if scalar in _plain(place)]
        ways += [_numbers(place)] if place.numbers else []
    if place.words:
        ways.append(f"one of {', '.join(place.words)}")
    if place.structs:
        ways.append("an object")
    if place.container is not None:
        ways.append("an object" if place.container is dict else "a list")
    if not ways:
        return ""
    if place.nullable:
        ways.append("null")
    return f"must be {' or '.join(dict.fromkeys(ways))}"


def _plain(place: Place) -> frozenset[Any]:
    """Return the plain types of a place; a whole number is a number, and a place of words takes no other text."""
    drop = ({int} if float in place.scalars or place.numbers else set()) | ({str} if place.words else set())
    return place.scalars - drop
