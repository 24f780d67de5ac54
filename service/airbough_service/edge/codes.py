"""Every finding code, its severity and its meaning. A code's meaning never changes."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from typing import Final

from airbough.wire.answer import Severity


@dataclass(frozen=True, slots=True)
class Code:
    """A finding's severity and meaning."""

    severity: Severity
    meaning: str


_OWN: Final[dict[str, tuple[Severity, str]]] = {
    "all-gates-shut": (
        "danger",
        "every gate is shut while the fan runs: at most leaks flow, and the duct sees full suction",
    ),
    "sparks-into-wood-dust": ("danger", "a machine that throws sparks shares a duct with wood dust"),
    "fan-above-rated-speed": ("danger", "the fan is asked to run faster than the speed of its curve"),
    "motor-overloaded": ("danger", "the shaft power exceeds the motor's rated power"),
    "below-transport-velocity": ("warning", "air in a run is too slow to carry its dust in this state"),
    "hood-starved": ("warning", "a hood gets less than its design flow"),
    "fan-beyond-curve": ("warning", "the system crosses the fan's curve outside its given points"),
    "several-operating-points": ("warning", "fan and system cross more than once; the fan may hunt between them"),
    "narrower-than-upstream": ("warning", "a run is narrower than one that flows into it"),
    "gate-needed": ("warning", "a branch must absorb pressure and has no gate"),
    "resize-branch": ("warning", "a branch is too far from balance to be mended by flow; it needs another bore"),
    "nonconductive-duct": ("warning", "a duct of nonconductive material cannot be bonded along its length"),
    "fine-dust-returned-to-room": ("warning", "air with fine dust may come back into the room"),
    "abrupt-change": ("warning", "a change of diameter without a taper"),
    "square-tee": ("warning", "a branch joins at or near 90 degrees"),
    "machine-port-bottleneck": (
        "warning",
        "a machine's port or inside takes more than half of the pressure on its path",
    ),
    "sharp-turn": ("note", "a sharp turn that a gentler one would ease"),
    "needlessly-fast": ("note", "air is faster than its purpose needs; power and wear rise"),
    "outside-correlation-range": ("note", "a value is computed beyond the published range of its source"),
    "compressibility-neglected": ("note", "suction above 20 inH2O: one density for the whole tree is a rough reading"),
    "transport-not-judged": ("note", "no dust was named, so transport velocity is not judged"),
    "stretch-assumed": ("note", "a hose without `stretch` was given the catalogue's typical value"),
    "close-coupled": (
        "note",
        "fittings stand so close that they disturb one another; the sum of their losses is rough",
    ),
    "transitional-flow": ("note", "the flow in a run is between laminar and turbulent; friction there is bridged"),
}

_ELSEWHERE: Final = ("codes_take_off", "codes_duty_cycle", "codes_site", "codes_states", "codes_sizing", "codes_proof")


def _all() -> dict[str, Code]:
    """Return every code, those of the single questions included."""
    table = {code: Code(*entry) for code, entry in _OWN.items()}
    for module in _ELSEWHERE:
        try:
            codes = import_module(f"airbough_service.edge.{module}").CODES
        except ModuleNotFoundError:
            continue
        table.update({code: Code(*entry) for code, entry in codes.items()})
    return table


CODES: Final[dict[str, Code]] = _all()
"""Finding code -> severity and meaning."""
