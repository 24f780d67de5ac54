"""The rows of an outline tied to one another: which joins which, where, and the way that each takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from airbough.wire.outline import OutlineLine, OutlineMachine, OutlineRequest
from airbough.wire.problem import Fault
from airbough.wire.quantity import Preset
from airbough_service.questions.outline.bores import Demand
from airbough_service.questions.outline.geometry import ALIKE, Course
from airbough_service.shop.filling import Filled, Known
from airbough_service.terms.refusal import nearest_or_some


@dataclass(frozen=True, slots=True)
class Spout:
    """A port of a machine with its hose, in SI; what is not known is None.

    Attributes:
        path: of it in the outline.
        port: diameter, m.
        hose: length, m; 0 without.
        rise: height from the port up to the end of the stiff duct, m.
        bore: of the hose, m.
        flow: design flow where the caller stated it, m3/s.
        number: among `ports`; None of a machine's only port.
    """

    path: str
    port: float | None
    hose: float
    rise: float
    bore: float | None
    flow: float | None
    number: int | None


@dataclass(slots=True, eq=False)
class Way:
    """The stiff duct of a line, or of a machine down to its hose.

    Attributes:
        row: as asked, in SI.
        path: of the row in the outline.
        host: what it joins; None at the collector.
        joined: how far along that, m; None until it is found.
        guests: what joins it.
        course: where it runs, m.
        spouts: of a machine.
        known: of a machine that the catalogue has.
        bore: m, once it is chosen.
        smallest: of the machines that it serves, the one that alone fills the least bore, and what that carries; None
            where that is known of none.
        serves: whether it serves a machine.
        placed: whether its course is in places of the caller's.
    """

    row: OutlineLine | OutlineMachine
    path: str
    host: Way | None = None
    joined: float | None = None
    guests: list[Way] = field(default_factory=list)
    course: Course | None = None
    spouts: tuple[Spout, ...] = ()
    known: Known | None = None
    bore: float = 0.0
    smallest: tuple[Way, Demand] | None = None
    serves: bool = False
    placed: bool = False

    @property
    def id(self) -> str:
        """The caller's id."""
        return self.row.id

    @property
    def at(self) -> float:
        """How far along its host it joins, m; 0 at the collector."""
        return self.joined or 0.0

    @property
    def line(self) -> bool:
        """Whether it is a line."""
        return isinstance(self.row, OutlineLine)

    @property
    def run(self) -> Course:
        """Where it runs; only asked for once it is laid."""
        assert self.course is not None
        return self.course

    @property
    def reach(self) -> float:
        """How much of it is used: of a line up to the last that joins it, m."""
        return max((guest.at for guest in self.guests), default=0.0) if self.line else self.run.length

    def at_end(self, at: float) -> bool:
        """Return whether a place along it is where it ends."""
        return at >= self.reach - ALIKE


@dataclass(slots=True)
class Ledger:
    """What was found on the way.

    Attributes:
        preset: the caller's.
        faults: what is wrong.
        assumed: what was taken for the caller.
    """

    preset: Preset
    faults: list[Fault] = field(default_factory=list)
    assumed: list[Filled] = field(default_factory=list)

    def fault(self, way: Way, place: str, code: str, detail: str) -> None:
        """Add a fault of a row."""
        self.faults.append(Fault(path=f"{way.path}.{place}", code=code, detail=detail))


def tied(request: OutlineRequest, ledger: Ledger) -> tuple[list[Way], list[Way]]:
    """Return every row's way, and those that reach the collector, each after what it joins.

    Ids and hosts that are wrong are told.
    """
    ways = [Way(row, f"lines[{number}]") for number, row in enumerate(request.lines)]
    ways += [Way(row, f"machines[{number}]") for number, row in enumerate(request.machines)]
    by_id: dict[str, Way] = {}
    for way in ways:
        if way.id in by_id:
            ledger.fault(way, "id", "duplicate-id", f"the id already stands at {by_id[way.id].path}")
        by_id.setdefault(way.id, way)
    for way in ways:
        _find_host(way, by_id, ledger)
    return ways, _in_order(ways, ledger)


def _find_host(way: Way, by_id: dict[str, Way], ledger: Ledger) -> None:
    row = way.row
    wanted, place = (row.into, "into") if isinstance(row, OutlineLine) else (row.line, "line")
    if wanted is None:
        return
    host = by_id.get(wanted)
    if host is None or (way.line and not host.line):
        what = "line" if way.line else "line or machine"
        names = [name for name, other in by_id.items() if other.line or not way.line]
        ledger.fault(way, place, "unknown-row", f"no {what} has the id {wanted!r}{nearest_or_some(wanted, names)}")
        host = None
    way.host = host


def _in_order(ways: Sequence[Way], ledger: Ledger) -> list[Way]:
    """Return the ways that reach the collector, in document order as far as hosts come first; tell of circles."""
    reaches: dict[Way, bool] = {}
    order: list[Way] = []
    for way in ways:
        chain: dict[Way, None] = {}
        here: Way | None = way
        while here is not None and here not in reaches and here not in chain:
            chain[here] = None
            here = here.host
        down = list(chain)
        if here is not None and here in chain:
            for one in down[down.index(here) :]:
                ledger.fault(one, "into" if one.line else "line", "cycle", "never reaches the collector: a circle")
        for one in reversed(down):
            host = one.host
            root = isinstance(one.row, OutlineLine) and one.row.into is None
            reaches[one] = root if host is None else reaches.get(host, False)
            if reaches[one]:
                order.append(one)
                if host is not None:
                    host.guests.append(one)
    return order
