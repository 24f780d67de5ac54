"""The states of the gates that a request asks for."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough.wire.gate_states import MOST_STATES, GateStatesRequest
from airbough.wire.problem import Fault
from airbough_service.core import deadline
from airbough_service.core.network.states import (
    set_at,
    sets_of,
    sets_up_to,
)
from airbough_service.shop import gates
from airbough_service.shop.gates import GateState, Openings, own_ways, stands_open
from airbough_service.shop.machines import Machine
from airbough_service.shop.opening import SMALLEST_OPENING, is_shut
from airbough_service.shop.shop import Shop
from airbough_service.terms.refusal import Refusal

Flags = NDArray[np.bool_]

ALL_SHUT: Final = "all gates shut"
MOST_SEARCHED: Final = 5_000  # states where the fan's curve may be crossed more than once: each is searched by itself
MOST_RUN_STATES: Final = 5_000_000  # states times runs
MOST_RUNS_TOLD: Final = 200_000  # states times runs with `detail`: `runs`


@dataclass(frozen=True, slots=True)
class Group:
    """What moves together: a machine's gates, or one zone gate.

    Attributes:
        name: of the machine, or the id of the zone gate's run.
        gates: runs with its gates, by number.
        ways: of each of its hoods with gates of its own, these; of a zone gate, itself.
    """

    name: str
    gates: tuple[int, ...]
    ways: tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True)
class State:
    """A state of the gates.

    Attributes:
        gates: name and openings, of every gate.
        path: in the document; None for a state of `up_to`.
        open: names of the groups that stand open.
    """

    gates: GateState
    path: str | None
    open: tuple[str, ...]

    @property
    def name(self) -> str:
        """The caller's name, or the machines' names."""
        return str(self.gates.name)

    @property
    def openings(self) -> Openings:
        """Run number -> opening, of every gate."""
        return self.gates.openings


@dataclass(frozen=True, slots=True)
class AskedStates:
    """The states that a request asks for; number 0 is all gates shut, then the named ones, then those of `up_to`.

    Attributes:
        groups: what moves together, in the order of the document.
        combined: the machines that `up_to` combines.
        up_to: at most so many of them at once; 0: none.
        named: the named states.
        full: run number -> opening when open, of every gate.
        document: run number -> opening in the document, of the zone gates, which `up_to` leaves alone.
    """

    groups: tuple[Group, ...]
    combined: tuple[Machine, ...]
    up_to: int
    named: tuple[State, ...]
    full: Openings
    document: Openings

    @property
    def count(self) -> int:
        """How many states there are."""
        return 1 + len(self.named) + sets_up_to(len(self.combined), self.up_to)

    def sets(self, block: int) -> Iterator[Flags]:
        """Yield the sets of machines of `up_to` as flags, shape (up to block, combined)."""
        return sets_of(len(self.combined), range(1, min(self.up_to, len(self.combined)) + 1), block)

    def at(self, number: int) -> State:
        """Return the state of the set that stands at a place in `sets`."""
        return self.of_set(set_at(len(self.combined), number))

    def of_set(self, flags: Flags) -> State:
        """Return the state of one set of machines."""
        deadline.check()
        chosen = [machine for machine, flag in zip(self.combined, flags, strict=True) if flag]
        openings = dict.fromkeys(self.full, 0.0) | self.document
        openings.update((gate, self.full[gate]) for machine in chosen for gate in machine.gates)
        name = " + ".join(machine.name for machine in chosen)
        return State(GateState(name, openings), None, opened(self.groups, openings))

    def first(self) -> tuple[State, ...]:
        """Return all gates shut, and the named states."""
        shut = GateState(ALL_SHUT, dict.fromkeys(self.full, 0.0))
        return (State(shut, None, ()), *self.named)


def opened(groups: Sequence[Group], openings: Openings) -> tuple[str, ...]:
    """Return the names of the groups that stand open."""
    return tuple(group.name for group in groups if stands_open(group.ways, openings))


def asked(shop: Shop, request: GateStatesRequest, *, once: bool) -> AskedStates:
    """Return the states that a request asks for.

    Args:
        shop: the tree.
        request: in SI.
        once: whether the fan's curve is crossed once by any tree.

    Raises:
        Refusal: with every fault of names, openings and counts.
    """
    faults: list[Fault] = []
    full = _full(shop, request, faults)
    named = gates.settings(shop, request.states, faults, taken=(ALL_SHUT, *_machine_names(shop, request)))
    combined = _combined(shop, request, faults)
    if faults:
        raise Refusal("not-a-duct-tree", faults)
    groups = _groups(shop)
    document = {gate: share for gate, share in gates.document(shop).items() if gate in shop.machines.zones}
    states = tuple(_with_full(shop, request, index, state, full, groups) for index, state in enumerate(named))
    found = AskedStates(groups, combined, request.up_to or 0, states, full, document)
    _count(shop, request, found, once=once)
    return found


def _machine_names(shop: Shop, request: GateStatesRequest) -> tuple[str, ...]:
    """Return the names that `up_to` gives to states of one machine."""
    return () if request.up_to is None else tuple(machine.name for machine in shop.machines.each if machine.gates)


def how_many(request: GateStatesRequest, machines: Sequence[Machine]) -> int:
    """Return how many states are asked for beside all gates shut; `machines`: those of the tree."""
    moving = sum(1 for machine in machines if machine.gates)
    members = moving if request.machines is None else len(set(request.machines))
    count = len(request.states)
    for size in range(1, min(members, request.up_to or 0) + 1):
        count += math.comb(members, size)
        if count > MOST_STATES:  # more than any server answers: the exact number is not reckoned beyond
            break
    return count


def _groups(shop: Shop) -> tuple[Group, ...]:
    """Return what moves together, in the order of the document."""
    pairs = zip(shop.machines.each, own_ways(shop), strict=True)
    found = [Group(machine.name, machine.gates, ways) for machine, ways in pairs if machine.gates]
    found += [Group(shop.runs[gate].id, (gate,), ((gate,),)) for gate in shop.machines.zones]
    return tuple(sorted(found, key=lambda group: min(group.gates)))


def _full(shop: Shop, request: GateStatesRequest, faults: list[Fault]) -> Openings:
    """Return the opening of every gate when it is open: the request's, else the document's, else full."""
    given = gates.own_openings(shop, request.openings, "openings", faults)
    for gate in (gate for gate, share in given.items() if is_shut(share)):
        detail = f"a gate that is open is open by {SMALLEST_OPENING:g} to 1"
        faults.append(Fault(path=f"openings.{shop.runs[gate].id}", code="outside-range", detail=detail))
    return gates.when_open(shop) | given


def _with_full(
    shop: Shop, request: GateStatesRequest, index: int, state: GateState, full: Openings, groups: tuple[Group, ...]
) -> State:
    """Return a named state in which every open gate stands as the request's own `openings` say, where they name it."""
    number = {run.id: run.index for run in shop.runs}
    given = {number[word] for word in request.openings or ()} - {
        number[word] for word in request.states[index].openings or ()
    }
    openings = {
        gate: full[gate] if gate in given and not is_shut(share) else share for gate, share in state.openings.items()
    }
    return State(replace(state, openings=openings), f"states[{index}]", opened(groups, openings))


