"""Which machines a shop has, and which hoods and gates belong to each.

A hood belongs to the machine of its `machine_id`. Without one it takes that of the nearest gate that has one between
it and the first junction; failing that, that of the first gate on its way to the collector, if that gate has one; else
it is a machine of its own, named by its run. A gate belongs to the machine of its `machine_id`; without one, to the
machine whose hoods are all the hoods upstream of it; else it is a zone gate and belongs to none.

Ids that disagree are refused: where a gate has an id, every hood upstream of it must be of that machine, for shutting
the gate shuts them all. A hood with a gate of its own, neither of which has an id, stays a machine of its own though a
gate with an id lies beyond a junction: it can be shut by itself, and an id meant for a zone must not make one machine
of several without a word. Such a gate is refused too; the id belongs on the hood as well, or off the gate.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

from msgspec import Struct

from airbough.wire.problem import Fault
from airbough.wire.tree import Run
from airbough_service.shop.topology import Topology
from airbough_service.terms.refusal import nearest

_SEVERAL = -2  # hoods of several machines lie upstream
_NONE = -1  # no hood lies upstream, or no machine is of this name


class Machine(Struct, frozen=True):
    """A machine: what moves together.

    Attributes:
        name: its `machine_id`, else the id of its hood's run.
        hoods: runs at whose hoods it stands, by number.
        gates: runs whose gates move with it, by number.
    """

    name: str
    hoods: tuple[int, ...]
    gates: tuple[int, ...]


class Machines(Struct, frozen=True, dict=True):
    """The machines of a shop.

    Attributes:
        each: in the order of their first hoods in the document.
        zones: runs with gates that belong to no machine, by number.
        gates: runs with a gate, by number.
        ids: of all runs.
    """

    each: tuple[Machine, ...]
    zones: tuple[int, ...]
    gates: tuple[int, ...]
    ids: tuple[str, ...]

    @cached_property
    def words(self) -> dict[str, int]:
        """Each word that names a machine -> its place in `each`; a `machine_id` comes before a run's id."""
        words = {machine.name: place for place, machine in enumerate(self.each)}
        for place, machine in enumerate(self.each):
            for index in (*machine.hoods, *machine.gates):
                words.setdefault(self.ids[index], place)
        return words

    @cached_property
    def zone_words(self) -> dict[str, int]:
        """Run id of a zone gate -> its run, by number."""
        return {self.ids[index]: index for index in self.zones}

    def named(self, word: str, path: str, faults: list[Fault]) -> Machine | None:
        """Return the machine that a word names, noting a word that names none."""
        if word in self.words:
            return self.each[self.words[word]]
        faults.append(self._zone(word, path) if word in self.zone_words else self._unknown(word, path))
        return None

    def gates_named(self, word: str, path: str, faults: list[Fault]) -> tuple[int, ...]:
        """Return the gates that a word moves, a zone gate's run id included, noting a word that names nothing."""
        if word not in self.words and word in self.zone_words:
            return (self.zone_words[word],)
        machine = self.named(word, path, faults)
        return () if machine is None else machine.gates

    def _zone(self, word: str, path: str) -> Fault:
        detail = f"the gate of {word!r} serves several machines, so it is no machine's"
        return Fault(path=path, code="unknown-machine", detail=detail)

    def _unknown(self, word: str, path: str) -> Fault:
        hint, near = nearest(word, [*self.words, *self.zone_words])
        detail = f"no machine, hood or gate is named {word!r}{hint}"
        return Fault(path=path, code="unknown-machine", detail=detail, example=near)


def machines_of(runs: Sequence[Run], shape: Topology) -> tuple[Machines, list[Fault]]:
    """Return who is who, and a fault for each gate whose `machine_id` is not that of every hood upstream of it."""
    names = _hood_names(runs, shape)
    number: dict[tuple[bool, str], int] = {}  # by id or by run, so that equal words are seen
    hoods: list[list[int]] = []
    machine: dict[int, int] = {}
    for index, key in names.items():
        place = machine[index] = number.setdefault(key, len(hoods))
        if place == len(hoods):
            hoods.append([])
        hoods[place].append(index)
    faults = _ambiguous(runs, number, hoods)
    owner = _owners(runs, shape, machine)
    gates: list[list[int]] = [[] for _ in hoods]
    zones, with_gate = list[int](), list[int]()
    for index, run in enumerate(runs):
        if run.gate is None:
            continue
        with_gate.append(index)
        upstream, stated = owner[index], run.gate.machine_id
        own = upstream if stated is None else number.get((True, stated), _NONE)
        if upstream == _NONE:
            continue  # a leaf without hood is a fault elsewhere
        if own != upstream:
            faults.append(_disagreement(runs, shape, index, names))
        elif own == _SEVERAL:
            zones.append(index)
        else:
            gates[own].append(index)
    each = tuple([Machine(key[1], tuple(hoods[place]), tuple(gates[place])) for key, place in number.items()])
    found = Machines(each, tuple(zones), tuple(with_gate), tuple([run.id for run in runs]))
    return found, [*faults, *_taken(runs, each)]


