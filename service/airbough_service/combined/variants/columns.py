"""The answer's columns, filled by variants in any order, and told in a preset."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from airbough.reading.units import PRESETS
from airbough.wire.answer import HoodResult, RunResult
from airbough.wire.operating_point import OperatingPointSystem
from airbough.wire.places import places_of
from airbough.wire.quantity import PRESET_UNITS, Preset
from airbough.wire.variants import Check
from airbough_service.combined.variants.block import FIGURES, Block
from airbough_service.combined.variants.checks import FINDINGS
from airbough_service.combined.variants.singly import Alone

_TOLD: Final = {"system": OperatingPointSystem, "hoods": HoodResult, "runs": RunResult}


def _kind(figure: str) -> str | None:
    """Return the kind of quantity of a figure; None of words and plain numbers."""
    where, _, field = figure.rpartition(".")
    return places_of(_TOLD[where])[field].kind if where else None


KINDS: Final[dict[str, str | None]] = {figure: _kind(figure) for figure in FIGURES}


class Columns:
    """Lists by figure and by check, one value a variant."""

    def __init__(self, count: int, only: Sequence[str], preset: Preset) -> None:
        self._count, self._preset = count, preset
        self.columns: dict[str, Any] = {name: [None] * count if _alone(name) else {} for name in only}
        self.checks: dict[Check, list[bool | None]] = {name: [None] * count for name in FINDINGS}

    @property
    def units(self) -> dict[str, str]:
        """The unit of each kind among the figures."""
        kinds = {KINDS[name] for name in self.columns}
        return {kind: unit for kind, unit in PRESET_UNITS[self._preset].items() if kind in kinds}

    def take(self, block: Block) -> None:
        """Fill the columns of variants solved together."""
        numbers = block.numbers
        whole = slice(numbers[0], numbers[-1] + 1) if numbers and numbers[-1] - numbers[0] == len(numbers) - 1 else None
        for name in self.columns:
            values, kind = FIGURES[name](block), KINDS[name]
            if isinstance(values, np.ndarray) and kind is not None and values.dtype == np.float64:
                factor, offset = PRESETS[self._preset][kind]
                values = (values - offset) / factor
            if _alone(name):
                _put(self.columns[name], numbers, whole, _listed(values))
                continue
            runs = block.base.shop.runs
            ids = [runs[k].id for k in block.ready.hoods] if name.startswith("hoods.") else [run.id for run in runs]
            for word, own in zip(ids, np.asarray(values).T, strict=True):
                _put(self._of(name, word), numbers, whole, _listed(own))
        for check, holds in block.checks().items():
            _put(self.checks[check], numbers, whole, holds)

    def take_one(self, number: int, alone: Alone) -> None:
        """Fill the columns of a variant solved alone."""
        for name, column in self.columns.items():
            value = alone.figure(name)
            if _alone(name):
                column[number] = self._told(name, value)
                continue
            for word, own in value.items():
                self._of(name, word)[number] = self._told(name, own)
        for check, holds in alone.checks.items():
            self.checks[check][number] = holds

    def _of(self, name: str, word: str) -> list[Any]:
        """Return the list of a run's figure."""
        by_run: dict[str, list[Any]] = self.columns[name]
        if word not in by_run:
            by_run[word] = [None] * self._count
        return by_run[word]

    def _told(self, name: str, value: Any) -> Any:
        kind = KINDS[name]
        if kind is None or value is None:
            return value
        factor, offset = PRESETS[self._preset][kind]
        return (float(value) - offset) / factor


def _alone(name: str) -> bool:
    """Return whether a figure is one value a variant."""
    return not name.startswith(("hoods.", "runs."))


def _listed(values: Any) -> list[Any]:
    """Return values as a list, None where they are not a number."""
    if not isinstance(values, np.ndarray):
        return list(values)
    out: list[Any] = values.tolist()
    if values.dtype == np.float64 and np.isnan(values).any():
        return [None if value != value else value for value in out]
    return out


def _put(column: list[Any], numbers: list[int], whole: slice | None, values: list[Any]) -> None:
    """Put values at their variants' numbers."""
    if whole is not None:
        column[whole] = values
        return
    for number, value in zip(numbers, values, strict=True):
        column[number] = value
