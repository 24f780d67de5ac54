"""Finishing msgspec's schemas: printed ranges of quantities, and bounds for bare numbers."""

from __future__ import annotations

import math
from typing import Any, Final

from airbough.wire.quantity import PRESET_UNITS
from airbough_service.terms import units

Node = dict[str, Any]

_DIGITS: Final = 7
_TYPES: Final = {str: "string", bool: "boolean", int: "integer", float: "number"}


def finished(schema: Any) -> Any:
    """Return a schema with each quantity's range printed in both presets.

    A bare number is bounded by the looser of the two presets' ranges: which of them holds depends on the document.
    """
    if isinstance(schema, list):
        return [finished(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    done = {key: finished(item) for key, item in schema.items() if key != "properties"}
    if "properties" in schema:  # whose keys are the names of fields
        done["properties"] = {name: finished(item) for name, item in schema["properties"].items()}
    if "x-range-si" in done and "anyOf" in done:
        kind, (low, high) = done["x-kind"], done["x-range-si"]
        done["anyOf"] = [_bounded(part, kind, low, high) for part in done["anyOf"]]
        done["description"] = " ".join(filter(None, (done.get("description"), _printed(kind, low, high))))
    elif "x-kind" in done and done.get("type") == "number":
        done["description"] = " ".join(filter(None, (done.get("description"), _units(done["x-kind"]))))
    return _for_generators(done)


def _for_generators(node: Node) -> Node:
    """Return a schema as makers of code read it: a default would demand the field, a bare enum have no type."""
    if "default" in node:
        default = node.pop("default")
        if default is not None:
            node["x-default"] = default
    if "discriminator" in node and "anyOf" in node:
        node = {("oneOf" if key == "anyOf" else key): item for key, item in node.items()}
    words = node.get("enum", [node["const"]] if "const" in node else [])
    types = {_TYPES[type(word)] for word in words}
    if len(types) == 1 and "type" not in node:
        node = {"type": types.pop()} | node
    return node


def _bounded(part: Node, kind: str, low: float, high: float) -> Node:
    if part.get("type") != "number":
        return part
    lows = [units.value(kind, low, preset) for preset in PRESET_UNITS]
    highs = [units.value(kind, high, preset) for preset in PRESET_UNITS]
    return part | {"minimum": _outward(min(lows), math.floor), "maximum": _outward(max(highs), math.ceil)}


def _outward(number: float, rounding: Any) -> float:
    """Return the number rounded away from the range to a few digits."""
    if number == 0.0:
        return 0.0
    scale = 10.0 ** (_DIGITS - 1 - math.floor(math.log10(abs(number))))
    shifted = number * scale
    whole = round(shifted) if abs(shifted - round(shifted)) < 1e-6 else rounding(shifted)
    return float(whole / scale)


def _printed(kind: str, low: float, high: float) -> str:
    ranges = {units.printed_range(kind, low, high, preset) for preset in PRESET_UNITS}
    if len(ranges) == 1:
        return f"Range: {ranges.pop()}."
    us, metric = (units.printed_range(kind, low, high, preset) for preset in ("us", "metric"))
    return f"Range: {us} (us), {metric} (metric)."


def _units(kind: str) -> str:
    us, metric = (PRESET_UNITS[preset].get(kind, "") for preset in ("us", "metric"))
    if not us:
        return ""
    return f"In {us}." if us == metric else f"In {us} (us), {metric} (metric)."


def parameter(name: str, schema: Node, required: bool) -> Node:
    """Return a field of a request as a query parameter; null cannot be said in a query."""
    schema = dict(schema)
    kept = [part for part in schema.get("anyOf", ()) if part != {"type": "null"}]
    if "anyOf" in schema and len(kept) == 1:
        outer = {key: item for key, item in schema.items() if key != "anyOf"}
        schema = kept[0] | outer | {"description": _both(outer, kept[0])}
    elif kept:
        schema["anyOf"] = kept
    described = schema.pop("description", "")
    made: Node = {"name": name, "in": "query"}
    if described:
        made["description"] = described
    if required:
        made["required"] = True
    return made | {"schema": schema}


def _both(outer: Node, inner: Node) -> str:
    return " ".join(dict.fromkeys(filter(None, (outer.get("description"), inner.get("description")))))
