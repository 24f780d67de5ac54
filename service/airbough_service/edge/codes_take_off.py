"""The finding codes of a take-off."""

from __future__ import annotations

from typing import Final

from airbough.wire.answer import Severity

CODES: Final[dict[str, tuple[Severity, str]]] = {
    "lip-against-flow": (
        "warning",
        "a piece made for supply air would receive where it must enter: its neighbour's lip would face the flow",
    ),
    "not-stocked": ("warning", "the stock list has no piece for something that the tree needs"),
    "edge-faces-flow": ("note", "an inner edge stays that faces the flow; chips may catch on it"),
    "piece-turned": ("note", "stock pieces are laid the other way round so that their joints hold"),
    "plain-cut-end": ("note", "a cut takes the formed end off: what is left there is a plain end"),
    "cutting-not-proved": ("note", "the cutting plan may not be the best; its bound is told"),
    "stretches-not-given": ("note", "where a run's fittings sit was not told; its straight duct counts as one piece"),
    "end-not-judged": ("note", "a joint was not judged, as the end of one of its pieces is not known"),
    "fitting-length-unknown": ("note", "a fitting's length is not known, so nothing was taken off its run for it"),
    "no-stock": ("note", "no stock list was given: only what is required is listed"),
    "price-missing": ("note", "a line has no price, so the sum is not the whole price"),
}
"""Finding code -> severity and meaning."""
