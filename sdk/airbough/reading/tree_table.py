"""A tree as a table: settings, an empty line or none, then a row for each run.

```
units,us
dust,shavings
fan_flow (cfm),0,600,1200,1600
fan_pressure (inH2O),11.5,11,8.5,5
open,planer

id,into,diameter (in),length (ft),duct,fittings,join,angle,machine,flow (cfm),entry,gate
main,,7,14,spiral-galvanized,elbow 45 x2,,,,,,
saw,main,4,6,spiral-galvanized,,branch,45,table-saw,400,plain-opening,1
planer,main,6,8,spiral-galvanized,,straight,,planer,785,flanged-opening,1
```

Units, decimal marks and what parts the cells as in `airbough.reading.outline_table`. A setting is a field of the
question (`name`, `dust`, `by`, `up_to`), of the fan or the air, or `open`: the machines that run. Fittings are parted
by semicolons or bars: the type, its angle, how many, and other fields as `name=value`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from msgspec import Struct

from airbough.reading.outline_table import (
    FIRST,
    MOST_ROWS,
    PARTS,
    Heading,
    Table,
    cell_of,
    cells_of,
    heading_of,
    headings_at,
    near,
    point_of,
)
from airbough.reading.request import unreadable
from airbough.wire.air import Air
from airbough.wire.collector import CollectorFigures, Fan, FanPoint
from airbough.wire.fitting import RunFitting
from airbough.wire.places import Place, place_of, places_of
from airbough.wire.problem import Fault
from airbough.wire.tree import Branch, Gate, Hood, Run, Straight

_RUN: Final = ("id", "into", "diameter", "length", "rise", "path", "duct", "roughness", "stretch",
               "friction_multiplier", "leakage_class", "gauge", "wall_thickness")  # fmt: skip
_HOOD: Final = {"machine": "machine", "size": "size", "machine_id": "machine_id", "flow": "flow", "entry": "entry",
                "port": "port_diameter", "dust": "dust"}  # fmt: skip
_GATE: Final = {"gate": "opening", "leakage": "leakage"}
_JOIN: Final = ("join", "angle", "taper_length")
_FAN: Final = ("rated_as", "speed_ratio", "interpolation", "outlet_diameter", "inlet_diameter")
_CURVE: Final = {"fan_flow": "flow", "fan_pressure": "pressure"}
_TIMES: Final = re.compile(r"x(\d+)")
HEADINGS: Final = (*_RUN, "fittings", *_JOIN, *_HOOD, *_GATE)
"""Every heading that a row of a run may have."""


@dataclass(slots=True)
class _Tree(Table):
    """A table of runs on its way to a document."""

    curve: dict[str, list[Any]] = field(default_factory=dict)
    fan: dict[str, Any] = field(default_factory=dict)
    air: dict[str, Any] = field(default_factory=dict)
    opened: list[str] | None = None


def is_tree(text: str) -> bool:
    """Return whether a table's rows are runs, not lines and machines: their headings have `into` and no `line`."""
    rows = cells_of(text)
    at = headings_at(rows)
    names = set() if at is None else {heading_of(cell).name for cell in rows[at]}
    return "line" not in names and "off" not in names and ("into" in names or "diameter" in names)


