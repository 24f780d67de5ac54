"""The air of a measurement, and where its numbers come from."""

from __future__ import annotations

from airbough.wire.air import (
    Air,
    AirResult,
)
from airbough_service import catalogue
from airbough_service.shop.air import air_of
from airbough_service.terms.refusal import Refusal
from airbough_service.terms.sources import (
    Origin,
    origins,
)


def measured_air(asked: Air | None) -> tuple[AirResult, set[Origin]]:
    """Return the air asked for, standard air where none is, and its origins.

    Raises:
        Refusal: where altitude and pressure are both given, or no such air exists.
    """
    told, faults = air_of(asked, "air")
    if faults:
        raise Refusal("not-computable", faults)
    if told.standard:
        return told, origins(catalogue.standard_air().passport)
    if told.temperature is None or told.pressure is None or told.humidity is None:
        return told, set()
    return told, origins(*catalogue.moist_air(told.temperature, told.pressure, told.humidity).passports)
