"""The kinds of quantity on the wire: a bare number in the preset's unit, or text with a unit of its own.

Only spellings stand here; `airbough.reading.units` has the factors and `airbough.reading.quantity_text` the grammar.
"""

from __future__ import annotations

from decimal import Decimal
from math import gcd
from typing import Annotated, Any, Final, Literal, TypeAlias

from msgspec import Meta

Preset: TypeAlias = Annotated[
    Literal["us", "metric"],
    Meta(description="The preset of units: bare numbers of the request and all numbers of the answer are in it."),
]

SPELLINGS: Final[dict[str, tuple[str, ...]]] = {
    "flow": ("cfm", "ft^3/min", "ft3/min", "m^3/h", "m3/h", "m^3/s", "m3/s", "L/s"),
    "velocity": ("fpm", "ft/min", "m/s"),
    "pressure": ("inH2O", "inWC", "inwg", "Pa", "kPa", "mmH2O"),
    "length": ("ft", "in", "mm", "cm", "m"),
    "diameter": ("ft", "in", "mm", "cm", "m"),
    "roughness": ("ft", "in", "mm", "cm", "m"),
    "altitude": ("ft", "in", "mm", "cm", "m"),
    "temperature": ("degF", "degC", "K"),
    "power": ("hp", "W", "kW"),
    "angle": ("deg",),
    "share": ("%",),
    "area": ("ft^2", "ft2", "m^2", "m2", "in^2", "in2", "mm^2", "mm2"),
    "volume": ("ft^3", "ft3", "m^3", "m3", "L"),
    "density": ("lb/ft^3", "lb/ft3", "kg/m^3", "kg/m3"),
    "viscosity": ("lb/(ft*s)", "Pa*s"),
    "energy": ("kWh", "J", "MJ"),
    "heat": ("BTU/h", "W", "kW"),
    "time": ("s", "min", "h"),
    "clock": ("s", "min", "h"),
    "voltage": ("V",),
    "current": ("A",),
    "force": ("lbf", "N"),
}
"""Kind -> the spellings of its units; with `ALSO_READ` the closed list of what a quantity's text may use."""

ALSO_READ: Final[dict[str, tuple[str, ...]]] = {
    "ft": ("ft.", "foot", "feet", "'"),
    "in": ("in.", "inch", "inches", '"'),
    "mm": ("millimeter", "millimeters", "millimetre", "millimetres"),
    "cm": ("centimeter", "centimeters", "centimetre", "centimetres"),
    "m": ("meter", "meters", "metre", "metres"),
    "inH2O": ("in H2O", "in. H2O"),
    "inWC": ("in WC", "in. WC", "in. w.c."),
    "inwg": ("in wg", "in. wg", "in. w.g."),
    "mmH2O": ("mm H2O",),
    "Pa": ("pascal", "pascals"),
    "kPa": ("kilopascal", "kilopascals"),
    "degF": ("F", "deg F", "degrees Fahrenheit", "Fahrenheit"),
    "degC": ("C", "deg C", "degrees Celsius", "Celsius"),
    "K": ("kelvin",),
    "hp": ("horsepower",),
    "W": ("watt", "watts"),
    "kW": ("kilowatt", "kilowatts"),
    "deg": ("degree", "degrees"),
    "%": ("percent",),
    "s": ("sec", "second", "seconds"),
    "min": ("minute", "minutes"),
    "h": ("hour", "hours"),
    "V": ("volt", "volts"),
    "N": ("newton", "newtons"),
}
"""Spelling -> other ways of writing it; in any case, like the spellings themselves, but for `MJ`."""

PRESET_UNITS: Final[dict[str, dict[str, str]]] = {
    "us": {
        "length": "ft",
        "diameter": "in",
        "roughness": "ft",
        "flow": "ft^3/min",
        "area": "ft^2",
        "volume": "ft^3",
        "altitude": "ft",
        "velocity": "ft/min",
        "pressure": "inH2O",
        "temperature": "degF",
        "density": "lb/ft^3",
        "viscosity": "lb/(ft*s)",
        "power": "hp",
        "heat": "BTU/h",
        "energy": "kWh",
        "angle": "deg",
        "time": "s",
        "clock": "s",
        "voltage": "V",
        "current": "A",
        "force": "lbf",
    },
    "metric": {
        "length": "m",
        "diameter": "mm",
        "roughness": "mm",
        "flow": "m^3/h",
        "area": "m^2",
        "volume": "m^3",
        "altitude": "m",
        "velocity": "m/s",
        "pressure": "Pa",
        "temperature": "degC",
        "density": "kg/m^3",
        "viscosity": "Pa*s",
        "power": "kW",
        "heat": "kW",
        "energy": "kWh",
        "angle": "deg",
        "time": "s",
        "clock": "s",
        "voltage": "V",
        "current": "A",
        "force": "N",
    },
}
"""Preset -> kind -> the unit of bare numbers and of answers."""

