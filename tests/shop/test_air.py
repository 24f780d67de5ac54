"""The air a request says, and what is taken where it says less."""

import msgspec

from airbough.wire.air import Air
from airbough_service import catalogue
from airbough_service.shop.air import air_of

KELVIN = 273.15


def test_what_the_fields_say_of_air_left_out_is_what_is_taken():
    told = {name: field.type for name, field in ((one.name, one) for one in msgspec.structs.fields(Air))}
    kelvin, humidity = catalogue.usual_air()
    assert f"Left out: {kelvin - KELVIN:g} degC." in str(told["temperature"])
    assert f"Left out: {humidity:g}." in str(told["humidity"])


def test_density_and_viscosity_of_ones_own_leave_what_else_is_said_of_the_air():
    own, faults = air_of(Air(density=1.1, viscosity=1.8e-5, temperature=283.15), "air")
    assert (own.density, own.viscosity, own.temperature, own.humidity) == (1.1, 1.8e-5, 283.15, 0.5)
    assert not faults
    alone, _ = air_of(Air(density=1.1, viscosity=1.8e-5), "air")
    assert (alone.temperature, alone.pressure, alone.humidity) == (None, None, None)
    _, (fault,) = air_of(Air(density=1.1, viscosity=1.8e-5, temperature=413.15, humidity=0.9), "air")
    assert fault.path == "air.humidity"