def document(text: str, wanted: type[Struct], settings: Iterable[tuple[str, str]] = ()) -> dict[str, Any]:
    """Return the question about a tree that a table says, as a plain document, not looked at yet.

    Args:
        text: the table.
        wanted: the question's request, whose fields a setting may be.
        settings: further ones, which win over those of the table.

    Raises:
        Unreadable: with everything that is wrong with the table itself.
    """
    rows = cells_of(text)
    start = headings_at(rows)
    table = _Tree()
    if start is None:
        table.fault("table", "headings-missing", f"the row of headings begins with {FIRST!r}")
        raise unreadable(table.faults)
    given = [(row, f"table[{number}]") for number, row in enumerate(rows[:start], 1) if row and row[0]]
    given += [([name, *_parted(name, value)], name) for name, value in settings]
    for row, path in sorted(given, key=lambda one: heading_of(one[0][0]).name != "decimal"):
        _setting(table, row, path, wanted)
    headings = [heading_of(cell) for cell in rows[start]]
    for heading in headings:
        if heading.name and heading.name not in HEADINGS:
            table.fault(f"table[{start + 1}]", "unknown-field", near(heading.name, HEADINGS), heading.name)
    if len(rows) - start > MOST_ROWS:
        table.fault("table", "length", f"must have at most {MOST_ROWS} rows")
    below = [(row, f"table[{number}]") for number, row in enumerate(rows[start + 1 :], start + 2) if any(row)]
    runs = [_run(table, headings, row, path) for row, path in below]
    if table.faults:
        raise unreadable(table.faults)
    return _whole(table, runs)


def decimal_of(text: str) -> str | None:
    """Return the decimal mark that a table's own setting asks for, `comma` or `point`; None where it says nothing."""
    for row in cells_of(text):
        if row and heading_of(row[0]).name in ("decimal", FIRST):
            return row[1] if heading_of(row[0]).name == "decimal" and len(row) > 1 else None
    return None


def _parted(name: str, value: str) -> list[str]:
    """Return the cells of a setting in a query: of a curve its numbers."""
    return PARTS.split(value) if heading_of(name).name in _CURVE else [value]


def _setting(table: _Tree, row: list[str], path: str, wanted: type[Struct]) -> None:
    """Take a setting: its name in the first cell, its value in the second, of a curve in all others."""
    heading, cells = heading_of(row[0]), [cell for cell in row[1:] if cell]
    name, places = heading.name, places_of(wanted)
    if not cells:
        return
    if name == "decimal":
        if cells[0] not in ("comma", "point"):
            table.fault(path, "unknown-word", "must be one of comma, point", cells[0])
        table.decimal = "comma" if cells[0] == "comma" else "point"
    elif name in _CURVE:
        place = places_of(FanPoint)[_CURVE[name]]
        table.curve[_CURVE[name]] = [cell_of(table, cell, heading, place, path) for cell in cells]
    elif name in _FAN:
        table.fan[name] = cell_of(table, cells[0], heading, places_of(Fan)[name], path)
    elif name in CollectorFigures.__struct_fields__:
        table.figures[name] = cell_of(table, cells[0], heading, places_of(CollectorFigures)[name], path)
    elif name in Air.__struct_fields__:
        table.air[name] = cell_of(table, cells[0], heading, places_of(Air)[name], path)
    elif name == "open":
        table.opened = [word for cell in cells for word in PARTS.split(cell) if word]
    elif name in places and _simple(places[name]):
        table.settings[name] = _value(table, cells[0], heading, places[name], path)
    else:
        known = [name for name, place in places.items() if _simple(place)]
        every = (*known, "open", "decimal", *_CURVE, *_FAN, *CollectorFigures.__struct_fields__, *Air.__struct_fields__)
        table.fault(path, "unknown-field", near(name, tuple(dict.fromkeys(every))), row[0])


def _simple(place: Place) -> bool:
    return not place.structs and place.container is None


def _value(table: _Tree, cell: str, heading: Heading, place: Place, path: str) -> Any:
    """Return a setting's value: a truth, a number or a word."""
    if bool in place.scalars:
        return {"true": True, "yes": True, "false": False, "no": False}.get(cell.lower(), cell)
    told = cell_of(table, cell, heading, place, path)
    if int in place.scalars and isinstance(told, str) and told.isdigit():
        return int(told)
    return told