_PRINTED: Final[dict[str, str]] = {
    "ft^3/min": "cfm",
    "ft/min": "fpm",
    "inH2O": "in. wg",
    "in": "in.",
    "ft^2": "ft²",
    "ft^3": "ft³",
    "lb/ft^3": "lb/ft³",
    "degF": "°F",
    "m^3/h": "m³/h",
    "m^2": "m²",
    "m^3": "m³",
    "kg/m^3": "kg/m³",
    "degC": "°C",
}


def printed(unit: str) -> str:
    """Return a preset's unit as the trade writes it in a sentence or a heading, such as `cfm` for `ft^3/min`."""
    return _PRINTED.get(unit, unit)


def length_told(metres: float, preset: str, *, feet: bool = True) -> str:
    """Return a length as a rule shows it: `6 ft 4 1/2 in.` to the nearest sixteenth (us), `1943 mm` (metric).

    Args:
        metres: the length; one too short for the rule is told to three figures.
        preset: of the reader.
        feet: whether a foot and more is told in feet; not for a diameter.
    """
    small = _SIXTEENTH if preset == "us" else 0.001
    steps = round(abs(metres) / small)
    unit = "in." if preset == "us" else "mm"
    if steps == 0 and metres:
        short = Decimal(f"{metres / (_INCH if preset == 'us' else 0.001):.3g}")
        return f"{short:f} {unit}"
    minus = "-" if metres < 0.0 else ""
    if preset != "us":
        return f"{minus}{steps} {unit}"
    in_feet, rest = divmod(steps, 192) if feet else (0, steps)
    parts = [f"{in_feet} ft"] if in_feet else []
    if rest or not in_feet:
        parts.append(f"{_sixteenths(rest)} {unit}")
    return minus + " ".join(parts)


def _sixteenths(steps: int) -> str:
    whole, over = divmod(steps, 16)
    fraction = f"{over // gcd(over, 16)}/{16 // gcd(over, 16)}" if over else ""
    return f"{whole} {fraction}".strip() if whole else fraction or "0"


