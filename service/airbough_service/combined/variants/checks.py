"""The checks of a state by their words: the finding that says that one does not hold, and where one is judged."""

from __future__ import annotations

from typing import Final

from airbough.wire.variants import Check
from airbough_service.judging.state_findings import with_its_fan
from airbough_service.solving.power import shaft_of
from airbough_service.solving.solved_state import Solved, power_of

FINDINGS: Final[dict[Check, str]] = {
    "way-open": "all-gates-shut",
    "zone-gates": "shut-off-downstream",
    "fan-curve": "fan-beyond-curve",
    "shut-off": "shut-off-not-on-curve",
    "one-crossing": "several-operating-points",
    "transport-velocity": "below-transport-velocity",
    "upper-velocity": "needlessly-fast",
    "design-flow": "hood-starved",
    "turbulence": "transitional-flow",
    "suction": "compressibility-neglected",
    "fan-speed": "fan-above-rated-speed",
    "power-points": "power-beyond-points",
    "motor-load": "motor-overloaded",
}
"""Check -> the code of the finding that is there where it does not hold."""


def of_state(solved: Solved) -> dict[Check, bool | None]:
    """Return whether each check holds in a state solved alone; None where it is not judged."""
    found = {one.code for one in with_its_fan(solved)}
    judged = _judged(solved)
    return {check: code not in found if judged.get(check, True) else None for check, code in FINDINGS.items()}


def _judged(solved: Solved) -> dict[Check, bool]:
    """Return, of checks that are not always judged, whether they are."""
    on_curve, crosses = solved.operating.outcome != "beyond-fan-curve", bool(solved.operating.crossings)
    carries = crosses and any(run.carrying_ratio is not None for run in solved.runs)
    needs = crosses and any(hood.open and hood.design_flow is not None for hood in solved.hoods)
    powered = crosses and solved.known and shaft_of(solved.shop, solved.fan) is not None
    spent = power_of(solved) if powered else None
    return {
        "shut-off": on_curve,
        "one-crossing": on_curve,
        "transport-velocity": carries,
        "upper-velocity": carries,
        "design-flow": needs,
        "turbulence": crosses,
        "suction": bool(solved.runs),
        "power-points": powered,
        "motor-load": spent is not None and spent.motor_load is not None,
    }
