"""What would be right at a place: the value read in its right form where that can be seen, else an example."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final, TypeAlias

import msgspec
from msgspec import Struct

from airbough.reading.telling import field_of
from airbough.reading.units import (
    from_preset,
    unit,
    value,
    with_slack,
)
from airbough.wire.places import (
    Place,
    metas_of,
    places_of,
)
from airbough.wire.quantity import (
    PRESET_UNITS,
    RANGES,
    SPELLINGS,
)

Fits: TypeAlias = Callable[[Any, Place, "str | None"], bool]
"""Whether a value has no fault at a place, in a preset."""

LONGEST: Final = 400
"""Characters of an example as JSON; a longer one is left out."""

_TYPICAL: Final = {
    "flow": (400.0, 700.0),
    "velocity": (4000.0, 20.0),
    "pressure": (2.0, 500.0),
    "length": (10.0, 3.0),
    "diameter": (6.0, 150.0),
    "roughness": (0.0003, 0.09),
    "altitude": (600.0, 200.0),
    "temperature": (68.0, 20.0),
    "power": (3.0, 2.2),
    "angle": (45.0, 45.0),
    "share": (1.0, 1.0),
    "area": (10.0, 1.0),
    "volume": (6.0, 0.2),
    "density": (0.075, 1.2),
    "viscosity": (1.2e-5, 1.82e-5),
    "time": (10.0, 10.0),
    "heat": (1000.0, 0.5),
}
"""Kind -> a bare number of it in us and in metric units: examples, of which nothing is computed."""

_CLOCK: Final = "8:00"
_NUMBER: Final = re.compile(r"[-+]?[0-9]*[.,]?[0-9]+|[-+]?[0-9]+[.,]")
_GROUPED: Final = re.compile(r"(?P<digits>-?[0-9]{1,3}(?:[.,' _\u00a0\u202f][0-9]{3})+)(?![0-9])(?P<rest>.*)")
_WORDS: Final = {
    "open": 1, "opened": 1, "full": 1, "on": 1, "true": 1, "yes": 1, "half": 0.5,
    "shut": 0, "closed": 0, "close": 0, "off": 0, "false": 0, "no": 0,
}  # fmt: skip
"""Words for a share."""

_CATALOGUE: Final = {
    "duct": "spiral-galvanized",
    "dust": "shavings",
    "machine": "table-saw",
    "question": "operating-point",
    "leakage_class": "round-joints-sealed",
}
"""Field -> a word of the catalogue for it."""


def right(data: Any, place: Place, path: str, preset: str | None, fits: Fits) -> Any:
    """Return what would be right at a place where `data` is wrong, or None where nothing is known."""
    for candidate in (*_natural(data, place, preset), example(place, path, preset)):
        if candidate is not None and fits(candidate, place, preset) and _short(candidate):
            return candidate
    return None


def _short(candidate: Any) -> bool:
    try:
        return len(msgspec.json.encode(candidate)) <= LONGEST
    except (ValueError, TypeError, OverflowError, RecursionError):
        return False


_MEANT: Final = {
    "bend": "elbow",
    "ell": "elbow",
    "reducer": "taper",
    "increaser": "taper",
    "blast-gate": "slide-gate",
    "gate": "slide-gate",
}
"""Other words of the trade -> the wire's own for the same thing, though another looks more like them."""


def nearest(word: object, words: tuple[str, ...]) -> str | None:
    """Return the nearest of some words, or None where none is near."""
    if not isinstance(word, str):
        return None
    plain = re.sub(r"[\s_-]+", "-", word[:64].strip().lower())
    plain = plain if plain in words else _MEANT.get(plain, plain)
    if plain in words:
        return plain
    within = [known for known in words if plain and (plain in known or known in plain)]
    near = difflib.get_close_matches(plain, words, 1) or within
    return near[0] if near else None


def tags_of(place: Place) -> dict[str, type[Struct]]:
    """Return the tags of the structs that may stand at a place, in the order of the wire."""
    return {str(struct.__struct_config__.tag): struct for struct in place.structs if struct.__struct_config__.tag}


def _natural(data: Any, place: Place, preset: str | None) -> Iterator[Any]:
    """Yield the right forms of what somebody may have meant."""
    if place.kind is not None:
        yield from _quantity(data, place, preset)
    if place.words:
        yield nearest(data, place.words)
    for struct in place.structs:
        yield from _as_struct(data, struct, place, preset)
    if place.container in (tuple, list) and place.item is not None:
        yield from _as_list(data, place.item)
    if isinstance(data, str):
        yield from _as_scalar(data.strip(), place)
    elif isinstance(data, float) and int in place.scalars:
        yield round(data) if abs(data) < 2**53 else None


def _as_scalar(text: str, place: Place) -> Iterator[Any]:
    if bool in place.scalars and text.lower() in _WORDS:
        yield bool(_WORDS[text.lower()])
    if place.scalars & {int, float} and place.kind is None and _NUMBER.fullmatch(text):
        number = float(text.replace(",", "."))
        yield int(number) if number.is_integer() else number


