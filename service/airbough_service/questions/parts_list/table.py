"""The lists of a parts list as one table of text (RFC 4180), lengths in the preset's units."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from typing import Any, Final

from airbough.wire.parts_list import (
    CuttingPlan,
    PartsListAnswer,
    PartsListNeed,
)
from airbough.wire.quantity import DiameterResult, Preset
from airbough_service.terms import units
from airbough_service.terms.finding import plain, show

_COLUMNS: Final = (
    "list", "item", "what", "runs", "diameter", "length", "quantity", "upstream_end", "downstream_end", "from_length",
    "price_each", "price",
)  # fmt: skip
_PLACES: Final = {"ft": 2, "m": 3, "in": 2, "mm": 1}
"""Unit -> decimals of a cell: what a rule or a saw shows."""
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
Row = dict[str, Any]


def table(answer: PartsListAnswer, preset: Preset) -> str:
    """Return the lists `needed`, `buy`, `cut`, `adapter` and `not-stocked` as CSV text.

    Args:
        answer: in SI.
        preset: whose units head the columns.
    """
    heads = {"diameter": "diameter", "length": "length"}
    written = io.StringIO()
    writer = csv.writer(written, lineterminator="\r\n")
    writer.writerow([f"{name} [{units.unit(heads[name], preset)}]" if name in heads else name for name in _COLUMNS])
    for row in _rows(answer, preset):
        for name in heads:
            if isinstance(row.get(name), float):
                row[name] = round(units.value(heads[name], row[name], preset), _PLACES[units.unit(heads[name], preset)])
        writer.writerow([_cell(row.get(name)) for name in _COLUMNS])
    return written.getvalue()


def _rows(answer: PartsListAnswer, preset: Preset) -> Iterator[Row]:
    for need in answer.requirement:
        yield _need("needed", need, preset)
    for line in answer.lines:
        yield {
            "list": "buy",
            "item": line.item or line.at,
            "what": ", ".join([plain(line.what), *_ends(line.diameters or (), preset)]),
            "diameter": line.diameter,
            "length": line.length,
            "quantity": line.quantity,
            "price_each": line.price_each,
            "price": line.price,
        }
    before = 0
    for plan in answer.cutting:
        yield from _plan(plan, before)
        before += len(plan.lengths_bought)
    for need in answer.not_stocked:
        yield _need("not-stocked", need, preset)


def _need(word: str, need: PartsListNeed, preset: Preset) -> Row:
    make = [need.type, need.duct, need.construction]
    angle = [] if need.angle is None else [f"{need.angle:g} deg"]
    return {
        "list": word,
        "item": need.item or need.at,
        "what": ", ".join([*(plain(part) for part in make if part), *angle, *_ends(need.diameters, preset)]),
        "runs": ", ".join(need.runs),
        "diameter": max(float(bore) for bore in need.diameters),
        "length": need.length,
        "quantity": need.quantity,
    }


def _ends(bores: Sequence[DiameterResult], preset: Preset) -> list[str]:
    """Return the bores of unlike ends, m, as words: inlets first, outlet last; nothing where they are alike."""
    sizes = [show(preset, "diameter", float(bore)) for bore in bores]
    return [" x ".join(sizes)] if len(set(sizes)) > 1 else []


def _plan(plan: CuttingPlan, before: int) -> Iterator[Row]:
    for number, bought in enumerate(plan.lengths_bought, before + 1):
        for cut in bought.cuts:
            yield {
                "list": "cut",
                "item": bought.item or bought.at,
                "what": f"piece {cut.place}" + (", turned" if cut.turned else ""),
                "runs": cut.run,
                "diameter": plan.diameter,
                "length": cut.cut_length,
                "quantity": 1,
                "upstream_end": cut.upstream_end,
                "downstream_end": cut.downstream_end,
                "from_length": number,
            }
    for adapter in plan.adapters:
        yield {
            "list": "adapter",
            "item": adapter.item or adapter.at,
            "what": plain(adapter.use),
            "runs": ", ".join(adapter.runs),
            "diameter": adapter.diameter,
            "length": adapter.length,
            "quantity": adapter.quantity,
        }


def _cell(value: object) -> object:
    """Return a cell; words that a sheet would take for a formula are quoted as text."""
    if isinstance(value, str) and value.startswith(_FORMULA):
        return f"'{value}"
    return "" if value is None else value
