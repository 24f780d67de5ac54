"""What a caller left out of hoods, filled from the machines of the catalogue: flow, entry, dust."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any, Final, Literal, TypeAlias, TypeVar

from msgspec import Struct, structs

from airbough.reading import quantity_text
from airbough.reading.units import from_preset
from airbough.reading.wrong import Wrong
from airbough.wire.answer import Assumed
from airbough.wire.entry import (
    Entry,
    FlangedOpening,
    PlainOpening,
    WheelHoodStraight,
    WheelHoodTapered,
)
from airbough.wire.problem import Fault
from airbough.wire.quantity import Preset
from airbough.wire.tree import Hood, Run, Tree
from airbough_service import catalogue
from airbough_service.catalogue import Machine, Passport, Size, UnknownWordError
from airbough_service.core.limits import above
from airbough_service.shop.machines import Machines
from airbough_service.terms import units
from airbough_service.terms.finding import lower, plain

_MOST_KNOWN: Final = 1024  # machines in their sizes that are remembered
AnyTree = TypeVar("AnyTree", bound=Tree)
Why: TypeAlias = Literal["fits", "only", "smallest", "beyond"]

_ENTRIES: Final[dict[str, Entry]] = {
    "plain-opening": PlainOpening(),
    "flanged-opening": FlangedOpening(),
    "wheel-hood-straight": WheelHoodStraight(),
    "wheel-hood-tapered": WheelHoodTapered(),
}


class Known(Struct, frozen=True):
    """A machine of the catalogue in one size.

    Attributes:
        machine: the catalogue's entry.
        size: the row of it that answers.
        why: `fits` the size given; the `only` row there is; the `smallest`, for no size was given; the largest row, and
            the size given is `beyond` it.
        given: the size, in SI; None where none was.
    """

    machine: Machine
    size: Size
    why: Why
    given: float | None

    @property
    def read(self) -> bool:
        """Whether the flow was read in its document."""
        return self.size.passport.how == "read"

    @property
    def named(self) -> str:
        """What it is, for a sentence: `table saw or sizing saw, blade to 250 mm`."""
        return f"{lower(self.machine.title)}, {self.size.size}"


class Filled(Struct, frozen=True):
    """One value that was filled in, in SI.

    Attributes:
        path: of the field.
        value: SI, a word or a struct's tag.
        kind: of quantity, None for words.
        reason: one sentence.
        passport: where it comes from; None for a rule of ours.
    """

    path: str
    value: Any
    kind: str | None
    reason: str
    passport: Passport | None

    def told(self, preset: Preset) -> Assumed:
        """Return it for the wire, in the preset."""
        value = self.value if self.kind is None else units.written(self.kind, self.value, preset)
        source = self.passport.source if self.passport is not None and self.passport.source else None
        unit = units.unit(self.kind, preset) if self.kind else None
        return Assumed(path=self.path, value=value, unit=unit or None, reason=self.reason, source=source)


class Hoods(Struct, frozen=True):
    """What the hoods of a tree are known by.

    Attributes:
        known: run number -> its machine in its size, where the catalogue has the word.
        filled: what was filled in, in document order.
        flows: numbers of the runs whose design flow was filled in.
    """

    known: dict[int, Known]
    filled: tuple[Filled, ...]
    flows: tuple[int, ...]


def known(word: str, size: float | str | None, preset: Preset, path: str, faults: list[Fault]) -> Known | None:
    """Return a machine in the size asked for; None where the catalogue does not have the word or the size is no size.

    Args:
        word: of the machine.
        size: as the caller wrote it: a bare number in the preset's unit of what the machine's sizes go by.
        preset: the caller's.
        path: of the field `size`.
        faults: is told of a size that is none.
    """
    try:
        return _known(word, size, preset)
    except UnknownWordError:
        return None
    except Wrong as wrong:
        machine = catalogue.machine(word)
        listed = ", ".join(row.size for row in machine.sizes)
        way = f"{_goes_by(machine)} ({listed}); leave it out to take the smallest, or give the machine's flow"
        faults += [Fault(path=path, code=code, detail=f"{told}; {way}") for _, code, told in wrong.found]
        return None


@lru_cache(_MOST_KNOWN)
def _known(word: str, size: float | str | None, preset: Preset) -> Known:
    """Return a machine in the size asked for; equal ones are looked up once.

    Raises:
        UnknownWordError: the catalogue does not have the word.
        Wrong: the size is none.
    """
    machine = catalogue.machine(word)
    if size is None:
        return Known(machine, machine.sizes[0], "only" if len(machine.sizes) == 1 else "smallest", None)
    asked = _extent(machine, size, preset)
    for row in machine.sizes:
        if row.maximum is None or not above(asked, row.maximum):
            return Known(machine, row, "fits", asked)
    return Known(machine, machine.sizes[-1], "beyond", asked)


def _goes_by(machine: Machine) -> str:
    return f"sizes of {plain(machine.id)} go by {plain(machine.sizes[0].parameter)}"


def _extent(machine: Machine, size: float | str, preset: Preset) -> float:
    """Return a machine's size in SI.

    Raises:
        Wrong: it is no quantity of that kind.
    """
    kind = machine.sizes[0].kind
    if not isinstance(size, str):
        return float(size) if kind is None else from_preset(kind, float(size), preset)
    if kind is not None:
        return quantity_text.parse(size, kind)
    number = quantity_text.bare(size)
    if number is None:
        raise Wrong([("", "wrong-type", "a number without a unit")])
    return number


def entry_named(word: str) -> Entry:
    """Return an entry that needs nothing but its word."""
    return _ENTRIES[word]


def entry_of(machine: Machine) -> Entry:
    """Return the usual entry of a machine."""
    return _ENTRIES[machine.typical_entry]


def why_flow(found: Known) -> str:
    """Return the sentence on a design flow that was filled in."""
    how = {"read": "read", "memory": "remembered, not read", "common-practice": "an estimate of ours"}
    text = f"exhaust flow of a {found.named}; {how[found.size.passport.how]}"
    if found.why == "smallest":
        text += "; no size was given, so the smallest listed"
    return text


def filled(request: AnyTree, machines: Machines | None = None) -> tuple[AnyTree, Hoods, list[Fault]]:
    """Return a request with what hoods leave out filled from their machines, what that was, and what is wrong.

    Args:
        request: in SI; sizes of machines as the caller wrote them.
        machines: whose hoods are whose; None: the runs are no tree, and no flow is shared.
    """
    faults: list[Fault] = []
    found: dict[int, Known] = {}
    for index, run in enumerate(request.runs):
        hood = run.hood
        if hood is None or hood.machine is None:
            continue
        try:
            found[index] = _known(hood.machine, hood.size, request.units)
        except (UnknownWordError, Wrong):
            known(hood.machine, hood.size, request.units, f"runs[{index}].hood.size", faults)
    shares = _shares(request.runs, found, machines)
    runs, notes, flows = list(request.runs), list[Filled](), list[int]()
    for index, run in enumerate(request.runs):
        if run.hood is None or _says_all(run.hood, request.dust):
            continue
        changes, said = _hood(index, run.hood, found.get(index), shares.get(index), request.dust)
        if "entry" not in changes and run.hood.entry is None:
            detail = "a hood needs `entry`, or a `machine` of the catalogue that has a usual one"
            faults.append(Fault(path=f"runs[{index}].hood.entry", code="entry-missing", detail=detail))
        if changes:
            runs[index] = structs.replace(run, hood=structs.replace(run.hood, **changes))
            notes += said
        if "flow" in changes:
            flows.append(index)
    if not notes:
        return request, Hoods(found, (), ()), faults
    return structs.replace(request, runs=tuple(runs)), Hoods(found, tuple(notes), tuple(flows)), faults


def _says_all(hood: Hood, dust: str | None) -> bool:
    """Return whether a hood leaves nothing to be filled in."""
    return hood.flow is not None and hood.entry is not None and (hood.dust is not None or dust is not None)


def _hood(
    index: int, hood: Hood, own: Known | None, flow: Filled | None, dust: str | None
) -> tuple[dict[str, Any], list[Filled]]:
    """Return what to change in a hood, and what to say of it."""
    if own is None:
        return {}, []
    changes: dict[str, Any] = {}
    said: list[Filled] = []
    path, machine = f"runs[{index}].hood", own.machine
    if flow is not None:
        changes["flow"] = flow.value
        said.append(flow)
    if hood.entry is None:
        changes["entry"] = entry_of(machine)
        said.append(Filled(f"{path}.entry", {"type": machine.typical_entry}, None, usual(machine, "entry"), None))
    if hood.dust is None and dust is None and machine.typical_dust is not None:
        changes["dust"] = machine.typical_dust
        said.append(Filled(f"{path}.dust", machine.typical_dust, None, usual(machine, "dust"), None))
    return changes, said


def usual(machine: Machine, what: str) -> str:
    """Return the sentence on a word that was filled in."""
    return f"usual {what} of a {lower(machine.title)}"


def _shares(runs: Sequence[Run], found: dict[int, Known], machines: Machines | None) -> dict[int, Filled]:
    """Return the design flow of each hood that leaves it out.

    Hoods of one machine and word share the machine's flow by the areas of their ports.
    """
    if not [index for index in found if (hood := runs[index].hood) is not None and hood.flow is None]:
        return {}
    of = {} if machines is None else {hood: machine.name for machine in machines.each for hood in machine.hoods}
    together: dict[tuple[str | int, str], list[int]] = {}
    for index, own in found.items():
        together.setdefault((of.get(index, index), own.machine.id), []).append(index)
    out: dict[int, Filled] = {}
    for group in together.values():
        whole = max((found[index] for index in group), key=lambda own: own.size.flow)
        for index, share in zip(group, shares_by_area([_port(runs[one]) for one in group]), strict=True):
            hood = runs[index].hood
            if hood is not None and hood.flow is None:
                flow, reason = whole.size.flow * share, why_flow(whole) + shared(share)
                out[index] = Filled(f"runs[{index}].hood.flow", flow, "flow", reason, whole.size.passport)
    return out


def shared(share: float) -> str:
    """Return what a sentence on a design flow adds where a port has but a share of it."""
    return "" if share == 1.0 else f"; {100.0 * share:.3g} % of it by the area of this port"


def shares_by_area(diameters: Sequence[float]) -> list[float]:
    """Return each port's share of the area of all."""
    whole = sum(diameter**2 for diameter in diameters)
    return [diameter**2 / whole for diameter in diameters]


def _port(run: Run) -> float:
    """Return the diameter of a hood's port, m."""
    hood = run.hood
    return float(run.diameter if hood is None or hood.port_diameter is None else hood.port_diameter)