def _hood_names(runs: Sequence[Run], shape: Topology) -> dict[int, tuple[bool, str]]:
    """Return, for each run with a hood, whether a `machine_id` names its machine, and the name."""
    if not [run for run in runs if run.gate is not None and run.gate.machine_id]:
        return {
            index: (False, run.id) if hood.machine_id is None else (True, hood.machine_id)
            for index, run in enumerate(runs)
            if (hood := run.hood) is not None
        }
    on_line: list[str | None] = [None] * len(runs)  # of the nearest gate with an id, down to the first junction
    first: list[str | None] = [None] * len(runs)  # of the first gate at all, where that has one
    for index in shape.order:
        run, parent = runs[index], shape.parents[index]
        own = None if run.gate is None else run.gate.machine_id
        alone = parent >= 0 and len(shape.children[parent]) == 1
        on_line[index] = own or (on_line[parent] if alone else None)
        first[index] = own if run.gate is not None else first[parent] if parent >= 0 else None
    out: dict[int, tuple[bool, str]] = {}
    for index, run in enumerate(runs):
        if run.hood is not None:
            name = run.hood.machine_id or on_line[index] or first[index]
            out[index] = (False, run.id) if name is None else (True, name)
    return out


def _owners(runs: Sequence[Run], shape: Topology, machine: dict[int, int]) -> list[int]:
    """Return, by run, the one machine whose hoods are all those upstream of it, or that there are several or none."""
    owner = [_NONE] * len(runs)
    for index in reversed(shape.order):
        own = machine.get(index, _NONE)
        for arm in shape.children[index]:
            other = owner[arm]
            own = other if own in (_NONE, other) else own if other == _NONE else _SEVERAL
        owner[index] = own
    return owner


def _ambiguous(runs: Sequence[Run], number: dict[tuple[bool, str], int], hoods: list[list[int]]) -> list[Fault]:
    """Return a fault for each hood that is named by its run as another machine is by its `machine_id`."""
    return [
        Fault(
            path=f"runs[{hoods[place][0]}].id",
            code="ambiguous-machine",
            detail=f"{name!r} is also the machine_id of other hoods or gates; give this hood a machine_id",
        )
        for (by_id, name), place in number.items()
        if not by_id and (True, name) in number
    ]


def _taken(runs: Sequence[Run], each: tuple[Machine, ...]) -> list[Fault]:
    """Return a fault for each run whose gate is not of the machine that bears the run's id as its `machine_id`."""
    between = [index for index, run in enumerate(runs) if run.hood is None and run.gate is not None]
    if not between:
        return []
    names = {runs[index].id for index in between}
    own = {machine.name: {*machine.hoods, *machine.gates} for machine in each if machine.name in names}
    return [
        Fault(
            path=f"runs[{index}].id",
            code="ambiguous-machine",
            detail=f"{runs[index].id!r} is also the machine_id of a machine that this gate does not belong to",
        )
        for index in between
        if index not in own.get(runs[index].id, (index,))
    ]


def _disagreement(runs: Sequence[Run], shape: Topology, gate: int, names: dict[int, tuple[bool, str]]) -> Fault:
    """Return the fault of a gate that shuts the hood of another machine than its own."""
    own = runs[gate].gate
    assert own is not None
    upstream = [gate]
    for index in upstream:
        upstream.extend(shape.children[index])
    other = next(index for index in upstream if names.get(index, (True, own.machine_id)) != (True, own.machine_id))
    detail = (
        f"the gate is said to be of {own.machine_id!r}, and the hood {runs[other].id!r} upstream of it is of "
        f"{names[other][1]!r}; give the hood that id too, or leave out the gate's"
    )
    return Fault(path=f"runs[{gate}].gate.machine_id", code="machine-ids-disagree", detail=detail)
