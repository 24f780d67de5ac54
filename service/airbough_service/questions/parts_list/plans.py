"""The cutting plan of each construction and bore, told in SI, the adapters of its joints in it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from decimal import Decimal
from typing import Final

from airbough.wire.parts_list import (
    Adapter,
    BoughtLength,
    CutPiece,
    CuttingPlan,
)
from airbough_service.core.choosing.laying import Chain
from airbough_service.questions.parts_list.cutting import (
    Cut,
    Cutting,
    Group,
)
from airbough_service.questions.parts_list.joints import Made
from airbough_service.questions.parts_list.rows import Rows
from airbough_service.questions.parts_list.rules import Rules
from airbough_service.questions.parts_list.stock import (
    StockList,
    alike,
)
from airbough_service.terms import money

_NOT_KNOWN: Final = "not-known"  # an end of which the stock does not say how it joins


def plans(
    cut: Cutting, placed: Rows, joints: Sequence[Made], stock: StockList, rules: Rules, currency: str | None
) -> tuple[CuttingPlan, ...]:
    """Return the cutting plans; an adapter stands in the first plan of its bore, else in one of its own."""
    places, turned = _places(placed)
    left = adapters(joints, stock, rules)
    out = []
    for group in cut.groups.values():
        if not group.cuts or group.by_length:
            continue
        mine = tuple(adapter for adapter in left if alike(float(adapter.diameter), group.bore))
        left = [adapter for adapter in left if adapter not in mine]
        out.append(_plan(group, rules.of("kerf"), places, turned, mine, currency))
    bores = sorted({float(adapter.diameter) for adapter in left})
    return tuple(out) + tuple(
        _only_adapters(bore, tuple(adapter for adapter in left if alike(float(adapter.diameter), bore)))
        for bore in bores
    )


def adapters(joints: Sequence[Made], stock: StockList, rules: Rules) -> list[Adapter]:
    """Return the adapters by kind and bore, in order of first use."""
    runs: dict[tuple[str, float], list[str]] = defaultdict(list)
    for made in joints:
        if made.joint.adapter is not None:
            runs[made.joint.adapter, made.bore].append(made.run)
    out = []
    for (use, bore), where in runs.items():
        entry = stock.adapter(use, bore)
        own = None if entry is None else entry.ware.length
        length = rules.of("adapter_length") if own is None else float(own)
        out.append(
            Adapter(
                use=use,  # type: ignore[arg-type]  # one of the words
                diameter=bore,
                length=length,
                quantity=len(where),
                runs=tuple(dict.fromkeys(where)),
                item=None if entry is None else entry.ware.item,
                at=None if entry is None else entry.at,
            )
        )
    return out


def _places(placed: Rows) -> tuple[dict[int, int], set[int]]:
    """Return each cut's number in its run, and which are turned."""
    places: dict[int, int] = {}
    turned: set[int] = set()
    for row in placed.rows:
        counts: dict[str, int] = defaultdict(int)
        chain: Chain | None = row.chain
        assert chain is not None
        for slot, turn in zip(row.slots, chain.turned, strict=True):
            if slot.cut is not None:
                counts[slot.part.run] += 1
                places[id(slot.cut)] = counts[slot.part.run]
                if turn:
                    turned.add(id(slot.cut))
    return places, turned


def _plan(
    group: Group, kerf: float, places: dict[int, int], turned: set[int], mine: tuple[Adapter, ...], currency: str | None
) -> CuttingPlan:
    packing = group.packing
    assert packing is not None
    lengths = []
    swarf = 0.0
    for item, taken in group.bars:
        left = (item.length or 0.0) - sum(cut.length for cut in taken)
        lost = min(max(left, 0.0), kerf * len(taken))
        swarf += lost
        told = tuple(_cut(cut, places[id(cut)], id(cut) in turned) for cut in taken)
        lengths.append(
            BoughtLength(
                item=item.entry.ware.item,
                at=item.at,
                length=item.length or 0.0,
                cuts=told,
                offcut=max(left - lost, 0.0),
            )
        )
    bought = sum((item.length or 0.0) for item, _ in group.bars)
    bound = group.whole_cost + packing.bound
    return CuttingPlan(
        duct=group.duct,
        diameter=group.bore,
        lengths_bought=tuple(lengths),
        bought_length=bought,
        laid_length=sum(cut.laid for cut in group.cuts),
        kerf_length=swarf,
        waste=max(bought - sum(cut.length for cut in group.cuts), 0.0),
        objective="price" if group.priced else "length",
        proof="exact" if packing.exact else "gap",
        bound_length=None if group.priced else bound,
        bound_price=_least(bound, packing.exact, currency) if group.priced else None,
        adapters=mine,
    )


def _least(bound: float, exact: bool, currency: str | None) -> Decimal:
    """Return the bound in coins."""
    return money.coined(Decimal(repr(bound)), currency) if exact else money.at_least(bound, currency)


def _cut(cut: Cut, place: int, turned: bool) -> CutPiece:
    ends = cut.piece().ends(turned=turned)
    return CutPiece(
        run=cut.part.run,
        place=place,
        laid_length=cut.laid,
        cut_length=cut.length,
        allowance=cut.allowance,
        upstream_end=str(ends[0] or _NOT_KNOWN),
        downstream_end=str(ends[1] or _NOT_KNOWN),
        turned=turned,
    )


def _only_adapters(bore: float, mine: tuple[Adapter, ...]) -> CuttingPlan:
    """Return a plan of a bore that has no duct to cut."""
    return CuttingPlan(
        duct="",
        diameter=bore,
        lengths_bought=(),
        bought_length=0.0,
        laid_length=0.0,
        kerf_length=0.0,
        waste=0.0,
        objective="length",
        proof="exact",
        adapters=mine,
    )
