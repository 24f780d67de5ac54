"""API keys: a file of names and hashes, read again when it changes, so that keys come and go without a restart.

`python -m airbough_service.api.admission.keys NAME` makes a key and the line for the file.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
import sys
import time
from pathlib import Path
from typing import Final

from airbough_service.api.observe import logs
from airbough_service.api.settings import SettingError

_LINE: Final = re.compile(r"(?P<name>[A-Za-z0-9._-]{1,64}) (?P<digest>[0-9a-f]{64})")
_LOOK_SECONDS: Final = 1.0
_KEY_BYTES: Final = 32


def digest(key: str) -> str:
    """Return what the file holds of a key; keys are random, so a plain hash cannot be searched back."""
    return hashlib.sha256(key.encode()).hexdigest()


class Keys:
    """The keys of a file.

    Attributes:
        path: a line for each key: its name, a space, its SHA-256 in hexadecimal. Two lines may bear one name.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._stamp: tuple[int, int] = (0, 0)
        self._looked = -_LOOK_SECONDS
        self._known: tuple[tuple[str, str], ...] = ()
        try:
            self._stamp = _stamp(path)
            self._known = _read(path)
        except (OSError, SettingError, UnicodeDecodeError) as error:
            told = getattr(error, "strerror", None) or str(error)
            raise SettingError(f"AIRBOUGH_KEYS_FILE: `{path.name}`: {told}") from None

    def name_of(self, key: str) -> str | None:
        """Return the name of a key, or None; the time it takes tells nothing about the keys of the file."""
        self._look()
        given, found = digest(key), None
        for name, known in self._known:
            if hmac.compare_digest(given, known):
                found = name
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
                self._known = _read(self.path)
                self._stamp = stamp
        except (OSError, SettingError, UnicodeDecodeError) as error:
            logs.FAULTS.error("the file of keys cannot be read", extra={"said": {"type": type(error).__name__}})


def _stamp(path: Path) -> tuple[int, int]:
    found = path.stat()
    return found.st_mtime_ns, found.st_size


def _read(path: Path) -> tuple[tuple[str, str], ...]:
    known = []
    for number, line in enumerate(path.read_text("utf-8").splitlines(), 1):
        if not line.strip() or line.startswith("#"):
            continue
        found = _LINE.fullmatch(line.strip())
        if found is None:
            raise SettingError(f"line {number}: not a name and a SHA-256")
        known.append((found["name"], found["digest"]))
    return tuple(known)


def main() -> None:
    """Make a key; it is shown once and stored nowhere."""
    name = sys.argv[1] if len(sys.argv) == 2 else ""
    key = secrets.token_urlsafe(_KEY_BYTES)
    line = f"{name} {digest(key)}"
    if not _LINE.fullmatch(line):
        raise SystemExit("usage: python -m airbough_service.api.admission.keys NAME  (letters, digits, . _ -)")
    sys.stdout.write(f"key, for the caller: {key}\nline, for the file: {line}\n")


if __name__ == "__main__":
    main()