def _quantity(data: Any, place: Place, preset: str | None) -> Iterator[Any]:
    """Yield the number read with a unit of its kind: that of the preset, then those of which it is in range."""
    kind = str(place.kind)
    if isinstance(data, str) and (together := ungrouped(data)) is not None:
        yield together
        return
    number, text = _number(data)
    if number is None:
        if isinstance(data, str) and kind == "share":
            yield _WORDS.get(data.strip().lower())
        return
    own = unit(kind, preset) if preset is not None else ""
    other = PRESET_UNITS["metric" if preset == "us" else "us"].get(kind, "")
    for spelling in dict.fromkeys((own, other, *SPELLINGS[kind])):
        if spelling and not (spelling == own and not isinstance(data, str)):
            yield f"{text} {spelling}"


def ungrouped(text: str) -> str | None:
    """Return a number's text without the marks that part its thousands; None where none does."""
    grouped = _GROUPED.match(text.strip())
    return None if grouped is None else re.sub(r"[^0-9-]", "", grouped["digits"]) + grouped["rest"]


def _number(data: Any) -> tuple[float | None, str]:
    """Return the number that a value begins with, and its text."""
    if isinstance(data, int | float) and not isinstance(data, bool):
        return (float(data), f"{data:.15g}") if abs(data) < 10**15 else (None, "")
    found = _NUMBER.match(data.strip()) if isinstance(data, str) else None
    if found is None:
        return None, ""
    text = found[0].replace(",", ".").lstrip("+").rstrip(".")
    text = text.replace("-.", "-0.") if text.startswith("-") else f"0{text}" if text.startswith(".") else text
    number = float(text)
    return (int(number) if number.is_integer() else number), text


def _as_struct(data: Any, struct: type[Struct], place: Place, preset: str | None) -> Iterator[Any]:
    places = places_of(struct)
    needed = [name for name, inner in places.items() if inner.required]
    tag = struct.__struct_config__.tag
    if tag is not None and isinstance(data, str):
        if nearest(data, tuple(tags_of(place))) == tag:
            yield _of(struct, preset)
    elif isinstance(data, list | tuple) and tag is None and len(data) == len(needed):
        yield dict(zip(needed, data, strict=True))
    elif tag is None and len(needed) == 1:
        inner = places[needed[0]]
        for candidate in (data, *_natural(data, inner, preset)):
            yield {needed[0]: candidate}
        if isinstance(data, bool) and inner.kind == "share":
            yield {needed[0]: int(data)}


def _as_list(data: Any, item: Place) -> Iterator[Any]:
    if not isinstance(data, Mapping):
        yield [data]
        return
    yield [data]
    struct = item.structs[0] if len(item.structs) == 1 else None
    if struct is None:
        return
    places = places_of(struct)
    needed = [name for name, inner in places.items() if inner.required]
    name = next((name for name in ("id", "name") if name in places), None)
    if name is not None:
        yield [{name: key, **own} for key, own in data.items() if isinstance(own, Mapping)]
    numbers = [(_number(key)[0], own) for key, own in data.items()]
    if len(needed) == 2 and all(key is not None for key, _ in numbers):
        yield [dict(zip(needed, pair, strict=True)) for pair in numbers]


def example(place: Place, path: str, preset: str | None) -> Any:
    """Return an example of what may stand at a place."""
    name = field_of(path)
    if place.kind is not None:
        return _typical(place, preset)
    if place.words:
        return place.words[0]
    if place.structs:
        return _of(place.structs[0], preset)
    if place.container is dict:
        return None
    if place.container is not None and place.item is not None:
        item = example(place.item, path, preset)
        least = max((meta.min_length or 1 for meta in metas_of(place.annotation)), default=1)
        return None if item is None else [item] * least
    return _scalar(place, name)


def _scalar(place: Place, name: str) -> Any:
    if bool in place.scalars:
        return True
    if place.scalars & {int, float}:
        metas = metas_of(place.annotation)
        number = max([1, *(meta.ge for meta in metas if meta.ge is not None)])
        return min([number, *(meta.le for meta in metas if meta.le is not None)])
    if str in place.scalars:
        return _CATALOGUE.get(name, "main" if name in ("id", "into", "run") else None)
    return None


def _typical(place: Place, preset: str | None) -> float | str | None:
    """Return a number of a kind, in the preset or with a unit, within the place's range."""
    kind = str(place.kind)
    if kind == "clock":
        return _CLOCK
    at = preset or "us"
    number = _TYPICAL.get(kind, (None, None))[at == "metric"]
    if number is None:
        return None
    low, high = place.extra.get("range", RANGES[kind])
    least, most = with_slack(low, high)
    if not least <= from_preset(kind, number, at) <= most:
        number = float(f"{value(kind, (low + high) / 2.0, at):.3g}")
    plain = int(number) if number == int(number) else number
    own = unit(kind, at)
    return f"{plain} {own}" if preset is None and own else plain


def _of(struct: type[Struct], preset: str | None) -> dict[str, Any] | None:
    """Return a struct with what it needs and nothing else."""
    config = struct.__struct_config__
    made: dict[str, Any] = {} if config.tag_field is None else {config.tag_field: config.tag}
    for name, inner in places_of(struct).items():
        if inner.required:
            own = None if inner.nullable else example(inner, name, preset)
            if own is None and not inner.nullable:
                return None
            made[name] = own
    return made
