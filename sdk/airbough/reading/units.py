"""The only table of units: exact factors into SI, by kind and spelling, and the presets' own.

SI is m, m3/s, Pa, m/s, K, W, J, kg/m3, Pa*s, m2, m3, s, V, A, N; an angle stays in degrees, a share is 0..1.
"""

from __future__ import annotations

from typing import Final

from airbough.wire.quantity import PRESET_UNITS

_FOOT: Final = 0.3048  # International foot, exact (1959 agreement)
_POUND: Final = 0.45359237  # avoirdupois pound, exact
_GRAVITY: Final = 9.80665  # standard acceleration of free fall, m/s2, exact (1901)
_BTU: Final = 1055.05585262  # International Table British thermal unit, J, exact (1956)
_FEET: Final = {"ft": _FOOT, "in": _FOOT / 12, "mm": 0.001, "cm": 0.01, "m": 1.0}

_TIMES: Final = {"s": 1.0, "min": 60.0, "h": 3600.0}

_FACTORS: Final[dict[str, dict[str, float]]] = {
    "flow": {
        "cfm": _FOOT**3 / 60,
        "ft^3/min": _FOOT**3 / 60,
        "ft3/min": _FOOT**3 / 60,
        "m^3/h": 1 / 3600,
        "m3/h": 1 / 3600,
        "m^3/s": 1.0,
        "m3/s": 1.0,
        "L/s": 0.001,
    },
    "velocity": {"fpm": _FOOT / 60, "ft/min": _FOOT / 60, "m/s": 1.0},
    "pressure": {
        "inH2O": 249.08891,  # conventional inch of water, 25.4 * 9.80665 Pa
        "inWC": 249.08891,
        "inwg": 249.08891,
        "Pa": 1.0,
        "kPa": 1000.0,
        "mmH2O": 9.80665,
    },
    "length": _FEET,
    "diameter": _FEET,
    "roughness": _FEET,
    "altitude": _FEET,
    "temperature": {"degF": 5 / 9, "degC": 1.0, "K": 1.0},
    "power": {"hp": 745.69987, "W": 1.0, "kW": 1000.0},
    "angle": {"deg": 1.0},
    "share": {"%": 0.01},
    "area": {
        "ft^2": _FOOT**2,
        "ft2": _FOOT**2,
        "m^2": 1.0,
        "m2": 1.0,
        "in^2": (_FOOT / 12) ** 2,
        "in2": (_FOOT / 12) ** 2,
        "mm^2": 1.0e-6,
        "mm2": 1.0e-6,
    },
    "volume": {"ft^3": _FOOT**3, "ft3": _FOOT**3, "m^3": 1.0, "m3": 1.0, "L": 0.001},
    "density": {"lb/ft^3": _POUND / _FOOT**3, "lb/ft3": _POUND / _FOOT**3, "kg/m^3": 1.0, "kg/m3": 1.0},
    "viscosity": {"lb/(ft*s)": _POUND / _FOOT, "Pa*s": 1.0},
    "energy": {"kWh": 3.6e6, "J": 1.0, "MJ": 1.0e6},
    "heat": {"BTU/h": _BTU / 3600, "W": 1.0, "kW": 1000.0},
    "time": _TIMES,
    "clock": _TIMES,
    "voltage": {"V": 1.0},
    "current": {"A": 1.0},
    "force": {"lbf": _POUND * _GRAVITY, "N": 1.0},
}
_OFFSETS: Final = {"degF": 459.67 * 5 / 9, "degC": 273.15}

TABLE: Final[dict[str, dict[str, tuple[float, float]]]] = {
    kind: {spelling: (factor, _OFFSETS.get(spelling, 0.0)) for spelling, factor in factors.items()}
    for kind, factors in _FACTORS.items()
}
"""Kind -> spelling -> (factor, offset): SI value = value * factor + offset."""

_BARE: Final = (1.0, 0.0)
PRESETS: Final[dict[str, dict[str, tuple[float, float]]]] = {
    preset: {kind: TABLE[kind].get(of_kind.get(kind, ""), _BARE) for kind in TABLE}
    for preset, of_kind in PRESET_UNITS.items()
}

_SLACK: Final = 1.0e-9


def unit(kind: str, preset: str) -> str:
    """Return the unit of this kind in the preset; empty for a share."""
    return PRESET_UNITS[preset].get(kind, "")


def value(kind: str, si: float, preset: str) -> float:
    """Return an SI value in the preset's unit of its kind."""
    factor, offset = PRESETS[preset][kind]
    return (si - offset) / factor


def from_preset(kind: str, number: float, preset: str) -> float:
    """Return the SI value of a bare number in the preset's unit of its kind."""
    factor, offset = PRESETS[preset][kind]
    return number * factor + offset


def with_slack(low: float, high: float) -> tuple[float, float]:
    """Return a printed range, wider by what rounding of units does."""
    return low - _SLACK * abs(low), high + _SLACK * abs(high)


def printed_range(kind: str, low: float, high: float, preset: str) -> str:
    """Return a range given in SI as text in the preset's unit, such as `0.393701 to 118.11 in`."""
    shown = f"{_short(value(kind, low, preset))} to {_short(value(kind, high, preset))}"
    return f"{shown} {unit(kind, preset)}".rstrip()


def _short(number: float) -> str:
    text = f"{number:.6g}"
    return "0" if text == "-0" else text