def _run(table: _Tree, headings: list[Heading], row: list[str], path: str) -> dict[str, Any]:
    """Return the run of a row."""
    cells = {
        heading.name: (heading, cell) for heading, cell in zip(headings, row, strict=False) if heading.name and cell
    }
    run: dict[str, Any] = {"into": None}
    for name, (heading, cell) in cells.items():
        here = f"{path}.{name}"
        if name == "path":
            run["path"] = [point_of(table, part, heading, here) for part in PARTS.split(cell) if part]
        elif name in _RUN:
            run[name] = _value(table, cell, heading, places_of(Run)[name], here)
        elif name == "fittings":
            run["fittings"] = [_fitting(table, part, here) for part in PARTS.split(cell) if part]
    if FIRST not in cells:
        table.fault(f"{path}.id", "missing-field", "each run has an id")
    hood, gate = _part(table, cells, _HOOD, Hood, path), _part(table, cells, _GATE, Gate, path)
    join = _join(table, cells, path)
    parts = {"hood": hood, "gate": {"opening": 1.0, **gate} if gate else {}, "join": join}
    return {**run, **{name: part for name, part in parts.items() if part}}


def _part(
    table: _Tree,
    cells: Mapping[str, tuple[Heading, str]],
    names: Mapping[str, str],
    struct: type[Struct],
    path: str,
) -> dict[str, Any]:
    """Return a run's hood or gate."""
    out: dict[str, Any] = {}
    for name, its in names.items():
        if name not in cells:
            continue
        heading, cell = cells[name]
        cell = {"open": "1", "shut": "0"}.get(cell.lower(), cell) if name == "gate" else cell
        out[its] = cell_of(table, cell, heading, places_of(struct)[its], f"{path}.{name}")
    return out


def _join(table: _Tree, cells: Mapping[str, tuple[Heading, str]], path: str) -> dict[str, Any]:
    """Return how a run joins: an angle alone is a branch's."""
    out: dict[str, Any] = {}
    for name, struct in (("angle", Branch), ("taper_length", Straight)):
        if name in cells:
            heading, cell = cells[name]
            out[name] = cell_of(table, cell, heading, places_of(struct)[name], f"{path}.{name}")
    kind = cells["join"][1] if "join" in cells else "branch" if "angle" in out else "straight" if out else None
    return out if kind is None else {"type": kind, **out}


_FITTINGS: Final = {struct.__struct_config__.tag: struct for struct in place_of(RunFitting).structs}


def _fitting(table: _Tree, part: str, path: str) -> dict[str, Any]:
    """Return a fitting: `elbow 90 x2 radius_ratio=1.5`."""
    kind, *words = part.split()
    out: dict[str, Any] = {"type": kind}
    places = places_of(_FITTINGS[kind]) if kind in _FITTINGS else {}
    for word in words:
        times = _TIMES.fullmatch(word)
        name, mark, text = word.partition("=")
        if times is not None:
            out["count"] = int(times[1])
        elif mark:
            place = places.get(name)
            out[name] = text if place is None else _value(table, text, Heading(name, ""), place, path)
        else:
            out["angle"] = cell_of(table, word, Heading("angle", ""), place_of(float), path)
    return out


def _whole(table: _Tree, runs: list[dict[str, Any]]) -> dict[str, Any]:
    """Return the document."""
    out: dict[str, Any] = {**table.settings, "runs": runs}
    flows, pressures = table.curve.get("flow", []), table.curve.get("pressure", [])
    if len(flows) != len(pressures):
        detail = f"{len(flows)} flows and {len(pressures)} pressures; each point of the curve has both"
        raise unreadable([Fault(path="fan_pressure", code="rows-do-not-fit", detail=detail)])
    if table.figures and not flows and "inlet_diameter" in table.fan:  # the curve's of a fan, else that of its figures
        table.figures["inlet_diameter"] = table.fan.pop("inlet_diameter")
    collector: dict[str, Any] = {"known_by": table.figures} if table.figures else {}
    if flows or table.fan:
        points = [{"flow": flow, "pressure": pressure} for flow, pressure in zip(flows, pressures, strict=True)]
        collector["fan"] = {"curve": points, "rated_as": "fan-static", **table.fan}
    if collector:
        out["collector"] = collector
    if table.air:
        out["air"] = table.air
    if table.opened is not None:
        out["state"] = {"open": table.opened}
    return out
