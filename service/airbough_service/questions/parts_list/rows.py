"""Pieces in rows from junction to junction, each joint between two of them, and which way round they lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from airbough.wire.tree import Branch
from airbough_service.core.choosing.laying import (
    Chain,
    End,
    Laid,
    lay,
)
from airbough_service.questions.parts_list.cutting import (
    Cut,
    Cutting,
    Group,
    Role,
)
from airbough_service.questions.parts_list.fittings import junction_need
from airbough_service.questions.parts_list.needs import RunNeeds
from airbough_service.questions.parts_list.parts import (
    Need,
    Part,
)
from airbough_service.questions.parts_list.stock import (
    Served,
    StockList,
)
from airbough_service.shop.shop import Shop


@dataclass(slots=True)
class Slot:
    """One piece in a row: a piece of duct, a fitting, or something that the stock list has not."""

    part: Part
    name: str
    cut: Cut | None = None
    served: Served | None = None

    def piece(self) -> Laid:
        """Return its ends as made."""
        if self.cut is not None:
            return self.cut.piece()
        return Laid(None, None) if self.served is None else self.served.laid


@dataclass(frozen=True, slots=True)
class Side:
    """What a row begins or ends at: a machine's port, a junction piece, the collector."""

    name: str
    end: End | None
    bore: float
    run: str


@dataclass(slots=True)
class Row:
    """Pieces in the direction of flow between two sides that are not turned; no `final` where the last end is open."""

    start: Side
    slots: list[Slot]
    final: Side | None
    chain: Chain | None = None

    def lay(self) -> Chain:
        """Return which pieces to turn."""
        return lay(self.start.end, [slot.piece() for slot in self.slots], self.final.end if self.final else None)

    def reluctance_around(self, place: int) -> float:
        """Return the part of the row's reluctance that a piece has a say in: up to the next that cannot be turned."""
        first, after = place, place + 1
        while first > 0 and self.slots[first - 1].piece().turnable:
            first -= 1
        while after < len(self.slots) and self.slots[after].piece().turnable:
            after += 1
        start = self.slots[first - 1].piece().downstream if first > 0 else self.start.end
        final = self.final.end if self.final else None
        if after < len(self.slots):
            final = self.slots[after].piece().upstream
        return lay(start, [slot.piece() for slot in self.slots[first:after]], final).reluctance


