"""The two bases of every wire struct, and the plain types that many of them use."""

from __future__ import annotations

from typing import Annotated, Final, TypeAlias, dataclass_transform

from msgspec import Meta, Struct, field


@dataclass_transform(frozen_default=True, field_specifiers=(field,))  # frozen is inherited; mypy must be told
class Asked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """A part of a request: strict, unknown fields are refused."""


@dataclass_transform(frozen_default=True, field_specifiers=(field,))  # frozen is inherited; mypy must be told
class Told(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A part of an answer: it may gain fields within a version; a key that does not apply is left out.

    Its lists and booleans are always there, for an empty list means looked for and not found: their defaults are
    `nothing`, `no` and `yes`, by factory.

    It bears its plain noun; `...Result` where a request has the noun already, `Listed...` in the catalogue.
    """

    def _repr_html_(self) -> str:
        from airbough.wire.in_html import Table

        return Table(self)._repr_html_()


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
