"""The finding codes of gate states. A code's meaning never changes."""

from __future__ import annotations

from typing import Final

from airbough.wire.answer import Severity

CODES: Final[dict[str, tuple[Severity, str]]] = {
    "open-further-gates": ("warning", "a check fails in a state of the gates, and opening further gates mends it"),
    "no-gates-mend": ("warning", "a check fails in a state of the gates, and no set of further gates mends it"),
    "mending-not-found": (
        "warning",
        "a check fails in a state of the gates; of the sets of further gates tried, not all there are, none mends it",
    ),
    "mending-not-searched": ("note", "more named states fail than further gates were searched for"),
}
"""Code -> severity and meaning."""
