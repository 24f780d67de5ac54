"""A request's quantities as SI numbers, each within its printed range."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, TypeVar

from msgspec import Struct

from airbough.reading import quantity_text
from airbough.reading.units import (
    PRESETS,
    printed_range,
    with_slack,
)
from airbough.reading.walk import (
    Convert,
    Walker,
)
from airbough.reading.wrong import wrong
from airbough.wire.quantity import RANGES

AnyStruct = TypeVar("AnyStruct", bound=Struct)


def _asked(extra: Mapping[str, Any]) -> Convert:
    kind: str = extra["kind"]
    low, high = extra.get("range", RANGES[kind])
    least, most = with_slack(low, high)
    factors = {preset: of_kind[kind] for preset, of_kind in PRESETS.items()}

    def read(written: Any, preset: str) -> float:
        if type(written) is float:
            factor, offset = factors[preset]
            si: float = written * factor + offset
        else:
            si = _read(written, kind, factors[preset])
        if least <= si <= most:
            return si
        raise wrong("out-of-range", f"must be {printed_range(kind, low, high, preset)}")

    return read


def _read(written: Any, kind: str, factors: tuple[float, float]) -> float:
    """Return the SI value of what is not a plain float: a text, or a whole number."""
    if type(written) is str:
        return quantity_text.parse(written, kind)
    if type(written) is int:
        return written * factors[0] + factors[1]
    raise wrong("wrong-type", "a number or a text with a unit")


class _Reading(Walker):
    """A struct with `units` of its own is read in them, at any depth."""

    def struct(self, value: Struct, context: Any) -> Struct:
        own = getattr(value, "units", context)
        return super().struct(value, own if own in PRESETS else context)


_reading: Final = _Reading(_asked)


def to_si(request: AnyStruct) -> AnyStruct:
    """Return the request with every quantity as an SI float; bare numbers are in the preset `request.units`.

    Raises:
        Wrong: with every place that is wrong.
    """
    return _reading.struct(request, None)  # type: ignore[return-value]  # a struct keeps its type
