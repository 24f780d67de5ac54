"""A JSON value written out as a person would, in the words of a language: what fits stands on one line."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

_NAME: Final = re.compile(r"[A-Za-z_$][A-Za-z0-9_$]*")


@dataclass(frozen=True, slots=True)
class Language:
    """How a language writes values.

    Attributes:
        words: of true, false and null.
        step: spaces of one level.
        bare: whether names of fields stand without quotes where they can.
        spaced: whether braces stand apart from what they hold.
    """

    words: Mapping[Any, str]
    step: int
    bare: bool = False
    spaced: bool = False


_JSON_WORDS: Final = {True: "true", False: "false", None: "null"}
JSON: Final = Language(_JSON_WORDS, 2)
PYTHON: Final = Language({True: "True", False: "False", None: "None"}, 4)
JAVASCRIPT: Final = Language(_JSON_WORDS, 2, bare=True, spaced=True)


def written(value: Any, language: Language, depth: int = 0, width: int = 88) -> str:
    """Return a value's text; its further lines are indented for a place so many levels deep."""
    return _broken(value, language, depth * language.step, 0, width)


def _broken(value: Any, language: Language, indent: int, before: int, width: int) -> str:
    line = _line(value, language)
    if not isinstance(value, dict | list) or not value or indent + before + len(line) < width:
        return line
    inner, parts = indent + language.step, []
    named = value.items() if isinstance(value, dict) else ((None, item) for item in value)
    for name, item in named:
        label = "" if name is None else f"{_name(name, language)}: "
        parts.append(f"{' ' * inner}{label}{_broken(item, language, inner, len(label), width)}")
    start, end = "{}" if isinstance(value, dict) else "[]"
    return f"{start}\n" + ",\n".join(parts) + f"\n{' ' * indent}{end}"


def _line(value: Any, language: Language) -> str:
    if isinstance(value, dict):
        inner = ", ".join(f"{_name(name, language)}: {_line(item, language)}" for name, item in value.items())
        return f"{{ {inner} }}" if language.spaced and inner else f"{{{inner}}}"
    if isinstance(value, list):
        return f"[{', '.join(_line(item, language) for item in value)}]"
    if value is None or isinstance(value, bool):
        return language.words[value]
    return json.dumps(value, ensure_ascii=False)


def _name(name: str, language: Language) -> str:
    return name if language.bare and _NAME.fullmatch(name) else json.dumps(name, ensure_ascii=False)
