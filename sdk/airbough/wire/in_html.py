"""Structs of an answer as HTML, for notebooks; whatever comes from a document is escaped."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from msgspec import Struct

from airbough.wire.places import places_of


@dataclass(frozen=True, slots=True)
class Table:
    """An answer as tables: one for each list of it, one for the rest."""

    answer: Struct

    def _repr_html_(self) -> str:
        units = getattr(self.answer, "units", None)
        return _sections(self.answer, units if isinstance(units, dict) else {})


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing, shown as an image, in which no script of it can run."""

    svg: str

    def _repr_html_(self) -> str:
        data = base64.b64encode(self.svg.encode()).decode()
        return f'<img alt="drawing" src="data:image/svg+xml;base64,{data}">'

    def _repr_svg_(self) -> str:
        return self.svg


def _sections(struct: Struct, units: dict[str, str]) -> str:
    plain: list[tuple[str, str]] = []
    parts: list[str] = []
    for name, place in places_of(type(struct)).items():
        value = getattr(struct, name)
        title = _title(name, units.get(place.kind or "", ""))
        if isinstance(value, Struct):
            parts.append(f"<details open><summary>{title}</summary>{_sections(value, units)}</details>")
        elif isinstance(value, tuple | list) and value and isinstance(value[0], Struct):
            parts.append(f"<details open><summary>{title}</summary>{_rows(value, units)}</details>")
        elif name != "units" and value not in (None, (), {}):
            plain.append((title, _cell(value)))
    rows = "".join(f'<tr><th style="text-align:left">{title}</th><td>{cell}</td></tr>' for title, cell in plain)
    return (f"<table>{rows}</table>" if rows else "") + "".join(parts)


def _rows(structs: Sequence[Struct], units: dict[str, str]) -> str:
    places = places_of(type(structs[0]))
    shown = [name for name in places if any(getattr(struct, name) not in (None, (), {}) for struct in structs)]
    heads = "".join(f"<th>{_title(name, units.get(places[name].kind or '', ''))}</th>" for name in shown)
    lines = ("".join(f"<td>{_cell(getattr(struct, name))}</td>" for name in shown) for struct in structs)
    return f"<table><tr>{heads}</tr>" + "".join(f"<tr>{line}</tr>" for line in lines) + "</table>"


def _title(name: str, unit: str) -> str:
    return escape(name.replace("_", " ") + (f" [{unit}]" if unit else ""))


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.5g}"
    if isinstance(value, Struct):
        return escape(", ".join(f"{name}: {_text(getattr(value, name))}" for name in places_of(type(value))))
    if isinstance(value, tuple | list):
        return escape(", ".join(map(_text, value)))
    return escape(str(value))


def _text(value: object) -> str:
    return f"{value:.5g}" if isinstance(value, float) else str(value)
