"""An answer of which only parts were asked for."""

from __future__ import annotations

from typing import Annotated, Any, TypeAlias

from msgspec import Meta, field

from airbough.wire.answer import Engine
from airbough.wire.base import Told, nothing
from airbough.wire.quantity import Preset

MOST_PARTS = 100

Part: TypeAlias = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=100,
        pattern=r"^[a-z_]+(\.[a-z_]+)?(?!\n)$",
        description="A field of the question's answer, or a field of what stands there, of each row of a list: "
        "`findings`, `system.flow`, `hoods.share_of_design`.",
        extra={"pattern_means": "one or two names of fields, with a dot between them"},
    ),
]
"""The figures that variants tell (`wire.variants.Figure`) are parts of an operating point."""

Only: TypeAlias = Annotated[tuple[Part, ...], Meta(min_length=1, max_length=MOST_PARTS)]


class TrimmedAnswer(Told, kw_only=True):
    """The parts of an answer that were asked for, and the names of those left out."""

    told: Annotated[
        dict[str, Any],
        Meta(
            description="By field, as the whole answer has it. Where only fields of it were asked for, a table of "
            "those, or a list of tables, each with the `id` or `run` of its row."
        ),
    ]
    left_out: Annotated[
        tuple[str, ...],
        Meta(description="What else the whole answer may have; `field.field` of one told in part."),
    ]
    cautions: Annotated[
        tuple[str, ...], Meta(description="Of the whole answer; those that findings bring, where findings are told.")
    ] = field(default_factory=nothing)
    engine: Engine | None = None
    preset: Preset | None = None
    units: Annotated[dict[str, str] | None, Meta(description="The unit of each kind of quantity.")] = None
