"""States of the gates: what a named state means, which hoods are open in it, and which runs are active.

The one reading of the contract's gate paragraph; every question asks here.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough.wire.problem import Fault
from airbough.wire.state import GateSetting, NamedState
from airbough_service.core.network import reaching
from airbough_service.shop.machines import Machine
from airbough_service.shop.opening import SMALLEST_OPENING, is_shut, too_small
from airbough_service.shop.shop import Shop
from airbough_service.terms.refusal import Refusal, no_run

Flags = NDArray[np.bool_]
Openings = dict[int, float]
"""Run number -> opening of its gate; gates that are not in it stand as in the document."""


@dataclass(frozen=True, slots=True)
class GateState:
    """A state of the gates.

    Attributes:
        name: the caller's; None for the document's own.
        openings: of every gate that may depart from the document.
        named: places in ``shop.machines.each`` of the machines that the state names as open.
    """

    name: str | None = None
    openings: Openings = field(default_factory=dict)
    named: frozenset[int] = frozenset()


AS_STATED = GateState()
"""The gates as the document has them."""


def document(shop: Shop) -> Openings:
    """Return the opening of every gate as the document has it."""
    return {index: _stated(shop, index) for index in shop.machines.gates}


def when_open(shop: Shop) -> Openings:
    """Return the opening of every gate when its machine runs: the document's, fully open where that is shut."""
    return {index: 1.0 if is_shut(share) else share for index, share in document(shop).items()}


def _stated(shop: Shop, index: int) -> float:
    gate = shop.runs[index].run.gate
    return 1.0 if gate is None else float(gate.opening)


def setting(shop: Shop, asked: GateSetting, path: str, faults: list[Fault]) -> GateState:
    """Return the state that a setting describes, noting every word that names nothing.

    Args:
        shop: the tree with its machines.
        asked: the setting; a name of its own is taken over.
        path: of the setting in the document.
        faults: is told what is wrong.
    """
    openings, named = document(shop), set[int]()
    if asked.open is not None:
        openings |= {gate: 0.0 for machine in shop.machines.each for gate in machine.gates}
        wide = when_open(shop)
        for place, word in enumerate(asked.open):
            opened = shop.machines.gates_named(word, f"{path}.open[{place}]", faults)
            openings |= {gate: wide[gate] for gate in opened}
            if word in shop.machines.words:
                named.add(shop.machines.words[word])
    openings |= own_openings(shop, asked.openings, f"{path}.openings", faults)
    return GateState(getattr(asked, "name", None), openings, frozenset(named))


def own_openings(shop: Shop, shares: dict[str, float | str] | None, path: str, faults: list[Fault]) -> Openings:
    """Return openings by run number, noting those of no run, of no gate, or too small to be told from shut."""
    number = {run.id: run.index for run in shop.runs}
    out: Openings = {}
    for word, share in (shares or {}).items():
        at, index = f"{path}.{word}", number.get(word)
        if index is None:
            faults.append(no_run(at, "unknown-run", word, number))
        elif shop.runs[index].run.gate is None:
            faults.append(Fault(path=at, code="no-gate", detail=f"the run {word!r} has no gate"))
        elif too_small(float(share)):
            faults.append(Fault(path=at, code="outside-range", detail=f"0, or {SMALLEST_OPENING:g} to 1"))
        else:
            out[index] = float(share)
    return out


def settings(
    shop: Shop, states: Sequence[NamedState], faults: list[Fault], taken: Collection[str] = ()
) -> tuple[GateState, ...]:
    """Return the named states of a request's `states`, noting what is wrong with each.

    Args:
        shop: the tree with its machines.
        states: as asked.
        faults: is told what is wrong.
        taken: names that the question itself uses.
    """
    seen: dict[str, str] = dict.fromkeys(taken, "a state that is always looked at")
    out = []
    for index, state in enumerate(states):
        path = f"states[{index}]"
        if state.name in seen:
            detail = f"{state.name!r} is the name of {seen[state.name]}"
            faults.append(Fault(path=f"{path}.name", code="duplicate-name", detail=detail))
        seen.setdefault(state.name, path)
        out.append(setting(shop, state, path, faults))
    return tuple(out)


def named_states(shop: Shop, states: Sequence[NamedState], taken: Collection[str] = ()) -> tuple[GateState, ...]:
    """Return the named states of a request.

    Raises:
        Refusal: with every fault of names and openings.
    """
    faults: list[Fault] = []
    found = settings(shop, states, faults, taken)
    if faults:
        raise Refusal("not-a-duct-tree", faults)
    return found


@dataclass(frozen=True, slots=True)
class Reach:
    """Which hoods are open, and which runs are active, in some states; both of shape (states, runs)."""

    open: Flags
    active: Flags


