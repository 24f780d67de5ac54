"""Asks every example and every word of the catalogue; prints which of its numbers nothing read.

Runs in a process of its own, since the catalogue is read once: its files go through tables that note what is taken.
"""

from __future__ import annotations

import json
import sys
import tomllib
from collections.abc import Iterator
from typing import Any

TAKEN: set[str] = set()
PASSPORT = frozenset({"passport", "source", "place", "how", "spread", "note", "others"})
"""Where a number comes from, and what other documents say of it."""


class Table(dict[str, Any]):
    """A table of a file that notes which of its keys are taken, by path; blocks with an id are told apart by it."""

    def __init__(self, path: str, content: dict[str, Any]) -> None:
        super().__init__({key: noting(f"{path}.{key}", value) for key, value in content.items()})
        self.path = path

    def __getitem__(self, key: str) -> Any:
        TAKEN.add(f"{self.path}.{key}")
        return super().__getitem__(key)

    def __iter__(self) -> Iterator[str]:
        return super().__iter__()

    def get(self, key: str, default: Any = None) -> Any:
        """Return an item, noted."""
        TAKEN.add(f"{self.path}.{key}")
        return super().get(key, default)

    def items(self) -> Any:
        """Return every item, noted."""
        return [(key, self[key]) for key in self]

    def values(self) -> Any:
        """Return every value, noted."""
        return [self[key] for key in self]


def noting(path: str, value: Any) -> Any:
    """Return a value whose tables note what is taken."""
    if isinstance(value, dict):
        return Table(path, value)
    if isinstance(value, list) and any(isinstance(one, dict) for one in value):
        return [noting(f"{path}[{named(one, index)}]", one) for index, one in enumerate(value)]
    return value


def named(block: Any, index: int) -> str:
    """Return a block's id, else its number."""
    return str(block.get("id", index)) if isinstance(block, dict) else str(index)


def numbers(value: Any, path: str) -> Iterator[str]:
    """Yield the path of every key that holds a number, or numbers, of no passport, note or rival source."""
    if isinstance(value, list):
        for index, one in enumerate(value):
            yield from numbers(one, f"{path}[{named(one, index)}]")
    elif isinstance(value, dict):
        for key, item in value.items():
            if key in PASSPORT or key.endswith("_note"):
                continue
            if isinstance(item, dict) or (isinstance(item, list) and any(isinstance(one, dict) for one in item)):
                yield from numbers(item, f"{path}.{key}")
            elif is_number(item):
                yield f"{path}.{key}"


def is_number(value: Any) -> bool:
    """Return whether a value is a number or holds some."""
    if isinstance(value, list):
        return any(map(is_number, value))
    return isinstance(value, int | float) and not isinstance(value, bool)


def ask_everything() -> set[str]:
    """Answer examples and catalogue; return every caution that went out."""
    import asking  # after the catalogue's reader was exchanged
    from airbough_service.terms import units

    sent = units._finite_document

    def noted(data: Any, context: Any) -> Any:
        """Take everything below tables that are sent as they are: what writes them as JSON takes it without a word."""
        asking.walk(data)
        return sent(data, context)

    units._finite_document = noted
    return asking.everything()


def main() -> None:
    """Print what nothing read and which cautions went out."""
    from airbough_service.catalogue import reading

    plain = {name: tomllib.loads(reading.text(name).decode()) for name in reading.names()}
    plain["checks"]["planted"] = {"value": 1.0}  # nothing can read it: the check must see it
    watched = {name: Table(name, content) for name, content in plain.items()}
    reading.read = lambda name: watched[name]  # type: ignore[assignment]
    said = ask_everything()
    silent = [block["id"] for block in plain["cautions"]["caution"] if block["text"] not in said]
    left = sorted(path for name, content in plain.items() for path in numbers(content, name) if path not in TAKEN)
    sys.stdout.write(json.dumps({"untouched": left, "silent": silent}))


if __name__ == "__main__":
    main()
