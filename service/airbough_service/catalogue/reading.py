"""Reading of the catalogue's files: once each, when first asked for."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterable
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from typing import Any, Final

FITTING_FILES: Final = ("elbows", "changes", "gates", "entries", "discharge", "junctions")


class UnknownWordError(Exception):
    """A word that the catalogue does not hold.

    Attributes:
        kind: what kind of word it is, such as `duct`.
        word: what was asked.
        nearest: up to three words that look like it.
        known: every word there is, in the catalogue's order.
    """

    def __init__(self, kind: str, word: str, words: Iterable[str]) -> None:
        self.kind, self.word = kind, word
        self.known = tuple(words)
        self.nearest = nearest(word, self.known)
        hint = f"; nearest: {', '.join(self.nearest)}" if self.nearest else ""
        super().__init__(f"`{word}` is no {kind} of the catalogue{hint}")


class MissingParameterError(KeyError):
    """A parameter that a family of fittings needs was not given.

    Attributes:
        family: the family.
        names: the parameter; more than one where any of them would do.
    """

    def __init__(self, family: str, names: tuple[str, ...]) -> None:
        self.family, self.names = family, names
        super().__init__(" or ".join(names))

    def __str__(self) -> str:
        return f"{self.family} needs {self.args[0]}"


def nearest(word: str, words: Iterable[str]) -> tuple[str, ...]:
    """Return up to three words that look like this one, best first; where none does, those that have it as a part."""
    known, asked = list(words), word.lower()
    close = get_close_matches(asked, known, n=3, cutoff=0.4)
    return tuple(close or [one for one in known if asked in one.split("-")][:3])


def text(name: str) -> bytes:
    """Return the bytes of one file of the catalogue, line ends made alike."""
    raw = files("airbough_service.catalogue").joinpath(f"{name}.toml").read_bytes()
    return raw.replace(b"\r\n", b"\n")


@cache
def read(name: str) -> dict[str, Any]:
    """Return one file of the catalogue; nobody may change it."""
    return tomllib.loads(text(name).decode())


@cache
def by_id(name: str, kind: str) -> dict[str, dict[str, Any]]:
    """Return the blocks of one kind in one file by their ids."""
    return {block["id"]: block for block in read(name)[kind]}


def find(name: str, kind: str, word: str) -> dict[str, Any]:
    """Return one block of a file.

    Raises:
        UnknownWordError: where no block has this id.
    """
    blocks = by_id(name, kind)
    if word not in blocks:
        raise UnknownWordError(kind, word, blocks)
    return blocks[word]


def names() -> tuple[str, ...]:
    """Return the name of every file of the catalogue, in order."""
    folder = files("airbough_service.catalogue")
    return tuple(sorted(item.name.removesuffix(".toml") for item in folder.iterdir() if item.name.endswith(".toml")))


@cache
def digest() -> str:
    """Return a short digest of all files, which changes when any number does."""
    whole = hashlib.sha256()
    for name in names():
        whole.update(name.encode() + b"\0" + text(name) + b"\0")
    return whole.hexdigest()[:12]
