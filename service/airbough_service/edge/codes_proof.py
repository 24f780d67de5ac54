"""Codes of findings about proof and comparison: code -> severity and meaning. A code's meaning never changes."""

from __future__ import annotations

from typing import Final

from airbough.wire.answer import Severity

CODES: Final[dict[str, tuple[Severity, str]]] = {
    "draws-beyond-curve": (
        "note",
        "some draws cross the fan's curve outside its points and are left out",
    ),
    "readings-not-explained": ("warning", "no single suspect brings the readings within their spreads"),
    "suspects-not-parted": ("note", "two suspects explain the readings alike; a further reading would part them"),
    "reading-far-off": ("warning", "a reading lies far from what is computed for the stated gates"),
    "no-reading-to-spare": ("note", "as many things are unknown as there are readings; nothing is left to check them"),
}
"""Finding code -> severity and meaning."""
