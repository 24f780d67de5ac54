"""The runs of an outline as the tree document has them, in SI."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from airbough.wire.fitting import Elbow, ElbowPair, HoseBend, RunFitting
from airbough.wire.outline import OutlineLine, OutlineMachine, OutlineRequest, OutlineTurn, TurnsMade
from airbough.wire.tree import Branch, Gate, Hood, Join, Run, Straight
from airbough_service.catalogue.checks import check
from airbough_service.catalogue.usual import usual
from airbough_service.drafting.turns import elbows
from airbough_service.questions.outline import words
from airbough_service.questions.outline.geometry import ALIKE, Corner, Vector, between
from airbough_service.questions.outline.placing import hose_direction, hose_points
from airbough_service.questions.outline.runs import Joining, Part, Plan, hose_name, hosed
from airbough_service.questions.outline.ways import Ledger, Spout, Way
from airbough_service.questions.outline.words import Named
from airbough_service.shop import filling
from airbough_service.shop.filling import Filled
from airbough_service.shop.junction_laws import charges_change
from airbough_service.shop.tapers import usual_length
from airbough_service.terms.finding import show

_LEAST_TURN: Final = 1.0  # deg: less is no fitting
_DIGITS: Final = 12  # of a length, m: what a difference leaves beyond is no length
_RIGHT: Final = 0.5  # deg: from a right angle that still is one


@dataclass(slots=True)
class Writer:
    """Writes the runs of one outline.

    Attributes:
        request: in SI.
        plan: how the ways are parted.
        ledger: is told what was assumed.
        runs: written so far, in document order.
        rows: run id -> row id.
    """

    request: OutlineRequest
    plan: Plan
    ledger: Ledger
    runs: list[Run]
    rows: dict[str, str]

    def write(self, ways: Sequence[Way]) -> None:
        """Write every run: lines, then machines, each from its downstream end up."""
        for way in sorted(ways, key=lambda way: not way.line):
            duct = words.duct(way, self.ledger)
            for part in self.plan.parts[way]:
                self._part(way, part, duct)
            if not way.line and hosed(way):
                for number, spout in enumerate(way.spouts):
                    self._hose(way, number, spout)

    def _add(self, run: Run, way: Way) -> None:
        self.runs.append(run)
        self.rows[run.id] = way.id

    def _part(self, way: Way, part: Part, duct: Named | None) -> None:
        """Write a part of a way's stiff duct."""
        first = part is self.plan.parts[way][0]
        flexible = duct is not None and duct.duct.kind == "hose"
        fittings = [self._turn(way, corner.angle, corner, flexible=flexible) for corner in reversed(_corners(part))]
        joining = self.plan.of_way[way] if first else Joining(_before(self.plan, part), "straight")
        join: Join | None = Straight() if not first else None
        if first and joining.into is not None:
            join, angle = self._joined(way, joining, way.bore)
            if angle >= _LEAST_TURN:
                fittings.append(self._turn(way, angle, None, flexible=flexible))
        own: dict[str, Any] = {}
        if isinstance(way.row, OutlineMachine) and part.last:
            own["gate"] = self._gate(way, "drop")
            if not hosed(way):
                own["hood"] = self._hood(way, way.row, way.spouts[0])
                own["gate"] = own["gate"] or self._gate(way, "port")
        if flexible and duct is not None:
            own["stretch"] = duct.duct.typical_stretch
        start, end = way.run.point(part.begin), way.run.point(part.end)
        rise = start[2] - end[2]
        run = Run(
            path=_path(way.run.points(part.begin, part.end)),
            id=part.id,
            into=None if joining.into is None else joining.into.id,
            diameter=way.bore,
            length=round(part.end - part.begin, _DIGITS),
            rise=round(rise, _DIGITS) if part.end - part.begin > ALIKE else None,
            duct=None if duct is None else duct.word,
            fittings=tuple(fittings),
            join=join,
            **own,
        )
        self._add(run, way)

    def _hose(self, way: Way, number: int, spout: Spout) -> None:
        """Write a hose from the end of the stiff duct to a port, or the port itself where it has none."""
        row = way.row
        assert isinstance(row, OutlineMachine)
        joining = self.plan.of_spout[way, number]
        assert joining.into is not None
        bore = spout.bore or way.bore
        own = words.hose(way, spout, self.ledger) if spout.hose > 0.0 else None
        if joining.how == "branch":
            join: Join | None = Branch(angle=self._wye_angle())
        else:
            join = self._taper(bore, way.bore, meets=joining.how == "straight")
        run = Run(
            path=_path(hose_points(way, spout, number if joining.how == "branch" else None)),
            id=hose_name(self.plan, way, spout),
            into=joining.into.id,
            diameter=bore,
            length=spout.hose,
            rise=spout.rise if spout.hose > ALIKE else None,
            duct=None if own is None else own.word,
            stretch=None if own is None else words.stretch(way, spout, own.duct, self.ledger),
            fittings=() if own is None else self._bend(way, row, spout, joining),
            join=join,
            hood=self._hood(way, row, spout),
            gate=self._gate(way, "port"),
        )
        self._add(run, way)

    def _bend(self, way: Way, row: OutlineMachine, spout: Spout, joining: Joining) -> tuple[RunFitting, ...]:
        """Return the bend of a hose: as stated, else by how it leads from the stiff duct to the port."""
        port = None if spout.number is None else row.ports[spout.number]
        stated = port.hose_bend if port is not None and port.hose_bend is not None else row.hose_bend
        ratio = check("gentle-radius")
        angle = 0.0 if stated is None else float(stated)
        if stated is None:
            leaves = between(way.run.legs[-1].heading.direction, hose_direction(way, spout))
            angle = abs(leaves - self._wye_angle()) if joining.how == "branch" else leaves
            reason = "the hose leads level from the stiff duct to the port, by a bend"
            if spout.rise != 0.0:
                reason = "the hose leads straight from the stiff duct to the port, by a bend"
            self.ledger.assumed.append(Filled(f"{spout.path}.hose_bend", angle, "angle", reason, ratio.passport))
        return (HoseBend(angle=angle, radius_ratio=ratio.value),) if angle >= _LEAST_TURN else ()

    def _joined(self, way: Way, joining: Joining, bore: float) -> tuple[Join | None, float]:
        """Return how a way joins its host, and the turn [deg] behind that."""
        assert joining.into is not None
        host = joining.into.way
        there = host.run.heading(way.at)
        leaves = between(there.direction, way.run.legs[0].heading.direction) if way.run.length > ALIKE else None
        if joining.how in ("branch", "pair"):
            wye = self._wye(way)
            return Branch(angle=wye), 0.0 if leaves is None else abs(leaves - wye)
        if way.row.wye is not None:
            detail = f"goes on from the end of {host.id}, where there is no wye; leave it out"
            self.ledger.fault(way, "wye", "wye-not-used", detail)
        return self._taper(bore, host.bore, meets=joining.how == "straight"), leaves or 0.0

    def _taper(self, bore: float, into: float, *, meets: bool) -> Join | None:
        """Return the join of a run that goes straight on, with a taper where its bore differs.

        A law that charges nothing there refuses a taper's length, so none is said.
        """
        if abs(bore - into) <= ALIKE or not charges_change(self.request.model, alone=not meets):
            return Straight() if meets else None
        ratio = check("taper-length")
        least = show(self.request.units, "diameter", check("taper-shortest").value)
        reason = f"between unlike diameters a taper, {ratio.value:g} times as long as they differ, at least {least}"
        if all(item.path != "tapers" for item in self.ledger.assumed):
            self.ledger.assumed.append(Filled("tapers", ratio.value, None, reason, ratio.passport))
        return Straight(taper_length=usual_length(bore, into))

    def _wye_angle(self) -> float:
        return check("easy-branch").value

    def _wye(self, way: Way) -> float:
        """Return the angle of the wye by which a row joins."""
        if way.row.wye is not None:
            return float(way.row.wye)
        usual_one = check("easy-branch")
        reason = "the usual wye"
        self.ledger.assumed.append(Filled(f"{way.path}.wye", usual_one.value, "angle", reason, usual_one.passport))
        return usual_one.value

    def _turn(self, way: Way, angle: float, corner: Corner | None, *, flexible: bool) -> RunFitting:
        """Return the fitting of a turn: an elbow, or two where a right angle is made so; in a hose a bend."""
        asked = self._asked(way, corner)
        ratio = asked.radius_ratio if asked is not None else getattr(way.row, "radius_ratio", None)
        construction = asked.construction if asked is not None else getattr(way.row, "construction", None)
        if ratio is None and construction != "mitered":
            gentle = check("gentle-radius")
            ratio = gentle.value
            if all(item.path != "radius_ratio" for item in self.ledger.assumed):
                reason = "radius over diameter of every turn that gives none"
                self.ledger.assumed.append(Filled("radius_ratio", ratio, None, reason, gentle.passport))
        if flexible:
            return HoseBend(angle=angle, radius_ratio=ratio or check("gentle-radius").value)
        made, stated = self._made(way, asked), asked is not None and asked.made is not None
        if made == "two-45" and (stated or abs(angle - 90.0) <= _RIGHT):
            return ElbowPair(angle=angle, radius_ratio=ratio, construction=construction)
        if stated:
            return Elbow(angle=angle, radius_ratio=ratio, construction=construction)
        found = elbows(angle, ratio, construction)
        if isinstance(found, ElbowPair) and all(item.path != "sharp_turns" for item in self.ledger.assumed):
            most = check("elbow-greatest")
            reason = f"two elbows of half the angle each for a turn above {most.value:g} deg: single ones are not sold"
            self.ledger.assumed.append(Filled("sharp_turns", "two elbows", None, reason, most.passport))
        return found

    def _asked(self, way: Way, corner: Corner | None) -> OutlineTurn | None:
        if corner is None or corner.number is None or not isinstance(way.row, OutlineLine):
            return None
        return way.row.turns[corner.number]

    def _made(self, way: Way, asked: OutlineTurn | None) -> TurnsMade:
        """Return how a right angle is made here."""
        own = asked.made if asked is not None else None
        if own is None and isinstance(way.row, OutlineMachine):
            own = way.row.turns
        if own is None:
            own = self.request.turns
        if own is None:
            own = "elbow"
            if all(item.path != "turns" for item in self.ledger.assumed):
                reason = "one elbow for each turn, where nothing else is said"
                self.ledger.assumed.append(Filled("turns", own, None, reason, None))
        return own

    def _gate(self, way: Way, place: str) -> Gate | None:
        """Return the gate of a machine where it stands in this place."""
        row = way.row
        assert isinstance(row, OutlineMachine)
        stands = row.gate or "drop"
        if row.gate is None:
            path = f"{way.path}.gate"
            if all(item.path != path for item in self.ledger.assumed):
                reason = "at the foot of its stiff duct" + (", fully open" if row.opening is None else "")
                self.ledger.assumed.append(Filled(path, "drop", None, reason, None))
        if stands != place:
            return None
        return Gate(opening=_share(row.opening, 1.0), leakage=_share(row.leakage, 0.0), machine_id=way.id)

    def _hood(self, way: Way, row: OutlineMachine, spout: Spout) -> Hood:
        """Return the hood at a port."""
        port = None if spout.number is None else row.ports[spout.number]
        entry = (None if port is None else port.entry) or row.entry
        if entry is None and way.known is None:
            word, passport = usual("entry")
            entry = filling.entry_named(word)
            reason = "how air enters a bare port"
            self.ledger.assumed.append(Filled(f"{spout.path}.entry", {"type": word}, None, reason, passport))
        elif entry is None and way.known is not None:
            told = {"type": way.known.machine.typical_entry}
            self.ledger.assumed.append(
                Filled(f"{spout.path}.entry", told, None, filling.usual(way.known.machine, "entry"), None)
            )
        return Hood(
            entry=entry,
            machine=row.machine if way.known is None else way.known.machine.id,
            size=row.size,
            machine_id=way.id,
            flow=spout.flow,
            resistance=row.resistance if port is None else port.resistance,
            port_diameter=spout.port,
            dust=(None if port is None else port.dust) or row.dust,
        )


def _share(stated: float | str | None, otherwise: float) -> float:
    return otherwise if stated is None else float(stated)


def _before(plan: Plan, part: Part) -> Part:
    parts = plan.parts[part.way]
    return parts[parts.index(part) - 1]


def _corners(part: Part) -> list[Corner]:
    """Return the corners in a part; one where something joins stands upstream of that."""
    return [
        corner
        for corner in part.way.run.corners
        if corner.angle >= _LEAST_TURN
        and part.begin - ALIKE <= corner.at
        and (corner.at < part.end - ALIKE or (part.last and corner.at <= part.end + ALIKE))
    ]


def _path(points: Sequence[Vector]) -> tuple[tuple[float, ...], ...] | None:
    """Return places as a run's path; None of a run without length."""
    return tuple(tuple(round(number, _DIGITS) for number in point) for point in points) or None
