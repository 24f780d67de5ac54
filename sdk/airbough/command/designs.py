"""Designs from files and folders, each with the place it was found at."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeAlias

import msgspec

from airbough import documents
from airbough.errors import Refused, ServerFailed
from airbough.wire.problem import Fault

LINES: Final = (".ndjson", ".jsonl")
SUFFIXES: Final = (".json", ".yaml", ".yml", ".toml", ".csv", *LINES)


@dataclass(frozen=True, slots=True)
class Design:
    """One document to ask about.

    Attributes:
        place: file, with the line or number of the document where the file holds several.
        question: name of the call.
        document: as read; None where it could not be.
        fault: why it could not be read.
    """

    place: str
    question: str
    document: object
    fault: Refused | ServerFailed | None = None

    def digest(self) -> str:
        """Return a digest of question and document, by which an answer is known again."""
        told = msgspec.json.encode([self.question, self.document], order="sorted", enc_hook=str)
        return hashlib.sha256(told).hexdigest()[:16]

    def read(self) -> Design:
        """Return itself."""
        return self


@dataclass(frozen=True, slots=True)
class Line:
    """A line of NDJSON that is not read yet: who answers it does that.

    Attributes:
        place: file and line.
        question: that is asked where the line names none.
        text: of the line.
    """

    place: str
    question: str
    text: bytes

    def read(self) -> Design:
        """Return the design, with its fault where the line is no JSON."""
        try:
            return _asked(self.place, self.question, documents.of_json(self.text))
        except (Refused, ServerFailed) as twice:
            return Design(self.place, self.question, None, twice)
        except (msgspec.DecodeError, UnicodeDecodeError) as error:
            fault = documents.invalid([Fault(path="", code="not-decodable", detail=str(error))])
            return Design(self.place, self.question, None, fault)


Found: TypeAlias = Design | Line


def files(given: list[Path]) -> list[Path]:
    """Return the files meant: those given, and in folders all with a known ending, by name.

    Raises:
        FileNotFoundError: for a path where nothing is.
    """
    found: list[Path] = []
    for path in given:
        if path.is_dir():
            found += sorted(inner for inner in path.rglob("*") if inner.suffix.lower() in SUFFIXES and inner.is_file())
        elif path.exists():
            found.append(path)
        else:
            raise FileNotFoundError(f"{path}: there is no such file or folder")
    return found


def count(paths: list[Path]) -> int:
    """Return about how many designs the files hold, without reading the documents."""
    return sum(_lines(path) if path.suffix.lower() in LINES else 1 for path in paths)


def designs(paths: list[Path], question: str) -> Iterator[Found]:
    """Yield every design of the files; what cannot be read is a design with its fault, and the others go on.

    A line of NDJSON is a document, or a line as batches take it: `{"id", "question", "request"}`.
    """
    for path in paths:
        read: Callable[[Path, str], Iterator[Found]] = _of_lines if path.suffix.lower() in LINES else _of_file
        yield from read(path, question)


def _of_file(path: Path, question: str) -> Iterator[Design]:
    try:
        document = documents.plain(path)
    except (Refused, ServerFailed) as fault:
        yield Design(str(path), question, None, fault)
        return
    if not isinstance(document, list):
        yield Design(str(path), question, document)
        return
    for number, one in enumerate(document, 1):
        yield _asked(f"{path}#{number}", question, one)


def _of_lines(path: Path, question: str) -> Iterator[Line]:
    with path.open("rb") as file:
        for number, line in enumerate(file, 1):
            text = line.removeprefix(b"\xef\xbb\xbf").strip() if number == 1 else line.strip()
            if text:
                yield Line(f"{path}:{number}", question, text)


def _asked(place: str, question: str, told: object) -> Design:
    if isinstance(told, dict) and "request" in told and "question" in told:
        return Design(place, str(told["question"]), told["request"])
    return Design(place, question, told)


def _lines(path: Path) -> int:
    with path.open("rb") as file:
        return sum(piece.count(b"\n") for piece in iter(lambda: file.read(1 << 20), b""))
