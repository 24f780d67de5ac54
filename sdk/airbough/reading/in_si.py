"""A request's quantities as SI numbers, each within its printed range."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache
from typing import Any, Final, TypeVar

from msgspec import Struct, structs

from airbough.reading import quantity_text
from airbough.reading.converters import (
    Convert,
    Converters,
)
from airbough.reading.units import (
    PRESETS,
    printed_range,
    with_slack,
)
from airbough.reading.wrong import wrong
from airbough.wire.places import Place, places_of
from airbough.wire.quantity import RANGES

_FLOAT: Final = {float}
_MOST_KEPT: Final = 512  # structs of one type whose quantities are remembered as SI numbers
AnyStruct = TypeVar("AnyStruct", bound=Struct)


def _unsigned(number: float, _: Any) -> float:
    return 0.0 if number == 0.0 and math.copysign(1.0, number) < 0.0 else number  # itself, that defaults are known


def _states_all(struct: type[Struct]) -> bool:
    """Return whether equal structs of a type are told alike: a default that is stated is, one left out is not."""
    inside = any(place.structs for place in places_of(struct).values())
    return not inside and not any(type(field.default) is float for field in structs.fields(struct))


class _Reading(Converters):
    """Converters of requests in one preset; a struct with `units` of its own is read in them, at any depth.

    Structs with a `type`, as fittings and entries are, come again and again: what equal ones become is kept.
    -0.0 becomes 0.0: the two are equal, so of what is kept for one the other would be told.
    """

    number = staticmethod(_unsigned)

    def __init__(self, preset: str) -> None:
        super().__init__()
        self.preset = preset

    def _compiled(self, struct: type[Struct]) -> Convert | None:
        convert = super()._compiled(struct)
        if convert is None or struct.__struct_config__.tag is None or not _states_all(struct):
            return convert
        return lru_cache(_MOST_KEPT)(convert)

    def quantity(self, extra: Mapping[str, Any]) -> Convert:
        kind: str = extra["kind"]
        low, high = extra.get("range", RANGES[kind])
        least, most = with_slack(low, high)
        factor, offset = PRESETS[self.preset][kind]

        def read(written: Any, _: Any) -> float:
            if type(written) is str:
                si = quantity_text.parse(written, kind)
            elif type(written) in (float, int):
                si = written * factor + offset
            else:
                raise wrong("wrong-type", "a number or a text with a unit")
            if least <= si <= most:
                return si
            raise wrong("out-of-range", f"must be {printed_range(kind, low, high, self.preset)}")

        return read

    def quickly(self, place: Place) -> tuple[str, str]:
        if place.kind is None:
            return "x != 0.0", "x"
        kind: str = place.kind
        least, most = with_slack(*place.extra.get("range", RANGES[kind]))
        factor, offset = PRESETS[self.preset][kind]
        return f"{least!r} <= (si := x * {factor!r} + {offset!r}) <= {most!r}", "si"

    def scalars(self, place: Place, container: type) -> Convert | None:
        if place.kind is None or place.structs or place.container or place.nullable:
            return None
        least, most = with_slack(*place.extra.get("range", RANGES[place.kind]))
        factor, offset = PRESETS[self.preset][place.kind]
        each = self.quantity(place.extra)

        def read(written: Any, context: Any) -> Any:
            if {*map(type, written)} == _FLOAT:
                made = container([number * factor + offset for number in written])
                if least <= min(made) and max(made) <= most and (whole := sum(made)) - whole == 0.0:  # no NaN either
                    return made
            return container([each(one, context) for one in written])

        return read

    def begin(self, struct: type[Struct], names: dict[str, Any]) -> list[str]:
        if "units" not in places_of(struct):
            return []
        names["own"] = _own
        return [f"if value.units != {self.preset!r} and value.units in own: return own[value.units](value, context)"]


_READING: Final = {preset: _Reading(preset) for preset in PRESETS}
_own: Final[dict[str, Convert]] = {preset: reading.struct for preset, reading in _READING.items()}


def reader(place: Place, preset: str) -> Convert | None:
    """Return what gives the SI value of what stands at a place, read in a preset; None where it is itself.

    It takes what is not null, and None as its context, and raises as `to_si`.
    """
    return _READING[preset].conversion(place)


def to_si(request: AnyStruct) -> AnyStruct:
    """Return the request with every quantity as an SI float; bare numbers are in the preset `request.units`.

    Raises:
        Wrong: with the first thing that is wrong, its path left out.
    """
    return _own[request.units](request, None)  # type: ignore[attr-defined, no-any-return]  # every request has them