def duration(seconds: float) -> str:
    """Return a time as a person says it, such as `19 min 46 s`."""
    if seconds < 60.0:
        return f"{seconds:.3g} s"
    whole = round(seconds)
    parts = ((whole // 3600, "h"), (whole % 3600 // 60, "min"), (whole % 60, "s"))
    return " ".join(f"{number} {unit}" for number, unit in parts if number)


RANGES: Final[dict[str, tuple[float, float]]] = {
    "flow": (0.0, 100.0),
    "velocity": (0.0, 150.0),
    "pressure": (-15000.0, 15000.0),
    "length": (0.0, 1000.0),
    "rise": (-1000.0, 1000.0),
    "diameter": (0.01, 3.0),
    "roughness": (0.0, 0.02),
    "altitude": (-500.0, 6000.0),
    "temperature": (233.15, 423.15),
    "power": (0.0, 1.0e6),
    "angle": (0.0, 180.0),
    "share": (0.0, 1.0),
    "area": (0.0, 1000.0),
    "volume": (0.0, 10000.0),
    "density": (0.2, 3.0),
    "viscosity": (5.0e-6, 5.0e-5),
    "energy": (0.0, 1.0e15),
    "heat": (-1.0e6, 1.0e6),
    "time": (0.0, 86400.0),
    "clock": (0.0, 86400.0),
    "voltage": (10.0, 1000.0),
    "current": (0.0, 1.0e5),
    "force": (0.0, 1.0e9),
}
"""Printed range of each kind in SI units; a field may print a narrower one."""

_INCH: Final = 0.0254  # international inch, exact (1959 agreement)
_SIXTEENTH: Final = _INCH / 16

MOST_CHARACTERS: Final = 48
LOOSE_PATTERN: Final = r"^[-\u2212]?[0-9\u00bc-\u00be\u2150-\u215e].*[^ ]$"
"""Of a quantity's text in the schema (common subset of Python and ECMA-262); the grammar and the units are tighter."""

QuantityText: TypeAlias = Annotated[str, Meta(pattern=LOOSE_PATTERN, max_length=MOST_CHARACTERS)]

MachineExtent: TypeAlias = (
    Annotated[float, Meta(gt=0.0, le=1.0e6, description="In the preset's unit of what the machine's sizes go by.")]
    | QuantityText
)
"""A machine's size; of which kind it is, the machine says: a blade's diameter, a table's area, a motor's power."""


def _asked(kind: str, minimum: float | None = None, maximum: float | None = None, label: str | None = None) -> Meta:
    """Return the metadata of a quantity that a request carries; limits are in SI units."""
    low, high = RANGES[label or kind]
    limits = (low if minimum is None else minimum, high if maximum is None else maximum)
    extra: dict[str, Any] = {"kind": kind, "range": limits}
    return Meta(extra=extra, extra_json_schema={"x-kind": kind, "x-range-si": list(limits)})


def _told(kind: str) -> Meta:
    """Return the metadata of a quantity that an answer carries."""
    return Meta(extra={"kind": kind}, extra_json_schema={"x-kind": kind})


# What a request may say. The type checkers see `float | str`.
Flow: TypeAlias = Annotated[float | QuantityText, _asked("flow")]
FlowAboveZero: TypeAlias = Annotated[float | QuantityText, _asked("flow", minimum=1.0e-6)]
Velocity: TypeAlias = Annotated[float | QuantityText, _asked("velocity")]
VelocityAboveZero: TypeAlias = Annotated[float | QuantityText, _asked("velocity", minimum=1.0e-3)]
Pressure: TypeAlias = Annotated[float | QuantityText, _asked("pressure")]
PressureFromZero: TypeAlias = Annotated[float | QuantityText, _asked("pressure", minimum=0.0)]
Barometer: TypeAlias = Annotated[
    float | QuantityText,
    _asked("pressure", minimum=40000.0, maximum=120000.0),
]
Length: TypeAlias = Annotated[float | QuantityText, _asked("length")]
Rise: TypeAlias = Annotated[float | QuantityText, _asked("length", label="rise")]
Coordinate: TypeAlias = Annotated[float | QuantityText, _asked("length", label="rise")]
Point: TypeAlias = Annotated[tuple[Coordinate, ...], Meta(min_length=3, max_length=3, description="`[x, y, z]`; z up.")]
FloorPoint: TypeAlias = Annotated[tuple[Coordinate, ...], Meta(min_length=2, max_length=2, description="`[x, y]`.")]
Diameter: TypeAlias = Annotated[float | QuantityText, _asked("diameter")]
FittingLength: TypeAlias = Annotated[
    float | QuantityText,
    _asked("diameter", minimum=0.0, maximum=30.0),
]
Roughness: TypeAlias = Annotated[float | QuantityText, _asked("roughness")]
Altitude: TypeAlias = Annotated[float | QuantityText, _asked("altitude")]
Temperature: TypeAlias = Annotated[float | QuantityText, _asked("temperature")]
Power: TypeAlias = Annotated[float | QuantityText, _asked("power")]
Angle: TypeAlias = Annotated[float | QuantityText, _asked("angle")]
Share: TypeAlias = Annotated[float | QuantityText, _asked("share")]
StretchShare: TypeAlias = Annotated[float | QuantityText, _asked("share", minimum=0.5)]
Area: TypeAlias = Annotated[float | QuantityText, _asked("area")]
Volume: TypeAlias = Annotated[float | QuantityText, _asked("volume")]
Density: TypeAlias = Annotated[float | QuantityText, _asked("density")]
Viscosity: TypeAlias = Annotated[float | QuantityText, _asked("viscosity")]
Time: TypeAlias = Annotated[float | QuantityText, _asked("time")]
TimeAboveZero: TypeAlias = Annotated[float | QuantityText, _asked("time", minimum=1.0e-3)]
Voltage: TypeAlias = Annotated[float | QuantityText, _asked("voltage")]
Clock: TypeAlias = Annotated[float | QuantityText, _asked("clock")]
"""Time from the day's beginning: seconds, a text with a unit, or a time of the clock such as `8:00` or `1:30 pm`."""

# What an answer tells, in the preset's unit.
FlowResult: TypeAlias = Annotated[float, _told("flow")]
VelocityResult: TypeAlias = Annotated[float, _told("velocity")]
PressureResult: TypeAlias = Annotated[float, _told("pressure")]
LengthResult: TypeAlias = Annotated[float, _told("length")]
DiameterResult: TypeAlias = Annotated[float, _told("diameter")]
RoughnessResult: TypeAlias = Annotated[float, _told("roughness")]
TemperatureResult: TypeAlias = Annotated[float, _told("temperature")]
AltitudeResult: TypeAlias = Annotated[float, _told("altitude")]
PowerResult: TypeAlias = Annotated[float, _told("power")]
EnergyResult: TypeAlias = Annotated[float, _told("energy")]
HeatResult: TypeAlias = Annotated[float, _told("heat")]
CurrentResult: TypeAlias = Annotated[float, _told("current")]
ForceResult: TypeAlias = Annotated[float, _told("force")]
AreaResult: TypeAlias = Annotated[float, _told("area")]
VolumeResult: TypeAlias = Annotated[float, _told("volume")]
DensityResult: TypeAlias = Annotated[float, _told("density")]
ViscosityResult: TypeAlias = Annotated[float, _told("viscosity")]
