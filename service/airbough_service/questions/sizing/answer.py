"""The answer's structs, in SI."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from airbough.wire.sizing import (
    RunAtState,
    SizedPiece,
    SizedRun,
    SizedState,
    SizingRequest,
)
from airbough_service.questions.sizing.duty import Duty
from airbough_service.questions.sizing.engine import Checked
from airbough_service.questions.sizing.joints import Kit
from airbough_service.questions.sizing.options import Option
from airbough_service.questions.sizing.states import State
from airbough_service.questions.sizing.stock import Part, metres
from airbough_service.shop.stock import SQUARE
from airbough_service.solving.solved_state import most_starved
from airbough_service.solving.tree_answer import velocity
from airbough_service.terms import money

Floats = NDArray[np.float64]


def currency(request: SizingRequest) -> str | None:
    """Return the currency of a request's stock."""
    return None if request.stock is None else request.stock.currency


def pieces(parts: Iterable[Part], request: SizingRequest) -> tuple[SizedPiece, ...]:
    """Return the pieces of one run, equal ones together."""
    together: dict[tuple[object, ...], list[Part]] = defaultdict(list)
    for part in parts:
        together[part.kind, part.at, part.length is None, part.fitting_length].append(part)
    return tuple(_piece(some, request) for some in together.values())


def _piece(parts: Sequence[Part], request: SizingRequest) -> SizedPiece:
    """Return pieces of one kind, each out of the same entry."""
    part = parts[0]
    price = _price(parts)
    return SizedPiece(
        type="tee" if part.kind.type == "wye" and (part.kind.angle or 0.0) >= SQUARE else part.kind.type,
        diameters=tuple(metres(bore, request.units) for bore in part.kind.bores),
        quantity=sum(one.count for one in parts) if part.length is None else None,
        length=None if part.length is None else sum(one.length or 0.0 for one in parts),
        angle=part.kind.angle,
        fitting_length=part.fitting_length,
        price_each=money.shown(part.price_each),
        price=None if price is None else money.coined(price, currency(request)),
        item=part.item,
        at=part.at,
    )


def _price(parts: Iterable[Part]) -> Decimal | None:
    """Return what parts cost together, not rounded; None where one of them has no price."""
    prices = [part.price for part in parts]
    return sum((price for price in prices if price is not None), Decimal(0)) if None not in prices else None


def total(options: Sequence[Option], kits: Sequence[Kit], request: SizingRequest) -> tuple[Decimal, bool]:
    """Return the price of all, rounded by stock entry as a bill is, and whether every piece has one."""
    bought: dict[str | None, list[Part]] = defaultdict(list)
    for option, kit in zip(options, kits, strict=True):
        for part in (*option.parts, *kit.parts, *(() if kit.between is None else (kit.between.change,))):
            bought[part.at].append(part)
    prices = [_price(parts) for parts in bought.values()]
    lines = [money.coined(price, currency(request)) for price in prices if price is not None]
    return money.summed(lines, currency(request)), len(lines) == len(prices)


def runs(
    options: Sequence[Option],
    kits: Sequence[Kit],
    flows: Sequence[Floats],
    states: tuple[State, ...],
    fixed: frozenset[int],
    request: SizingRequest,
    gained: Mapping[int, Option],
) -> tuple[SizedRun, ...]:
    """Return every run in document order, behind them those that the tree gained.

    Args:
        options: of every run, in any order.
        kits: in the same order.
        flows: by state, the flow of each run by its number, m3/s.
        states: with their names.
        fixed: numbers of the runs that keep their bore.
        request: as asked.
        gained: runs of no length between a wye of another size and the run that they flow into, by its number.
    """
    out, wyes = {}, {}
    for option, kit in zip(options, kits, strict=True):
        index = option.run.index
        of_run = [float(flow[index]) for flow in flows]
        upstream = kit.parts
        if kit.between is not None:
            wyes[index] = _sized_run(gained[index], kit.parts, of_run, states, request, gained=True)
            upstream = (kit.between.change,)
        out[index] = _sized_run(option, (*option.parts, *upstream), of_run, states, request, fixed=index in fixed)
    return (*(out[index] for index in sorted(out)), *(wyes[index] for index in sorted(wyes)))


def _sized_run(
    option: Option,
    parts: Sequence[Part],
    flows: Sequence[float],
    states: tuple[State, ...],
    request: SizingRequest,
    *,
    fixed: bool = False,
    gained: bool = False,
) -> SizedRun:
    """Return one run; flows: by state, m3/s."""
    own = pieces(parts, request)
    return SizedRun(
        run=option.run.id,
        diameter=option.bore,
        fixed=fixed,
        gained=gained,
        price=money.summed((piece.price for piece in own if piece.price is not None), currency(request)),
        pieces=own,
        states=tuple(
            RunAtState(state=state.name, flow=flow, velocity=velocity(option.run, flow))
            for state, flow in zip(states, flows, strict=True)
        ),
    )


def states(
    all_states: tuple[State, ...], need: Floats, duty: Duty, checks: list[Checked], allowed: Floats | None = None
) -> tuple[SizedState, ...]:
    """Return every state: what it asks of the fan, and what the engine says; allowed: for leaks."""
    out = []
    for number, (state, check) in enumerate(zip(all_states, checks, strict=True)):
        balance, solved = check.balance, check.solved
        known = None if duty.available is None else float(duty.available[number])
        worst = None if solved is None else most_starved(solved.hoods)
        outcome = "suction-too-deep" if check.too_deep else None if solved is None else solved.operating.outcome
        out.append(
            SizedState(
                state=state.name,
                flow=float(duty.flow[number]),
                fan_static_pressure=float(need[number]),
                leak_allowance=None if allowed is None else float(allowed[number]),
                available=None if known is None or np.isnan(known) else known,
                engine_fan_static_pressure=None if balance is None else balance.system.required.fan_static_pressure,
                operating_point=outcome,
                operating_flow=None if solved is None else float(solved.operating.flow[0]),
                most_starved_hood=None if worst is None else worst.run,
                share_of_design=None if worst is None else worst.share_of_design,
            )
        )
    return tuple(out)