def reach(shop: Shop, gates: Flags) -> Reach:
    """Return who is open and active in many states.

    A hood is open when no gate between it and the collector is shut, wherever the gates lie; a run is active when an
    open hood is upstream of it, else idle.

    Args:
        shop: the tree.
        gates: shape (states, runs), whether each run's own gate is not shut; true where it has none.
    """
    hoods = np.array([run.run.hood is not None for run in shop.runs])
    is_open, active = np.empty(gates.shape, np.bool_), np.empty(gates.shape, np.bool_)
    reaching.reach(*tree_order(shop), hoods, gates, is_open, active)
    return Reach(is_open, active)


def tree_order(shop: Shop) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the run that each flows into, and the runs from the collector to the hoods, as `core.network.reaching`."""
    return np.array(shop.shape.parents, np.int64), np.array(shop.shape.order, np.int64)


class Standing(NamedTuple):
    """One state of the gates, by run: whether it has a hood and that is open, and whether an open hood is upstream."""

    open: Sequence[bool]
    active: Sequence[bool]


def standing(shop: Shop, openings: Openings | None = None) -> Standing:
    """Return who is open and active in one state of the gates."""
    return _one(shop, openings)


def _one(shop: Shop, openings: Openings | None) -> Standing:
    """Return who is open and active in one state; as the document has the gates it is looked at once for a shop."""
    if openings:
        return _looked_at(shop, document(shop) | openings)
    found: Standing | None = shop.__dict__.get("as stated")
    if found is None:
        found = shop.__dict__["as stated"] = _looked_at(shop, document(shop))
    return found


def _looked_at(shop: Shop, every: Openings) -> Standing:
    count = len(shop.runs)
    hoods, gates, is_open, active = (
        [run.run.hood is not None for run in shop.runs],
        [True] * count,
        [False] * count,
        [False] * count,
    )
    for index, opening in every.items():
        gates[index] = not is_shut(opening)
    reaching.reach_lists(shop.shape.parents, shop.shape.order, hoods, gates, is_open, active)
    return Standing(is_open, active)


def open_hoods(shop: Shop, openings: Openings | None = None) -> Sequence[bool]:
    """Return, by run, whether it has a hood and that is open in this state."""
    return _one(shop, openings).open


def active(shop: Shop, openings: Openings | None = None) -> Sequence[bool]:
    """Return, by run, whether an open hood is upstream of it in this state: air is meant to flow here."""
    return _one(shop, openings).active


def way_open(shop: Shop, openings: Openings | None = None) -> bool:
    """Return whether some hood has an open way to the fan; leaks are no way."""
    return any(open_hoods(shop, openings))


def shut_zones(shop: Shop, openings: Openings) -> tuple[int, ...]:
    """Return the runs of the zone gates that are shut in this state, by number."""
    every = document(shop) | openings
    return tuple(gate for gate in shop.machines.zones if is_shut(every[gate]))


def could_open(shop: Shop, is_open: Sequence[bool]) -> list[bool]:
    """Return, by run, whether some hood upstream of it is shut and could be opened too; `is_open`: the hoods' state."""
    out = [run.run.hood is not None and not is_open[run.index] for run in shop.runs]
    for index in reversed(shop.shape.order):
        parent = shop.shape.parents[index]
        if parent >= 0:
            out[parent] = out[parent] or out[index]
    return out


def own_ways(shop: Shop) -> tuple[tuple[tuple[int, ...], ...], ...]:
    """Return, by machine, the ways out of those hoods of it that have gates of its own: these gates, by run number."""
    out = []
    for machine in shop.machines.each:
        own, ways = set(machine.gates), []
        for hood in machine.hoods:
            way = tuple(run for run in shop.shape.way(hood) if run in own)
            ways += [way] if way else []
        out.append(tuple(ways))
    return tuple(out)


def stands_open(ways: Sequence[Sequence[int]], openings: Openings) -> bool:
    """Return whether a machine stands open: no gate of its own shuts one of its hoods, whatever zone gates do.

    So a machine with two ports stands open when one of them does, one with two gates in line only when both do.

    Args:
        ways: of the machine, as `own_ways` has them; a zone gate is a way of its own.
        openings: of every gate.
    """
    return any(all(not is_shut(openings[gate]) for gate in way) for way in ways)


def shut_off(shop: Shop, openings: Openings, named: frozenset[int] = frozenset()) -> tuple[Machine, ...]:
    """Return the machines whose own gates stand open, or that are named, and that a shut zone gate cuts off."""
    if not shut_zones(shop, openings):
        return ()
    opened = open_hoods(shop, openings)
    with_zones_open = open_hoods(shop, openings | dict.fromkeys(shop.machines.zones, 1.0))
    return tuple(
        machine
        for place, machine in enumerate(shop.machines.each)
        if (machine.gates or place in named)
        and any(with_zones_open[hood] and not opened[hood] for hood in machine.hoods)
    )
