"""Which gates move together, and the states of the gates that a request asks for."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough.wire.gate_states import (
    MOST_STATES,
    GateState,
    GateStatesRequest,
)
from airbough.wire.problem import Fault
from airbough.wire.tree import Run
from airbough_service.core import deadline
from airbough_service.core.network.states import (
    sets_of,
    sets_up_to,
)
from airbough_service.shop.pieces import SMALLEST_OPENING
from airbough_service.shop.shop import Shop
from airbough_service.terms.refusal import Refusal

Flags = NDArray[np.bool_]

ALL_SHUT: Final = "all gates shut"
MOST_SEARCHED: Final = 5_000  # states where the fan's curve may be crossed more than once: each is searched by itself
MOST_RUN_STATES: Final = 5_000_000  # states times runs
MOST_RUNS_TOLD: Final = 200_000  # states times runs with `detail`: `runs`


@dataclass(slots=True)
class Group:
    """What moves together.

    Attributes:
        name: a `machine_id`, else the id of the gate's run.
        gates: runs with its gates, by number.
        machine: whether it serves a hood; else it is a gate inside the tree.
    """

    name: str
    gates: list[int] = field(default_factory=list)
    machine: bool = False


@dataclass(frozen=True, slots=True)
class State:
    """A state of the gates.

    Attributes:
        name: the caller's, or the machines' names.
        path: in the document; None for a state of `up_to`.
        openings: run number -> opening, of every gate.
        open: names of the groups with an open gate, or of the runs of a group that is open in part.
    """

    name: str
    path: str | None
    openings: dict[int, float]
    open: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Asked:
    """The states that a request asks for; number 0 is all gates shut, then the named ones, then those of `up_to`.

    Attributes:
        groups: what moves together, in the order of the document.
        combined: the groups that `up_to` combines.
        up_to: at most so many of them at once; 0: none.
        named: the named states.
        full: run number -> opening when open, of every gate.
        document: run number -> opening in the document, of the gates that `up_to` leaves alone.
    """

    groups: tuple[Group, ...]
    combined: tuple[Group, ...]
    up_to: int
    named: tuple[State, ...]
    full: dict[int, float]
    document: dict[int, float]

    @property
    def count(self) -> int:
        """How many states there are."""
        return 1 + len(self.named) + sets_up_to(len(self.combined), self.up_to)

    def sets(self, block: int) -> Iterator[Flags]:
        """Yield the sets of machines of `up_to` as flags, shape (up to block, combined)."""
        return sets_of(len(self.combined), range(1, min(self.up_to, len(self.combined)) + 1), block)

    def of_set(self, flags: Flags) -> State:
        """Return the state of one set of machines."""
        deadline.check()
        chosen = [group for group, flag in zip(self.combined, flags, strict=True) if flag]
        openings = dict.fromkeys(self.full, 0.0) | self.document
        openings.update((gate, self.full[gate]) for group in chosen for gate in group.gates)
        return State(" + ".join(group.name for group in chosen), None, openings, opened(self.groups, openings))

    def first(self) -> tuple[State, ...]:
        """Return all gates shut, and the named states."""
        shut = dict.fromkeys(self.full, 0.0)
        return (State(ALL_SHUT, None, shut, ()), *self.named)


def opened(groups: Sequence[Group], openings: dict[int, float]) -> tuple[str, ...]:
    """Return the names of the groups with an open gate."""
    return tuple(group.name for group in groups if any(openings[gate] >= SMALLEST_OPENING for gate in group.gates))


def asked(shop: Shop, request: GateStatesRequest, *, once: bool) -> Asked:
    """Return the states that a request asks for.

    Args:
        shop: the tree.
        request: in SI.
        once: whether the fan's curve is crossed once by any tree.

    Raises:
        Refusal: with every fault of names, openings and counts.
    """
    faults: list[Fault] = []
    groups, by_name = _groups(request.runs)
    full = {gate: 1.0 for group in groups for gate in group.gates}
    full.update(_openings(request.runs, request.openings, "openings", faults))
    for gate in (gate for gate, share in full.items() if share < SMALLEST_OPENING):
        detail = f"a gate that is open is open by {SMALLEST_OPENING:g} to 1"
        faults.append(Fault(path=f"openings.{request.runs[gate].id}", code="outside-range", detail=detail))
    named = _named(request, groups, by_name, full, faults)
    combined = _combined(request, groups, by_name, faults)
    if faults:
        raise Refusal("not-a-duct-tree", faults)
    inside = [gate for group in groups if not group.machine for gate in group.gates]
    document = {gate: float(request.runs[gate].gate.opening) for gate in inside}  # type: ignore[union-attr]
    found = Asked(groups, combined, request.up_to or 0, named, full, document)
    _count(shop, request, found, once=once)
    return found


def _groups(runs: Sequence[Run]) -> tuple[tuple[Group, ...], dict[str, Group]]:
    """Return what moves together, and each name that means it; a `machine_id` comes before a run's id."""
    machines: dict[str, Group] = {}
    by_run: dict[str, Group] = {}
    served = {run.hood.machine_id for run in runs if run.hood is not None}
    for index, run in enumerate(runs):
        if run.gate is None:
            continue
        shared = run.gate.machine_id or (run.hood.machine_id if run.hood is not None else None)
        group = Group(run.id) if shared is None else machines.setdefault(shared, Group(shared))
        group.gates.append(index)
        group.machine = group.machine or run.hood is not None or shared in served - {None}
        by_run[run.id] = group
    every = {id(group): group for group in by_run.values()}
    return tuple(sorted(every.values(), key=lambda group: group.gates[0])), by_run | machines