def _combined(shop: Shop, request: GateStatesRequest, faults: list[Fault]) -> tuple[Machine, ...]:
    """Return the machines that `up_to` combines, in the order of the document."""
    if request.up_to is None:
        if request.machines is not None:
            faults.append(Fault(path="machines", code="up-to-missing", detail="`machines` belongs to `up_to`"))
        return ()
    chosen = [machine for machine in shop.machines.each if machine.gates]
    if request.machines is not None:
        chosen = _chosen(shop, request.machines, faults)
    if not chosen and not faults:
        faults.append(Fault(path="up_to", code="no-gate", detail="no machine of the tree has a gate"))
    return tuple(chosen)


def _chosen(shop: Shop, words: Sequence[str], faults: list[Fault]) -> list[Machine]:
    """Return the machines that words name, in the order of the document."""
    seen: set[str] = set()
    for place, word in enumerate(words):
        path = f"machines[{place}]"
        machine = shop.machines.named(word, path, faults)
        if machine is None:
            continue
        if not machine.gates:
            detail = f"{word!r} has no gate; its hood is always open"
            faults.append(Fault(path=path, code="no-gate", detail=detail))
        if machine.name in seen:
            detail = f"{machine.name!r} is already among the machines"
            faults.append(Fault(path=path, code="duplicate-machine", detail=detail))
        seen.add(machine.name)
    return [machine for machine in shop.machines.each if machine.name in seen]


def _count(shop: Shop, request: GateStatesRequest, found: AskedStates, *, once: bool) -> None:
    """Refuse more states than one question may ask for."""
    most = min(MOST_STATES if once else MOST_SEARCHED, MOST_RUN_STATES // len(shop.runs))
    path = "states" if 1 + len(found.named) > most else "up_to"
    detail = f"{found.count} states of the gates; {most} at most"
    if not once and found.count <= MOST_STATES:
        detail += ", as the fan's curve may be crossed more than once"
    faults = []
    if found.count > most:
        faults.append(Fault(path=path, code="too-many-states", detail=detail))
    told = found.count if found.count <= request.listed else 1 + len(found.named)
    if request.detail == "runs" and told * len(shop.runs) > MOST_RUNS_TOLD:
        detail = f"runs of {told} states are too many; ask for `summary`, or for fewer states"
        faults.append(Fault(path="detail", code="too-many-states", detail=detail))
    if faults:
        raise Refusal("not-computable", faults)