@dataclass(slots=True)
class Rows:
    """All rows, and the junction pieces that they meet in: number of the run they flow into -> need and stock piece."""

    rows: list[Row] = field(default_factory=list)
    junctions: dict[int, tuple[Need, Served | None]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Ends:
    """The ends that are no stock piece's, where told: of the machines' ports and of the collector's inlet."""

    port: End | None
    collector: End | None


def rows(
    shop: Shop,
    needs: Sequence[RunNeeds],
    after: Sequence[RunNeeds],
    reducing: frozenset[int],
    stock: StockList,
    cut: Cutting,
    ends: Ends,
) -> Rows:
    """Put every piece in its row.

    Args:
        shop: the tree.
        needs: by run.
        after: the pieces after the fan.
        reducing: the runs that begin at a wye whose straight changes size.
        stock: the caller's.
        cut: every straight cut.
        ends: those that are no stock piece's.
    """
    out = Rows()
    for index in range(len(shop.runs)):
        need = junction_need(shop, index, reducing=index in reducing)
        if need is not None:
            out.junctions[index] = (need, stock.serve(need))
    for index in range(len(shop.runs)):
        if len(shop.shape.children[index]) != 1:
            out.rows.append(_row(shop, index, needs, stock, cut, out, ends))
    slots = [slot for run in after for slot in _slots(run, stock, cut)]
    if slots:
        first = slots[0].part
        start = Side("the fan's outlet", None, first.upstream_bore, first.run)
        out.rows.append(Row(start, slots, None))
    for number, row in enumerate(out.rows):
        for place, slot in enumerate(row.slots):
            if slot.cut is not None:
                slot.cut.row, slot.cut.place = number, place
    return out


def _row(
    shop: Shop,
    index: int,
    needs: Sequence[RunNeeds],
    stock: StockList,
    cut: Cutting,
    out: Rows,
    ends: Ends,
) -> Row:
    """Return the row that begins at a run and goes on to the next junction or to the collector."""
    start = _start(shop, index, out, ends.port)
    slots: list[Slot] = []
    while True:
        slots += _slots(needs[index], stock, cut)
        parent = shop.shape.parents[index]
        if parent < 0 or len(shop.shape.children[parent]) > 1:
            return Row(start, slots, _final(shop, index, out, ends.collector))
        index = parent


def _start(shop: Shop, index: int, out: Rows, port_end: End | None) -> Side:
    run = shop.runs[index]
    if index in out.junctions:
        need, served = out.junctions[index]
        end = None if served is None else served.laid.downstream
        return Side(f"{need.type} into {run.id}", end, run.start, run.id)
    hood = run.run.hood
    port = run.start if hood is None or hood.port_diameter is None else float(hood.port_diameter)
    return Side(f"port of {run.id}", port_end, port, run.id)


def _final(shop: Shop, index: int, out: Rows, collector_end: End | None) -> Side:
    run, parent = shop.runs[index], shop.shape.parents[index]
    if parent < 0:
        return Side("the collector's inlet", collector_end, run.end, run.id)
    need, served = out.junctions[parent]
    side_arm = isinstance(run.run.join, Branch) and need.type != "symmetrical-wye"
    end = None if served is None else served.branch if side_arm else served.laid.upstream
    straight = need.bores[0] if need.type in ("wye", "tee", "double-wye") else shop.runs[parent].start
    bore = run.end if isinstance(run.run.join, Branch) else straight
    return Side(f"{need.type} into {shop.runs[parent].id}", end, bore, run.id)


def _slots(run: RunNeeds, stock: StockList, cut: Cutting) -> list[Slot]:
    """Return a run's pieces."""
    slots: list[Slot] = []
    count = 0
    for part in run.parts:
        if part.loose:
            continue
        if part.straight is None:
            slots.append(Slot(part, f"{part.need.type} of {run.id}", served=stock.serve(part.need)))
            continue
        pieces = cut.pieces.get(id(part))
        if pieces is None:
            slots.append(Slot(part, f"{part.need.type} of {run.id}"))
            continue
        for piece in pieces:
            count += 1
            slots.append(Slot(part, f"piece {count} of {run.id}", cut=piece))
    return slots


def settle(placed: Rows, cut: Cutting) -> None:
    """Choose, in each stock piece that is cut, who keeps its two formed ends, then which pieces to turn.

    One stock piece at a time, each choice the best for the rows as they then stand.
    """
    for group in cut.groups.values():
        for _, taken in group.bars:
            _ends(placed, group, [piece for piece in taken if piece.role != "whole"])
    for row in placed.rows:
        row.chain = row.lay()


def _ends(placed: Rows, group: Group, taken: list[Cut]) -> None:
    """Give the formed ends of one stock piece to the two cuts that gain the most; a lone cut keeps one of them."""
    if _all_alike(group):
        return
    roles: list[Role] = ["first", "last"]
    while roles and taken:
        choices = [(_loss(placed, piece, role), piece, role) for role in roles for piece in taken]
        loss, piece, role = min(choices, key=lambda choice: choice[0])
        if loss > 0.0 and len(roles) == 1:
            return
        piece.role = role
        roles.remove(role)
        taken = [other for other in taken if other is not piece]


def _all_alike(group: Group) -> bool:
    """Return whether cuts change no end at all."""
    return all(item.upstream_end == item.downstream_end == item.cut_end for item in group.items)


def _loss(placed: Rows, piece: Cut, role: Role) -> float:
    """Return how much more unwelcome the joints of a piece's row are with this role than with no formed end."""
    row, old = placed.rows[piece.row], piece.role
    piece.role = "between"
    without = row.reluctance_around(piece.place)
    piece.role = role
    with_role = row.reluctance_around(piece.place)
    piece.role = old
    return with_role - without
