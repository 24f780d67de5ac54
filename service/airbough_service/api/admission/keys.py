"""API keys: a file of names and hashes, read again when it changes, so that keys come and go without a restart.

A secret key opens everything. A publishable one may stand in a page: it opens the questions that it names, to pages of
the origins that it names, and each address has a rate of its own. An origin stops browsers, not scripts: what such a
key opens is open to whoever reads the page, and its rate is what bounds him.

`python -m airbough_service.api.admission.keys NAME` makes a key and the line for the file.
"""

from __future__ import annotations

import difflib
import hashlib
import hmac
import re
import secrets
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from airbough.calls import CALLS
from airbough_service.api.admission import origins as of_pages
from airbough_service.api.observe import logs
from airbough_service.api.settings import SettingError

_LINE: Final = re.compile(r"(?P<name>[A-Za-z0-9._-]{1,64}) (?P<digest>[0-9a-f]{64})(?P<page>( [a-z]+=\S+)*)")
_WORDS: Final = ("origins", "questions", "rate", "burst")
_RATE: Final = 1.0  # requests a second of one address, where a line does not say
_BURST: Final = 30
_LOOK_SECONDS: Final = 1.0
_KEY_BYTES: Final = 32


def digest(key: str) -> str:
    """Return what the file holds of a key; keys are random, so a plain hash cannot be searched back."""
    return hashlib.sha256(key.encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Page:
    """What a publishable key opens: to which origins, which questions, and how often for one address."""

    origins: frozenset[str]
    questions: frozenset[str]
    rate: float = _RATE
    burst: int = _BURST


@dataclass(frozen=True, slots=True)
class Key:
    """One line of the file; `page` is None of a secret key."""

    name: str
    digest: str
    page: Page | None = None


class Keys:
    """The keys of a file.

    Attributes:
        path: a line for each key: its name, a space, its SHA-256 in hexadecimal; of a publishable one also
            `origins=...,...` and `questions=...,...`, and where they are not the usual `rate=` and `burst=`. Two lines
            may bear one name.
        known: the keys as last read.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._stamp: tuple[int, int] = (0, 0)
        self._looked = -_LOOK_SECONDS
        self.known: tuple[Key, ...] = ()
        try:
            self._stamp = _stamp(path)
            self.known = _read(path)
        except (OSError, SettingError, UnicodeDecodeError) as error:
            told = getattr(error, "strerror", None) or str(error)
            raise SettingError(f"AIRBOUGH_KEYS_FILE: `{path.name}`: {told}") from None

    def of(self, key: str) -> Key | None:
        """Return the line of a key, or None; the time it takes tells nothing about the keys of the file."""
        self._look()
        given, found = digest(key), None
        for known in self.known:
            if hmac.compare_digest(given, known.digest):
                found = known
        return found

    def _look(self) -> None:
        """Read the file again where it changed; one that cannot be read leaves the keys as they are."""
        now = time.monotonic()
        if now - self._looked < _LOOK_SECONDS:
            return
        self._looked = now
        try:
            stamp = _stamp(self.path)
            if stamp != self._stamp:
                self.known = _read(self.path)
                self._stamp = stamp
        except (OSError, SettingError, UnicodeDecodeError) as error:
            logs.FAULTS.error("the file of keys cannot be read", extra={"said": {"type": type(error).__name__}})


def _stamp(path: Path) -> tuple[int, int]:
    found = path.stat()
    return found.st_mtime_ns, found.st_size


def _read(path: Path) -> tuple[Key, ...]:
    known = []
    for number, line in enumerate(path.read_text("utf-8").splitlines(), 1):
        if not line.strip() or line.startswith("#"):
            continue
        found = _LINE.fullmatch(line.strip())
        if found is None:
            raise SettingError(f"line {number}: not a name and a SHA-256")
        page = _page(found["page"].split(), number) if found["page"] else None
        known.append(Key(found["name"], found["digest"], page))
    return tuple(known)


def _page(words: list[str], number: int) -> Page:
    """Return what a publishable key opens.

    Raises:
        SettingError: what is wrong with it, and what would be right.
    """
    given = dict(word.split("=", 1) for word in words)
    wrong = [f"no such word: {word}" for word in given if word not in _WORDS]
    wrong += [f"a publishable key names its {word}" for word in ("origins", "questions") if not given.get(word)]
    origins, questions = (frozenset(given.get(word, "").split(",")) - {""} for word in ("origins", "questions"))
    wrong += [fault for origin in sorted(origins) if (fault := of_pages.fault(origin)) is not None]
    wrong += [f"`{origin}`: a key is bound to whole origins" for origin in sorted(origins) if "*" in origin]
    for word in sorted(questions - {call.name for call in CALLS}):
        near = difflib.get_close_matches(word, [call.name for call in CALLS], 1)
        wrong.append(f"no question `{word}`" + (f"; did you mean `{near[0]}`?" if near else ""))
    rate, burst = _RATE, _BURST
    try:
        rate, burst = float(given.get("rate", _RATE)), int(given.get("burst", _BURST))
    except ValueError:
        wrong.append("`rate` and `burst` are numbers")
    if not 0.0 < rate <= 1.0e6 or not 1 <= burst <= 1_000_000:
        wrong.append("`rate` is above 0 and `burst` at least 1")
    if wrong:
        raise SettingError(f"line {number}: {'; '.join(wrong)}")
    return Page(origins, questions, rate, burst)


def main() -> None:
    """Make a key; it is shown once and stored nowhere."""
    name, *words = sys.argv[1:] or [""]
    key = secrets.token_urlsafe(_KEY_BYTES)
    line = " ".join([f"{name} {digest(key)}", *words])
    usage = "usage: python -m airbough_service.api.admission.keys NAME  (letters, digits, . _ -)"
    if not _LINE.fullmatch(line):
        raise SystemExit(f"{usage}, for a page also origins=https://HOST,... questions=quote,... [rate=1 burst=30]")
    try:
        if words:
            _page(words, 1)
    except SettingError as error:
        raise SystemExit(str(error).removeprefix("line 1: ")) from None
    sys.stdout.write(f"key, for the {'page' if words else 'caller'}: {key}\nline, for the file: {line}\n")


if __name__ == "__main__":
    main()
