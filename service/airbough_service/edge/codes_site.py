"""Codes of findings on site and about the room: code -> severity and meaning. A code's meaning never changes."""

from __future__ import annotations

from typing import Final

from airbough.wire.answer import Severity

CODES: Final[dict[str, tuple[Severity, str]]] = {
    "duct-may-collapse": ("danger", "suction in a run exceeds what its wall is reckoned to bear"),
    "unknown-wall": ("note", "a run's wall is not known, so its strength is not judged"),
    "shut-off-not-on-curve": (
        "note",
        "the fan's curve does not begin at no flow; shut-off may be deeper than its points",
    ),
    "combustion-appliance-backdraft": (
        "danger",
        "the room is drawn below the limit taken for a combustion appliance in it",
    ),
    "depressurization-not-known": (
        "warning",
        "a combustion appliance is declared and no opening, so nothing is judged",
    ),
    "make-up-air-short": ("warning", "the openings given draw the room below the depressurisation allowed"),
    "power-beyond-points": ("note", "the flow lies beyond the power points; no power is told"),
    "negative-reading": ("warning", "a velocity pressure is below zero; it counts as no flow, and the place is unfit"),
    "reading-near-zero": ("note", "a velocity pressure is small beside the greatest"),
    "uneven-profile": ("warning", "too few readings come near the greatest; the place is unfit for a traverse"),
    "depth-off-point": ("warning", "a reading was taken away from the rule's point"),
    "traverse-too-close": ("warning", "too little straight duct before or after the plane"),
    "placing-not-known": ("note", "the straight lengths before and after the plane were not given"),
    "small-duct-traverse": ("note", "the bore is below that of the standard method; the tube itself disturbs"),
    "one-diameter": ("note", "one diameter does not show a lopsided profile"),
    "tap-too-close": ("warning", "the static tap stands too near the hood"),
}
"""Finding code -> severity and meaning."""
