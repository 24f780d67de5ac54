"""How long a taper is: that which is advised, drafted, and taken where a stock does not say."""

from __future__ import annotations

from airbough_service import catalogue
from airbough_service.catalogue.checks import check


def usual_length(upstream: float, downstream: float) -> float:
    """Return the usual length of a taper between two diameters, all in m: common practice (`taper-length`)."""
    longest = catalogue.family("taper").parameters["length"].maximum
    wanted = check("taper-length").value * abs(upstream - downstream)
    return min(max(wanted, check("taper-shortest").value), longest)
