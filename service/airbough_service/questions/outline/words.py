"""What the rows of an outline name: machines, ducts, hoses, dusts, ports; and the usual ones where they say nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from airbough.wire.outline import OutlineLine, OutlineMachine, OutlinePort, OutlineRequest
from airbough_service import catalogue
from airbough_service.catalogue import Duct, UnknownWordError
from airbough_service.catalogue.usual import usual
from airbough_service.questions.outline.bores import Demand
from airbough_service.questions.outline.ways import Ledger, Spout, Way
from airbough_service.shop import filling, pieces
from airbough_service.shop.filling import Filled
from airbough_service.shop.topology import BRANCH_ANGLES, is_branch_angle


@dataclass(frozen=True, slots=True)
class Named:
    """What a word means: the duct, and its word."""

    word: str
    duct: Duct


def duct(way: Way, ledger: Ledger) -> Named | None:
    """Return the stiff duct of a row, the usual one where it names none."""
    return _duct(way, way.row.duct, "duct", ledger, hose=False)


def hose(way: Way, spout: Spout, ledger: Ledger) -> Named | None:
    """Return the hose at a port, the usual one where none is named."""
    row = _machine(way)
    port = None if spout.number is None else row.ports[spout.number]
    own = port.hose_duct if port is not None and port.hose_duct is not None else row.hose_duct
    place = (
        "hose_duct" if spout.number is None or port is None or port.hose_duct is None else _inside(spout, "hose_duct")
    )
    found = _duct(way, own, place, ledger, hose=True)
    if found is not None and found.duct.kind != "hose":
        ledger.fault(way, place, "no-hose", f"{found.word} is no hose")
        return None
    return found


def _inside(spout: Spout, name: str) -> str:
    return name if spout.number is None else f"ports[{spout.number}].{name}"


def _duct(way: Way, word: str | None, place: str, ledger: Ledger, *, hose: bool) -> Named | None:
    taken = word
    if taken is None:
        taken, passport = usual("hose" if hose else "duct")
        path = f"{way.path}.{place}"
        if all(item.path != path for item in ledger.assumed):
            ledger.assumed.append(Filled(path, taken, None, f"the usual {'hose' if hose else 'stiff duct'}", passport))
    try:
        return Named(taken, catalogue.duct(taken))
    except UnknownWordError as error:
        ledger.fault(way, place, "unknown-word", pieces.nearest_fault("", error).detail)
        return None


def stretch(way: Way, spout: Spout, own: Duct, ledger: Ledger) -> float | None:
    """Return how far a hose is pulled, its typical stretch where nothing is said."""
    row = _machine(way)
    port = None if spout.number is None else row.ports[spout.number]
    stated = port.stretch if port is not None and port.stretch is not None else row.stretch
    if stated is not None:
        return float(stated)
    if own.typical_stretch is not None:
        reason = "the hose is taken to hang as far pulled as it should; slack hose loses several times more"
        path = f"{way.path}.{_inside(spout, 'stretch')}"
        ledger.assumed.append(Filled(path, own.typical_stretch, "share", reason, None))
    return own.typical_stretch


def _machine(way: Way) -> OutlineMachine:
    assert isinstance(way.row, OutlineMachine)
    return way.row


def read(request: OutlineRequest, ways: list[Way], ledger: Ledger) -> None:
    """Read words, sizes and ports into the ways, and tell of what a row must say and does not."""
    for way in ways:
        duct(way, ledger)
        _wye(way, ledger)
        if isinstance(way.row, OutlineMachine):
            _known(way, way.row, request, ledger)
            way.spouts = _spouts(way, way.row, ledger)
            for spout in way.spouts:
                if spout.hose > 0.0:
                    hose(way, spout, ledger)
        _where(way, ledger)


def _where(way: Way, ledger: Ledger) -> None:
    """Tell of a row that does not say where it is; one that shares a drop joins its foot where it does not."""
    row = way.row
    placed = (row.path if isinstance(row, OutlineLine) else row.place) is not None
    asked = way.host is not None and (way.line or way.host.line)
    if row.at is None and not placed and asked and way.host is not None:
        ledger.fault(way, "at", "at-missing", f"say how far along {way.host.id} it joins, from that line's lower end")
    if isinstance(row, OutlineMachine) and row.drop is None and not placed:
        detail = "say how far the stiff duct comes down from the line; 0 where it does not"
        ledger.fault(way, "drop", "drop-missing", detail)


def _wye(way: Way, ledger: Ledger) -> None:
    if way.row.wye is not None and not is_branch_angle(float(way.row.wye)):
        ledger.fault(way, "wye", "outside-range", BRANCH_ANGLES)


def _known(way: Way, row: OutlineMachine, request: OutlineRequest, ledger: Ledger) -> None:
    if row.machine is None:
        if row.size is not None:
            ledger.fault(way, "size", "size-without-machine", "`size` goes with `machine`, a word of the catalogue")
    else:
        found: list[Any] = []
        way.known = filling.known(row.machine, row.size, request.units, f"{way.path}.size", found)
        for fault in found:
            ledger.fault(way, "size", fault.code, fault.detail)
    for place, word in (("dust", row.dust), *((f"ports[{k}].dust", one.dust) for k, one in enumerate(row.ports))):
        if word is not None:
            dust(way, place, word, ledger)
    own = way.known
    if own is not None and row.flow is None and all(port.flow is None for port in row.ports):
        said = Filled(f"{way.path}.flow", own.size.flow, "flow", filling.why_flow(own), own.size.passport)
        ledger.assumed.append(said)
    if own is not None and row.dust is None and request.dust is None and own.machine.typical_dust is not None:
        word = own.machine.typical_dust
        ledger.assumed.append(Filled(f"{way.path}.dust", word, None, filling.usual(own.machine, "dust"), None))


def dust(way: Way | None, place: str, word: str, ledger: Ledger) -> None:
    """Tell of a dust that the catalogue does not have."""
    try:
        catalogue.dust(word)
    except UnknownWordError as error:
        fault = pieces.nearest_fault(place, error)
        if way is None:
            ledger.faults.append(fault)
        else:
            ledger.fault(way, place, fault.code, fault.detail)


def _spouts(way: Way, row: OutlineMachine, ledger: Ledger) -> tuple[Spout, ...]:
    """Return the ports of a machine, each with its hose."""
    if row.ports:
        for name in ("port", "hose", "hose_rise", "hose_diameter", "resistance"):
            if getattr(row, name) is not None:
                ledger.fault(way, name, "port-and-ports", "a machine with `ports` gives it there")
        return tuple(_one_of(way, row, number, port, ledger) for number, port in enumerate(row.ports))
    port = None if row.port is None else float(row.port)
    whole = None if way.known is None else way.known.size.port
    if port is None and whole is not None and way.known is not None:
        port = whole.diameter
        reason = f"whole connection of a {way.known.named}"
        source = whole.passport or way.known.size.passport
        ledger.assumed.append(Filled(f"{way.path}.port", port, "diameter", reason, source))
    flow = None if row.flow is None else float(row.flow)
    return (_spout(way, way.path, row, port, flow, None, ledger),)


def _one_of(way: Way, row: OutlineMachine, number: int, port: OutlinePort, ledger: Ledger) -> Spout:
    """Return one of several ports; a flow stated for the whole machine is shared by area."""
    flow = None if port.flow is None else float(port.flow)
    if flow is None and row.flow is not None:
        others = [one for one in row.ports if one.flow is None]
        rest = float(row.flow) - sum(float(one.flow) for one in row.ports if one.flow is not None)
        share = float(port.port) ** 2 / sum(float(one.port) ** 2 for one in others)
        flow = rest * share
        if rest <= 0.0:
            ledger.fault(way, "flow", "ports-take-more", "is less than what its ports are stated to take")
            flow = None
        else:
            reason = f"{100.0 * share:.3g} % of what is left of the machine's flow, by the area of this port"
            ledger.assumed.append(Filled(f"{way.path}.ports[{number}].flow", flow, "flow", reason, None))
    return _spout(way, f"{way.path}.ports[{number}]", port, float(port.port), flow, number, ledger)


def _spout(
    way: Way,
    path: str,
    row: OutlineMachine | OutlinePort,
    port: float | None,
    flow: float | None,
    number: int | None,
    ledger: Ledger,
) -> Spout:
    """Return a port with its hose, told by a machine's row or one of its ports."""
    length = 0.0 if row.hose is None else float(row.hose)
    rise = 0.0 if row.hose_rise is None else float(row.hose_rise)
    if row.hose is None:
        reason = "no hose was given: the stiff duct ends at the port"
        ledger.assumed.append(Filled(f"{path}.hose", 0.0, "length", reason, None))
    if abs(rise) > length * (1.0 + 1.0e-9):
        place = "hose_rise" if number is None else f"ports[{number}].hose_rise"
        ledger.fault(way, place, "rise-longer-than-run", "a hose cannot rise or fall by more than its length")
    bore = port if row.hose_diameter is None else float(row.hose_diameter)
    return Spout(path, port, length, rise, bore, flow, number)


def whole_flow(way: Way) -> float | None:
    """Return the design flow of a machine, m3/s; None where it is not known."""
    stated = [spout.flow for spout in way.spouts if spout.flow is not None]
    if len(stated) == len(way.spouts):
        return sum(stated)
    if way.known is None:
        return None
    shares = filling.shares_by_area([spout.port or 1.0 for spout in way.spouts])
    flows = (
        spout.flow if spout.flow is not None else way.known.size.flow * share
        for spout, share in zip(way.spouts, shares, strict=True)
    )
    return sum(flows)


def demand(way: Way, request: OutlineRequest) -> Demand | None:
    """Return what a machine alone carries; None where its flow is not known, or its dust is none of the catalogue."""
    flow = whole_flow(way)
    word = dust_of(way, request)
    try:
        return None if flow is None or flow <= 0.0 else Demand(flow, catalogue.dust(word).transport_velocity)
    except UnknownWordError:
        return None


def dust_of(way: Way, request: OutlineRequest) -> str:
    """Return the dust by which a machine's bores are chosen."""
    typical = None if way.known is None else way.known.machine.typical_dust
    return _machine(way).dust or request.dust or typical or usual("dust")[0]
