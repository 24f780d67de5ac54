"""Gives every line and every machine's stiff duct its bore, and tells where no bore does what is wanted."""

from __future__ import annotations

from collections.abc import Iterator

from airbough.wire.answer import Finding, Suggestion
from airbough.wire.outline import OutlineRequest
from airbough_service.catalogue.sizes import nominal_diameters
from airbough_service.core.laws.transport import velocity_in
from airbough_service.questions.outline import words
from airbough_service.questions.outline.bores import Demand, bore
from airbough_service.questions.outline.ways import Ledger, Way
from airbough_service.shop.filling import Filled
from airbough_service.terms.finding import finding, show


def choose(request: OutlineRequest, ways: list[Way], ledger: Ledger) -> None:
    """Set the bore of every way, machines before what they join.

    Args:
        request: in SI.
        ways: each after what it joins.
        ledger: is told of bores that were chosen, and of machines that nothing is known of to choose by.
    """
    listed, passport = nominal_diameters(request.units)
    for way in reversed(ways):
        way.smallest = _smallest(way, request)
        if way.row.diameter is not None:
            way.bore = float(way.row.diameter)
            continue
        least = max([guest.bore for guest in way.guests] + [spout.port or 0.0 for spout in way.spouts], default=0.0)
        way.bore = bore(least, None if way.smallest is None else way.smallest[1], listed)
        if least <= 0.0 and way.smallest is None:
            detail = "give its `flow`, `port` or `diameter`: nothing is known to choose its duct by"
            if not way.line:
                ledger.fault(way, "diameter", "diameter-missing", detail)
            way.bore = listed[0]
            continue
        ledger.assumed.append(Filled(f"{way.path}.diameter", way.bore, "diameter", _reason(way, request), passport))


def _reason(way: Way, request: OutlineRequest) -> str:
    preset = request.units
    if not way.line:
        own = words.demand(way, request)
        if own is not None and own.carries(way.bore):
            return "the largest listed size in which its design flow still carries its dust, not below its ports"
        return "the smallest listed size that is not below its ports or what joins it"
    smallest = way.smallest
    if smallest is None:
        return "the smallest listed size that is not below the ducts that join it"
    machine, own = smallest
    if own.carries(way.bore):
        carried = show(preset, "flow", own.flow)
        return f"the largest listed size in which its smallest machine alone, {machine.id} at {carried}, still carries"
    return "the smallest listed size that is not below the ducts that join it"


def _smallest(way: Way, request: OutlineRequest) -> tuple[Way, Demand] | None:
    """Return the machine that a way serves that alone fills the least bore; what joins the way is known already."""
    found = [guest.smallest for guest in way.guests if guest.smallest is not None]
    own = None if way.line else words.demand(way, request)
    if own is not None:
        found.append((way, own))
    return min(found, key=lambda pair: pair[1].widest, default=None)


def findings(request: OutlineRequest, ways: list[Way]) -> Iterator[Finding]:
    """Yield a finding for each way whose chosen bore the smallest machine on it does not fill alone."""
    preset = request.units
    for way in ways:
        smallest = None if way.row.diameter is not None else way.smallest
        if smallest is None or smallest[1].carries(way.bore):
            continue
        machine, own = smallest
        speed = velocity_in(own.flow, way.bore)
        words_for = f"{machine.id} alone" if way.line else "its design flow"
        because = "a duct that joins it needs that" if way.line else "its port is as wide"
        yield finding(
            preset,
            "too-wide-for-smallest",
            f"{way.id} is {show(preset, 'diameter', way.bore)}, since {because}; in it {words_for}, "
            f"{show(preset, 'flow', own.flow)}, is slower than its dust needs",
            at=f"{way.path}.diameter",
            run=way.id,
            quantity="velocity",
            kind="velocity",
            value=speed,
            minimum=own.velocity,
            suggestion=Suggestion(text=_advice(way, machine)),
            source="common-practice",
        )


def _advice(way: Way, machine: Way) -> str:
    if way.line:
        return f"open a further gate whenever {machine.id} runs; the question on gate states names which"
    return "give the machine's own exhaust flow if you know it, or open a further gate on its drop"
