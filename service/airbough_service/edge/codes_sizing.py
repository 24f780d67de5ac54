"""Codes of sizing's own findings: code -> severity and meaning. A code's meaning never changes."""

from __future__ import annotations

from typing import Final

from airbough.wire.answer import Severity

CODES: Final[dict[str, tuple[Severity, str]]] = {
    "no-size-fits": ("warning", "no choice of bores from the stock keeps every rule that it must"),
    "preferred-rule-broken": ("warning", "a rule that was preferred does not hold everywhere"),
    "fan-falls-short": ("warning", "the fan has less pressure at a state's design flow than the sized tree needs"),
    "sizing-not-proved": ("note", "the bores may not be the best; the bound is told"),
    "piece-not-priced": ("note", "a fixed run keeps pieces that are not in the stock, so they are not in the price"),
}
"""Finding code -> severity and meaning."""
