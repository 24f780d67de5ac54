"""The answer's structs, in SI."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from airbough.wire.quantity import Preset
from airbough.wire.sizing import (
    RunAtState,
    SizedPiece,
    SizedRun,
    SizedState,
)
from airbough_service.questions.sizing.duty import Duty
from airbough_service.questions.sizing.engine import Checked
from airbough_service.questions.sizing.kits import Kit
from airbough_service.questions.sizing.options import Option
from airbough_service.questions.sizing.states import State
from airbough_service.questions.sizing.stock import Part, metres
from airbough_service.solving.solved_state import most_starved
from airbough_service.solving.tree_answer import velocity

Floats = NDArray[np.float64]


def pieces(parts: Iterable[Part], preset: Preset) -> tuple[SizedPiece, ...]:
    """Return the pieces of one run, equal ones together."""
    together: dict[tuple[object, ...], Part] = {}
    for part in parts:
        key = (part.kind, part.at, part.length, part.fitting_length)
        before = together.get(key)
        count = part.count + (0 if before is None else before.count)
        together[key] = Part(part.kind, count, part.price_each, part.at, part.length, part.fitting_length)
    return tuple(piece(part, preset) for part in together.values())


def piece(part: Part, preset: Preset) -> SizedPiece:
    """Return one kind of piece."""
    return SizedPiece(
        type=part.kind.type,
        diameters=tuple(metres(bore, preset) for bore in part.kind.bores),
        quantity=part.count if part.length is None else None,
        length=part.length,
        angle=part.kind.angle,
        fitting_length=part.fitting_length,
        price_each=part.price_each if part.length is None else None,
        price=None if part.price_each is None else part.price,
        at=part.at,
    )


def runs(
    options: Sequence[Option],
    kits: Sequence[Kit],
    flows: Sequence[Floats],
    states: tuple[State, ...],
    fixed: frozenset[int],
    preset: Preset,
    gained: Mapping[int, Option],
) -> tuple[SizedRun, ...]:
    """Return every run in document order, behind them those that the tree gained.

    Args:
        options: of every run, in any order.
        kits: in the same order.
        flows: by state, the flow of each run by its number, m3/s.
        states: with their names.
        fixed: numbers of the runs that keep their bore.
        preset: the caller's.
        gained: runs of no length between a wye of another size and the run that they flow into, by its number.
    """
    out, wyes = {}, {}
    for option, kit in zip(options, kits, strict=True):
        index = option.run.index
        of_run = [float(flow[index]) for flow in flows]
        upstream = kit.parts
        if kit.between is not None:
            wyes[index] = _sized_run(gained[index], kit.parts, of_run, states, preset, gained=True)
            upstream = (kit.between.change,)
        out[index] = _sized_run(option, (*option.parts, *upstream), of_run, states, preset, fixed=index in fixed)
    return (*(out[index] for index in sorted(out)), *(wyes[index] for index in sorted(wyes)))


def _sized_run(
    option: Option,
    parts: Sequence[Part],
    flows: Sequence[float],
    states: tuple[State, ...],
    preset: Preset,
    *,
    fixed: bool = False,
    gained: bool = False,
) -> SizedRun:
    """Return one run; flows: by state, m3/s."""
    return SizedRun(
        run=option.run.id,
        diameter=option.bore,
        fixed=fixed,
        gained=gained,
        price=sum(part.price for part in parts),
        pieces=pieces(parts, preset),
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
