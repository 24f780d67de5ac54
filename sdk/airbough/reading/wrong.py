"""What a walk found wrong, with a path that grows on the way up."""

from __future__ import annotations

from typing import TypeAlias

from airbough.wire.places import below

Found: TypeAlias = tuple[str, str, str]
"""Path, code and detail of something wrong."""


class Wrong(Exception):
    """What was found wrong below this point; each level of a walk puts its own step before the paths."""

    def __init__(self, found: list[Found]) -> None:
        super().__init__("; ".join(f"{path}: {detail}" for path, _, detail in found))
        self.found = found

    def under(self, step: str) -> list[Found]:
        """Return what was found as seen from one level up."""
        return [(below(step, path), code, detail) for path, code, detail in self.found]


def wrong(code: str, detail: str) -> Wrong:
    """Return the exception for one thing wrong at this very point."""
    return Wrong([("", code, detail)])
