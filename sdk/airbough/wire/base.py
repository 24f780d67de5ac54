"""The two bases of every wire struct, and the plain types that many of them use."""

from __future__ import annotations

from typing import Annotated, TypeAlias, dataclass_transform

from msgspec import Meta, Struct, field


@dataclass_transform(frozen_default=True, field_specifiers=(field,))  # frozen is inherited; mypy must be told
class Asked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """A part of a request: strict, unknown fields are refused."""


@dataclass_transform(frozen_default=True, field_specifiers=(field,))  # frozen is inherited; mypy must be told
class Told(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A part of an answer: it may gain fields within a version; a key that does not apply is left out.

    It bears its plain noun; `...Result` where a request has the noun already, `Listed...` in the catalogue.
    """

    def _repr_html_(self) -> str:
        from airbough.notebook import Table

        return Table(self)._repr_html_()


Id: TypeAlias = Annotated[str, Meta(min_length=1, max_length=64, description="The caller's id; answered back as data.")]
Name: TypeAlias = Annotated[str, Meta(min_length=1, max_length=64, description="The caller's name; answered back.")]
Word: TypeAlias = Annotated[str, Meta(min_length=1, max_length=64, description="A word of the catalogue.")]
Coefficient: TypeAlias = Annotated[float, Meta(ge=0.0, le=1.0e12, description="Loss coefficient, no unit.")]
Ratio: TypeAlias = Annotated[float, Meta(ge=0.0, le=100.0)]
Count: TypeAlias = Annotated[int, Meta(ge=1, le=100)]
