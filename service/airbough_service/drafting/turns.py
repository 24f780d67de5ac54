"""What turns the air by an angle where nobody says which fitting does: one elbow, or two beyond what is sold."""

from __future__ import annotations

from airbough.wire.fitting import Elbow, ElbowPair
from airbough_service.catalogue.checks import check
from airbough_service.core.limits import above


def elbows(angle: float, radius_ratio: float | None, construction: str | None = None) -> Elbow | ElbowPair:
    """Return an elbow of an angle [deg]; above the greatest that is sold two of half the angle, one on the other.

    Args:
        angle: of the whole turn.
        radius_ratio: centreline radius over diameter.
        construction: a word of the catalogue; None where nobody says.
    """
    if above(angle, check("elbow-greatest").value):
        return ElbowPair(angle=angle, radius_ratio=radius_ratio, construction=construction)
    return Elbow(angle=angle, radius_ratio=radius_ratio, construction=construction)
