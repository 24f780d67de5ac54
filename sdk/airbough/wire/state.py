"""States of the gates: one form for every question that takes one."""

from __future__ import annotations

from typing import Annotated, TypeAlias

from msgspec import Meta

from airbough.wire.base import (
    Asked,
    Id,
    Name,
)
from airbough.wire.quantity import Share

GateName: TypeAlias = Annotated[
    Id,
    Meta(
        description="A machine: its `machine_id`, or the id of the run of one of its hoods or gates. Or the run of a "
        "zone gate, one that serves several machines."
    ),
]
Openings: TypeAlias = Annotated[
    dict[Id, Share], Meta(max_length=10000, description="Run id -> opening of that run's own gate; wins over `open`.")
]


class GateSetting(Asked, kw_only=True):
    """How the gates stand, told by which machines run.

    The gates of the machines named stand as far open as in the document, fully open where that is shut; those of all
    other machines are shut; zone gates stand as in the document unless they are named. A hood without a gate is open.
    """

    open: Annotated[
        Annotated[tuple[GateName, ...], Meta(max_length=10000)] | None,
        Meta(description="Left out: every gate as in the document."),
    ] = None
    openings: Openings | None = None


class NamedState(GateSetting, kw_only=True):
    """A setting of the gates with a name."""

    name: Name
