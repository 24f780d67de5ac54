"""Designs read, asked about and judged where their answers come from, so that little travels between processes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from airbough import Client, Local
from airbough.command.answering import answered
from airbough.command.designs import Found
from airbough.command.journal import line
from airbough.command.verdict import LOOKED_AT, Row, Threshold, row


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is kept of what comes back.

    Attributes:
        threshold: from which severity on a finding fails a design.
        kept: whether the answers are kept.
        only: the parts of answers that are kept, beside what a verdict looks at; None: all.
    """

    threshold: Threshold
    kept: bool
    only: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True)
class Checked:
    """What a design came to.

    Attributes:
        row: the verdict.
        line: of the journal; empty where none is kept.
    """

    row: Row
    line: bytes


def checked(chunk: list[Found], wanted: Wanted, client: Client | Local) -> Iterator[Checked]:
    """Yield what each design of a chunk came to, in their order."""
    only = None if wanted.only is None else (*LOOKED_AT, *wanted.only)
    for told in answered([found.read() for found in chunk], client, only):
        yield Checked(row(told, wanted.threshold), line(told) if wanted.kept else b"")
