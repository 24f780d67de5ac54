"""The uncertain terms of a tree: one for each entry of the catalogue, and where each stands in the packed tree."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from airbough_service import catalogue
from airbough_service.catalogue import Passport
from airbough_service.catalogue.spreads import spread_of
from airbough_service.core.network.sampling import Uses
from airbough_service.core.network.tree import dynamic
from airbough_service.shop.gates import Openings
from airbough_service.shop.opening import SMALLEST_OPENING, passing
from airbough_service.shop.pieces import (
    Piece,
    Wall,
)
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
)

Floats = NDArray[np.float64]


@dataclass(slots=True)
class Terms:
    """Terms by name, in order of first use."""

    numbers: dict[str, int] = field(default_factory=dict)
    passports: list[Passport] = field(default_factory=list)

    def index(self, name: str, passport: Passport | None) -> int:
        """Return a term's number, new or known; -1 where nothing is uncertain."""
        if not name or passport is None or passport.spread <= 0.0:
            return -1
        if name not in self.numbers:
            self.numbers[name] = len(self.passports)
            self.passports.append(passport)
        return self.numbers[name]

    @property
    def names(self) -> list[str]:
        """Every name, in order."""
        return list(self.numbers)

    @property
    def spreads(self) -> list[float]:
        """Every spread, in order."""
        return [passport.spread for passport in self.passports]


@dataclass(slots=True)
class _Places:
    """Where terms stand, while they are gathered; arrays are by packed row."""

    shop: Shop
    terms: Terms
    uses: list[tuple[int, int, float]]
    by_row: dict[str, NDArray[np.int32]]

    def rows(self, index: int) -> tuple[int, int]:
        """Return the rows of a run's two ends; they differ where it has several."""
        return self.shop.hood_row(index), self.shop.end_row(index)

    def piece(self, piece: Piece, upper: int, lower: int, along: list[int]) -> None:
        """Note one piece: at an end of its run, or along it, where a leak parts it, half on either side."""
        term = self.terms.index(piece.entry, piece.passport)
        if term < 0:
            return
        amount = piece.coefficient * piece.count * dynamic(self.shop.density, piece.bore)
        rows = {"entry": (upper,), "port": (upper,), "change": (lower,)}.get(piece.part, along)
        self.uses += [(row, term, amount / len(rows)) for row in rows]


def gathered(shop: Shop, gate: Floats, loss_names: list[str], openings: Openings | None = None) -> tuple[Terms, Uses]:
    """Return the terms and where they stand.

    Args:
        shop: the tree.
        gate: this state's, by packed row.
        loss_names: collector losses outside the curve, in the fan's order.
        openings: run number -> opening where the state departs from the document.
    """
    n = gate.size
    names = ("rough", "friction", "power", "inside", "junction", "beside", "gate")
    places = _Places(shop, Terms(), [], {name: np.full(n, -1, np.int32) for name in names})
    for run in shop.runs:
        _run(places, run, gate, (openings or {}).get(run.index))
    for index, piece in enumerate(shop.discharge):
        row = int(shop.tree.place[len(shop.runs) + 1 + index])
        _wall(places, piece.wall.entry, piece.wall.passport, row, "rough")
        _wall(places, piece.wall.multiplier_entry, piece.wall.multiplier_passport, row, "friction")
        _power_law(places, piece.wall, row)
        for own in piece.pieces:
            places.piece(own, row, row, [row])
    _junctions(places)
    curve = places.terms.index("fan-curve", spread_of("fan-curve"))
    losses = [places.terms.index(f"collector-loss/{name}", spread_of("collector-loss")) for name in loss_names]
    rows, terms, amounts = zip(*places.uses, strict=True) if places.uses else ((), (), ())
    uses = Uses(
        row=np.array(rows, np.int32),
        term=np.array(terms, np.int32),
        amount=np.array(amounts, np.float64),
        fan=curve,
        losses=np.array(losses, np.int32),
        **places.by_row,
    )
    return places.terms, uses


def _wall(places: _Places, entry: str, passport: Passport | None, row: int, what: str) -> None:
    """Note a term of a row's own column."""
    places.by_row[what][row] = places.terms.index(entry, passport)


def _power_law(places: _Places, wall: Wall, row: int) -> None:
    """Note the term of a row's power-law friction."""
    if wall.duct is not None and wall.power_law_passport is not None:
        _wall(places, f"power-law/{wall.duct.id}", wall.power_law_passport, row, "power")


def _run(places: _Places, run: ShopRun, gate: Floats, opening: float | None) -> None:
    """Note the terms of one run."""
    upper, lower = places.rows(run.index)
    along = [places.shop.part_rows(run.index, number) for number in range(len(run.parts))]
    for row in (row for rows in along for row in rows):
        _wall(places, run.wall.entry, run.wall.passport, row, "rough")
        _wall(places, run.wall.multiplier_entry, run.wall.multiplier_passport, row, "friction")
        _power_law(places, run.wall, row)
    if run.run.hood is not None and run.run.hood.resistance is not None:
        _wall(places, f"machine-resistance/{run.id}", spread_of("machine-resistance"), upper, "inside")
    for piece in run.pieces:
        places.piece(piece, upper, lower, along[piece.duct_part])
    own = run.run.gate
    if own is None or not np.isfinite(gate[upper]) or gate[upper] <= 0.0:
        return
    share = passing(own, opening)
    if all(float(point.opening) != share for point in own.known):
        loss = catalogue.gate_loss(max(share, SMALLEST_OPENING))
        places.by_row["gate"][upper] = places.terms.index(loss.entry, loss.passport)


def _junctions(places: _Places) -> None:
    """Note the junction laws: of a branch, and of what it costs the straight run."""
    for index, joined in enumerate(places.shop.joined):
        row, law, beside = places.rows(index)[1], joined.junction, joined.beside
        if law is not None:
            places.by_row["junction"][row] = places.terms.index(law.entry, law.passport)
        if beside is not None:
            places.by_row["beside"][row] = places.terms.index(f"flow-ratio/{beside.term}", beside.passport)
