"""Answers as they come, a line each, so that an interrupted check goes on where it was; each design once."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Self

import msgspec
from msgspec import Struct

from airbough.command.answering import Answered
from airbough.command.designs import Design, Found


class Entry(Struct, kw_only=True, omit_defaults=True):
    """A line: what came back for the design at `id`."""

    id: str
    question: str
    digest: str
    status: int
    answer: msgspec.Raw = msgspec.Raw()
    problem: msgspec.Raw = msgspec.Raw()


class ChangedSince(Exception):
    """A design is no longer the one that was answered."""


def line(told: Answered) -> bytes:
    """Return the line for what came back."""
    design, body = told.design, msgspec.Raw(told.body)
    kept = {"problem": body} if told.refused else {"answer": body}
    entry = Entry(id=design.place, question=design.question, digest=design.digest(), status=told.status, **kept)
    return msgspec.json.encode(entry) + b"\n"


def told(entry: Entry) -> Answered:
    """Return what came back by its line."""
    return Answered(Design(entry.id, entry.question, None), entry.status, bytes(entry.answer) or bytes(entry.problem))


class Journal:
    """The file of what came back.

    Args:
        path: of the file.
        resume: keep what is in it; a last line that was cut off is taken out.
    """

    def __init__(self, path: Path, *, resume: bool) -> None:
        self.path = path
        self.done: dict[str, str] = {}
        if resume and path.exists():
            self._keep_whole_lines()
        else:
            path.write_bytes(b"")
        self._file: BinaryIO = path.open("ab")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._file.close()

    def missing(self, designs: Iterator[Found]) -> Iterator[Found]:
        """Yield the designs that are not answered yet.

        Raises:
            ChangedSince: for a design that was another when it was answered.
        """
        for design in designs:
            known = self.done.get(design.place)
            if known is None:
                yield design
            elif known != design.read().digest():
                raise ChangedSince(f"{design.place} changed since it was answered; start anew, without --resume")

    def keep(self, told: bytes) -> None:
        """Write down the line for what came back."""
        self._file.write(told)
        self._file.flush()

    def entries(self) -> Iterator[Entry]:
        """Yield every line."""
        yield from entries(self.path)

    def _keep_whole_lines(self) -> None:
        end = 0
        with self.path.open("r+b") as file:
            for line in file:
                try:
                    known = msgspec.json.decode(line, type=Entry)
                except msgspec.DecodeError:
                    break
                if not line.endswith(b"\n"):
                    break
                self.done[known.id] = known.digest
                end += len(line)
            file.truncate(end)
            os.fsync(file.fileno())


def entries(path: Path) -> Iterator[Entry]:
    """Yield every line of a file of answers."""
    with path.open("rb") as file:
        for line in file:
            if line.strip():
                yield msgspec.json.decode(line, type=Entry)
