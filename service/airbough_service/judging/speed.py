"""A speed that no duct sees, in the answers to single questions."""

from __future__ import annotations

from airbough.wire.answer import Finding, Suggestion
from airbough.wire.quantity import Preset
from airbough_service.catalogue.checks import check
from airbough_service.core.limits import above
from airbough_service.terms.finding import finding, show


def beyond_sense(preset: Preset, velocity: float | None) -> tuple[Finding, ...]:
    """Return the finding of a velocity [m/s] beyond what one density, or any workshop's fan, can answer for."""
    limit = check("sensible-speed")
    if velocity is None or not above(velocity, limit.value):
        return ()
    return (
        finding(
            preset,
            "speed-beyond-sense",
            f"{show(preset, 'velocity', velocity)} is beyond sense: above {show(preset, 'velocity', limit.value)} air "
            "is no longer of one density, and no fan of a workshop moves it",
            quantity="velocity",
            kind="velocity",
            value=velocity,
            maximum=limit.value,
            suggestion=Suggestion(text="look again at flow and diameter, and at the units they were given in"),
            source=limit.passport.source,
        ),
    )
