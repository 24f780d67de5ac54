"""The finding codes of the duty cycle. A code's meaning never changes."""

from __future__ import annotations

from typing import Final

from airbough.wire.answer import Severity

CODES: Final[dict[str, tuple[Severity, str]]] = {
    "chips-left-in-duct": (
        "warning",
        "a gate shuts or the fan stops before the last chips, moving with the air, have reached the collector",
    ),
    "machine-without-fan": ("warning", "a machine is on while the fan stands still for its rest"),
    "hood-without-air": (
        "warning",
        "a machine works while a shut gate on its way to the collector lets no air through",
    ),
    "too-many-starts": ("warning", "the fan starts more often in some 3,600 s than allowed"),
    "bin-full": ("warning", "the chips of the day reach the bin's volume"),
    "machine-without-gate": ("note", "a machine has no gate, so air enters its hood all day"),
    "machine-not-named": ("note", "a machine of the tree is not named in the day: it stays off and its gates shut"),
    "chips-not-counted": ("note", "a machine that works gives no chip volume, so chips and bin leave it out"),
    "energy-not-known": ("note", "the power of a state of the day is not known, so energy and cost are left out"),
    "clearing-not-known": ("note", "the flow of a state is not known, so whether chips are left there is not judged"),
    "clearing-not-listed": ("note", "the day has too many states for all clearing times to be listed"),
}
"""Code -> severity and meaning."""
