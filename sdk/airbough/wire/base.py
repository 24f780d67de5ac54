"""The two bases of every wire struct, and the plain types that many of them use."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import Annotated, Final, TypeAlias, TypeVar, dataclass_transform

from msgspec import Meta, Struct, field

Row = TypeVar("Row", bound=Struct)

_DEEPEST: Final = 1
_FEW: Final = 4
_LONGEST: Final = 60
_NOT_SET: Final[tuple[object, ...]] = (None, (), {})

# Both bases leave their structs out of what the collector of circles looks at: frozen, they make none, and an answer
# about 1,700 runs has it look at all of them again and again (a tenth of its time).


@dataclass_transform(frozen_default=True, field_specifiers=(field,))  # frozen is inherited; mypy must be told
class Asked(Struct, gc=False, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """A part of a request: strict, unknown fields are refused."""

    def __repr__(self) -> str:
        return short(self)


@dataclass_transform(frozen_default=True, field_specifiers=(field,))  # frozen is inherited; mypy must be told
class Told(Struct, gc=False, frozen=True, kw_only=True, omit_defaults=True):
    """A part of an answer: it may gain fields within a version; a key that does not apply is left out.

    Its lists and booleans are always there, for an empty list means looked for and not found: their defaults are
    `nothing`, `no` and `yes`, by factory.

    It bears its plain noun; `...Result` where a request has the noun already, `Listed...` in the catalogue.
    """

    def _repr_html_(self) -> str:
        from airbough.wire.in_html import Table

        return Table(self)._repr_html_()

    def __repr__(self) -> str:
        return short(self)


def short(value: object, depth: int = 0) -> str:
    """Return a struct in a line: what is set, structs within structs and lists by their number."""
    if isinstance(value, Struct):
        kind = type(value).__name__
        if depth > _DEEPEST:
            return f"{kind}(…)"
        told = ((name, getattr(value, name)) for name in value.__struct_fields__)
        fields = (f"{name}={short(item, depth + 1)}" for name, item in told if item not in _NOT_SET)
        return f"{kind}({', '.join(fields)})"
    if isinstance(value, tuple | list) and value and (isinstance(value[0], Struct) or len(value) > _FEW):
        return f"[{len(value)} {type(value[0]).__name__}]"
    if isinstance(value, dict) and len(value) > _FEW:
        return f"{{{len(value)} {type(next(iter(value))).__name__}}}"
    text = repr(value)
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}…"


def one(rows: Iterable[Row], field: str, word: str) -> Row:
    """Return the row whose field is a word.

    Raises:
        LookupError: where there is none, with the nearest.
    """
    named = {getattr(row, field): row for row in rows}
    if word in named:
        return named[word]
    near = difflib.get_close_matches(word, map(str, named), 3) or [str(name) for name in list(named)[:10]]
    raise LookupError(f"no {field} is {word!r}; there is {', '.join(near)}")


def nothing() -> tuple[()]:
    """Return the empty list with which a list of an answer begins: a plain default would be left out of the JSON."""
    return ()


def no() -> bool:
    """Return False, as `nothing`."""
    return False


def yes() -> bool:
    """Return True, as `nothing`."""
    return True


NO_CONTROL_CHARACTERS: Final = r"^[^\u0000-\u001f\u007f-\u009f\u2028\u2029]*(?!\n)$"
"""Neither control characters nor line or paragraph separators; `(?!\\n)`, for Python's `$` lets a last newline pass."""

_MEANS: Final = {"pattern_means": "no control characters, line or paragraph separators"}

Id: TypeAlias = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=64,
        pattern=NO_CONTROL_CHARACTERS,
        description="The caller's id; answered back as data.",
        extra=_MEANS,
    ),
]
Name: TypeAlias = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=64,
        pattern=NO_CONTROL_CHARACTERS,
        description="The caller's name; answered back.",
        extra=_MEANS,
    ),
]
Word: TypeAlias = Annotated[str, Meta(min_length=1, max_length=64, description="A word of the catalogue.")]
Coefficient: TypeAlias = Annotated[float, Meta(ge=0.0, le=1.0e12, description="Loss coefficient, no unit.")]
Ratio: TypeAlias = Annotated[float, Meta(ge=0.0, le=100.0)]
Count: TypeAlias = Annotated[int, Meta(ge=1, le=100)]