def _group(name: str, path: str, runs: Sequence[Run], by_name: dict[str, Group], faults: list[Fault]) -> Group | None:
    """Return the group of a name, or note that there is none."""
    group = by_name.get(name)
    if group is not None:
        return group
    known = {run.id for run in runs} | {run.hood.machine_id for run in runs if run.hood is not None}
    if name in known:
        faults.append(Fault(path=path, code="no-gate", detail=f"{name!r} has no gate; its hood is always open"))
        return None
    near = difflib.get_close_matches(name, by_name, 3)
    hint = "; nearest: " + ", ".join(near) if near else ""
    detail = f"no gate has the machine_id or the run id {name!r}{hint}"
    faults.append(Fault(path=path, code="unknown-machine", detail=detail))
    return None


def _openings(
    runs: Sequence[Run], shares: dict[str, float | str] | None, path: str, faults: list[Fault]
) -> dict[int, float]:
    """Return openings by run number, and note those of no gate or too small to be told from shut."""
    number = {run.id: index for index, run in enumerate(runs)}
    out = {}
    for word, share in (shares or {}).items():
        at, index = f"{path}.{word}", number.get(word)
        if index is None:
            faults.append(Fault(path=at, code="unknown-run", detail=f"no run has the id {word!r}"))
        elif runs[index].gate is None:
            faults.append(Fault(path=at, code="no-gate", detail=f"the run {word!r} has no gate"))
        elif 0.0 < float(share) < SMALLEST_OPENING:
            faults.append(Fault(path=at, code="outside-range", detail=f"0, or {SMALLEST_OPENING:g} to 1"))
        else:
            out[index] = float(share)
    return out


def _named(
    request: GateStatesRequest,
    groups: Sequence[Group],
    by_name: dict[str, Group],
    full: dict[int, float],
    faults: list[Fault],
) -> tuple[State, ...]:
    """Return the named states."""
    seen: dict[str, str] = {ALL_SHUT: "the state that is always examined"}
    out = []
    for index, state in enumerate(request.states):
        path = f"states[{index}]"
        if state.name in seen:
            detail = f"{state.name!r} is the name of {seen[state.name]}"
            faults.append(Fault(path=f"{path}.name", code="duplicate-name", detail=detail))
        seen.setdefault(state.name, path)
        out.append(_one(request.runs, state, path, groups, by_name, full, faults))
    return tuple(out)


def _one(
    runs: Sequence[Run],
    state: GateState,
    path: str,
    groups: Sequence[Group],
    by_name: dict[str, Group],
    full: dict[int, float],
    faults: list[Fault],
) -> State:
    """Return one named state."""
    openings = dict.fromkeys(full, 0.0)
    for place, word in enumerate(state.open):
        group = _group(word, f"{path}.open[{place}]", runs, by_name, faults)
        if group is not None:
            openings.update((gate, full[gate]) for gate in group.gates)
    openings.update(_openings(runs, state.openings, f"{path}.openings", faults))
    return State(state.name, path, openings, opened(groups, openings))


def _combined(
    request: GateStatesRequest, groups: Sequence[Group], by_name: dict[str, Group], faults: list[Fault]
) -> tuple[Group, ...]:
    """Return the machines that `up_to` combines, in the order of the document."""
    if request.up_to is None:
        if request.machines is not None:
            faults.append(Fault(path="machines", code="up-to-missing", detail="`machines` belongs to `up_to`"))
        return ()
    chosen = [group for group in groups if group.machine]
    if request.machines is not None:
        named = [
            _group(word, f"machines[{k}]", request.runs, by_name, faults) for k, word in enumerate(request.machines)
        ]
        for k, group in enumerate(named):
            if group is not None and any(group is earlier for earlier in named[:k]):
                detail = f"{group.name!r} is already among the machines"
                faults.append(Fault(path=f"machines[{k}]", code="duplicate-machine", detail=detail))
        chosen = [group for group in groups if any(group is one for one in named)]
    if not chosen and not faults:
        faults.append(Fault(path="up_to", code="no-gate", detail="no machine of the tree has a gate"))
    return tuple(chosen)


def _count(shop: Shop, request: GateStatesRequest, found: Asked, *, once: bool) -> None:
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
