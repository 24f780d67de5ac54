"""The contract's paragraph on gates, read once more, in plain Python on the raw document.

Nothing of the service is used here: who is a machine, which gates are its own, how the gates stand in a named state,
which hoods are open, and where air is meant to flow.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

SHUT_BELOW = 1.0e-4  # "shut is an opening below 1e-4, and a leak is no opening"

Document = dict[str, Any]
Openings = dict[str, float]


class IdsDisagreeError(Exception):
    """A gate says that it is one machine's and a hood upstream says that it is another's."""


@dataclass(slots=True)
class Machine:
    """A machine: the runs of its hoods and the runs of its gates, in the order of the document."""

    hoods: list[str]
    gates: list[str]


@dataclass(slots=True)
class Model:
    """One document as the contract reads it.

    Attributes:
        document: raw.
        into: run -> the run that it flows into.
        upstream: run -> the hoods' runs that it carries, its own included.
        machine_of_hood: run of a hood -> name of its machine.
        machine_of_gate: run of a gate -> name of its machine; None: a zone gate.
        machines: by name.
    """

    document: Document
    into: dict[str, str | None]
    upstream: dict[str, list[str]]
    machine_of_hood: dict[str, str]
    machine_of_gate: dict[str, str | None]
    machines: dict[str, Machine]

    def openings(self, state: Mapping[str, Any] | None) -> Openings:
        """Return how every gate stands in a named state; None: as in the document."""
        stands = {run["id"]: float(run["gate"]["opening"]) for run in self.document["runs"] if "gate" in run}
        state = state or {}
        named = state.get("open")
        if named is not None:
            machines = {self.machine(word) for word in named} - {None}
            for gate, opening in list(stands.items()):
                machine = self.machine_of_gate[gate]
                if machine in machines or (machine is None and gate in named):
                    stands[gate] = 1.0 if opening < SHUT_BELOW else opening
                elif machine is not None:
                    stands[gate] = 0.0
        return stands | {gate: float(share) for gate, share in (state.get("openings") or {}).items()}

    def machine(self, word: str) -> str | None:
        """Return the machine that a word names: its name, the run of a hood, the run of a gate."""
        if word in self.machines:
            return word
        return self.machine_of_hood.get(word) or self.machine_of_gate.get(word)

    def path(self, run: str) -> list[str]:
        """Return a run and all downstream of it."""
        out: list[str] = []
        here: str | None = run
        while here is not None:
            out.append(here)
            here = self.into[here]
        return out

    def open_hoods(self, openings: Openings | None) -> dict[str, bool]:
        """Return, by run of a hood, whether no gate between it and the collector is shut."""
        stands = self.openings(None) if openings is None else openings
        return {
            hood: all(stands.get(run, 1.0) >= SHUT_BELOW for run in self.path(hood)) for hood in self.machine_of_hood
        }

    def served(self, openings: Openings) -> dict[str, bool]:
        """Return, by run, whether an open hood is upstream of it."""
        is_open = self.open_hoods(openings)
        return {run: any(is_open[hood] for hood in hoods) for run, hoods in self.upstream.items()}

    def written(self, openings: Openings) -> Document:
        """Return the document with its gates as in these openings."""
        runs = [
            run | {"gate": run["gate"] | {"opening": openings[run["id"]]}} if "gate" in run else run
            for run in self.document["runs"]
        ]
        return self.document | {"runs": runs}


def _by_gate(way: list[str], by_id: dict[str, Document], arrivals: dict[str | None, int]) -> str | None:
    """Return the machine_id that a hood takes: of a gate before the first junction, else of the first on its way."""
    line = way[: next((k for k, run in enumerate(way) if k > 0 and arrivals[run] > 1), len(way))]
    gates = [by_id[run]["gate"] for run in way if "gate" in by_id[run]]
    stated = [by_id[run]["gate"].get("machine_id") for run in line if "gate" in by_id[run]]
    return next((word for word in stated if word is not None), gates[0].get("machine_id") if gates else None)


def read(document: Document) -> Model:
    """Read a document.

    Raises:
        IdsDisagreeError: some hood upstream of a gate is of another machine than the gate's id says.
    """
    runs = document["runs"]
    into = {run["id"]: run["into"] for run in runs}
    hoods = [run["id"] for run in runs if "hood" in run]
    upstream: dict[str, list[str]] = {run["id"]: [] for run in runs}
    own: dict[str, str | None] = {run["id"]: run["hood"].get("machine_id") for run in runs if "hood" in run}
    by_id = {run["id"]: run for run in runs}
    arrivals: dict[str | None, int] = {}
    for run in runs:
        arrivals[run["into"]] = arrivals.get(run["into"], 0) + 1
    for hood in hoods:
        way: list[str] = []
        here: str | None = hood
        while here is not None:
            upstream[here].append(hood)
            way.append(here)
            here = into[here]
        own[hood] = own[hood] or _by_gate(way, by_id, arrivals)
    of_hood = {hood: own[hood] or hood for hood in hoods}
    machines: dict[str, Machine] = {}
    for hood, name in of_hood.items():
        machines.setdefault(name, Machine([], [])).hoods.append(hood)
    of_gate: dict[str, str | None] = {}
    for run in runs:
        if "gate" not in run:
            continue
        names = {of_hood[hood] for hood in upstream[run["id"]]}
        told = run["gate"].get("machine_id")
        if told is not None and names != {told}:
            raise IdsDisagreeError(f"gate on {run['id']!r} is {told!r}, the hoods upstream of {sorted(names)}")
        of_gate[run["id"]] = told if told is not None else next(iter(names)) if len(names) == 1 else None
        if of_gate[run["id"]] is not None:
            machines[str(of_gate[run["id"]])].gates.append(run["id"])
    return Model(document, into, upstream, of_hood, of_gate, machines)


def end(run: Document) -> float:
    """Return the bore at a run's downstream end."""
    tapers = [one["downstream_diameter"] for one in run.get("fittings", ()) if one["type"] == "taper"]
    return float(tapers[-1] if tapers else run["diameter"])
