"""Findings of one state: velocities, hoods, suction."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from functools import cache, lru_cache
from typing import Final

from airbough.wire.answer import (
    Finding,
    HoodResult,
    RunResult,
    Suggestion,
)
from airbough.wire.quantity import Preset
from airbough_service.catalogue import Dust
from airbough_service.catalogue.sizes import nominal_diameters
from airbough_service.core.laws.friction import LAMINAR_END, TURBULENT_START
from airbough_service.core.limits import above, most_held
from airbough_service.core.network.tree import area
from airbough_service.shop.gates import could_open, open_hoods, shut_off, shut_zones
from airbough_service.shop.pieces import DuctPart
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
)
from airbough_service.solving.grades import carrier, dusts_of, highest, needlessly_fast
from airbough_service.solving.suction import neglected
from airbough_service.solving.tree_answer import Runs, fastest, least_flow, velocity
from airbough_service.terms.finding import (
    finding,
    lower,
    machine_at,
    show,
    show_apart,
    show_bound,
)

_MOST_KEPT: Final = 2048  # bores with what their dust needs, whose advice is remembered
CALLER: Final = "caller"  # the limit is the request's own, no document's


def velocities(
    shop: Shop,
    told: tuple[RunResult, ...],
    openings: dict[int, float] | None = None,
    state: str | None = None,
    is_open: Sequence[bool] | None = None,
) -> list[Finding]:
    """Return the findings on transport velocity and on needless speed; idle runs are not judged."""
    opened = open_hoods(shop, openings) if is_open is None else is_open
    out, more = list[Finding](), list[bool]()
    reaching = told.dusts if isinstance(told, Runs) else dusts_of(shop, openings, opened)
    for run, answer, dusts in zip(shop.runs, told, reaching, strict=True):
        if not dusts:
            continue
        if answer.carrying_ratio is not None and answer.carrying != "holds":
            more = more or could_open(shop, opened)
            out.append(_slow(shop, run, least_flow(answer), carrier(dusts), state, more=more[run.index]))
        ceiling, speed = highest(dusts), fastest(run, answer.flow)
        if speed > ceiling.upper_velocity and needlessly_fast(speed / ceiling.upper_velocity):
            out.append(_fast(shop, run, speed, carrier(dusts), ceiling, state))
    return out


def _where(shop: Shop, run: ShopRun, part: DuctPart) -> str:
    """Return how a message names a run, or the part of it that is judged."""
    return run.id if len(run.parts) == 1 else f"the {show(shop.request.units, 'diameter', part.bore)} part of {run.id}"


def _slow(shop: Shop, run: ShopRun, flow: float, dust: Dust, state: str | None, *, more: bool) -> Finding:
    """Return the finding of a run too slow for its dust; `more`: whether further machines upstream could be opened."""
    units, speed, widest = shop.request.units, velocity(run, flow), run.widest
    fit = widest.bore * (speed / dust.transport_velocity) ** 0.5
    advice = []
    if speed > 0.0:
        fitting = f"at most {show_bound(units, 'diameter', fit, most=True)}{_listed(units, fit)}"
        advice.append(f"a diameter of {fitting} carries it at this flow")
    if more:
        advice.append(_until(units, dust.transport_velocity, widest.bore))
    moves, settles = show_apart(units, "velocity", speed, dust.transport_velocity)
    where = _where(shop, run, widest)
    return finding(
        units,
        "below-transport-velocity",
        f"air in {where} moves at {moves}; below {settles} its dust settles ({lower(dust.title)})",
        at=run.at(widest.at),
        run=run.id,
        state=state,
        quantity="velocity",
        kind="velocity",
        value=speed,
        minimum=dust.transport_velocity,
        suggestion=Suggestion(text="; or ".join(advice) or "no air flows here in this state"),
        source=dust.passport.source,
    )


@lru_cache(_MOST_KEPT)
def _until(preset: Preset, needed: float, bore: float) -> str:
    """Return the advice to open machines until air in a bore [m] moves as fast as needed [m/s]."""
    flow = show_bound(preset, "flow", needed * area(bore), most=False)
    return f"open further machines upstream until {flow} flow here"


def _listed(preset: Preset, most: float) -> str:
    """Return the largest listed diameter within a bound, in brackets; nothing where none is."""
    within = bisect_right(nominal_diameters(preset)[0], most_held(most))  # so many do not pass it
    return _listed_size(preset, within - 1) if within else ""


@cache
def _listed_size(preset: Preset, number: int) -> str:
    return f" (listed: {show(preset, 'diameter', nominal_diameters(preset)[0][number])})"


def _fast(shop: Shop, run: ShopRun, speed: float, carrier: Dust, dust: Dust, state: str | None) -> Finding:
    """Return the finding of a run faster than its purpose needs."""
    units, part = shop.request.units, run.narrowest
    widest = part.bore * (speed / carrier.transport_velocity) ** 0.5
    moves, enough = show_apart(units, "velocity", speed, dust.upper_velocity)
    wider = f"a wider duct, up to {show_bound(units, 'diameter', widest, most=True)}{_listed(units, widest)},"
    return finding(
        units,
        "needlessly-fast",
        f"air in {_where(shop, run, part)} moves at {moves}; above {enough} more speed buys noise, wear and power",
        at=run.at(part.at),
        run=run.id,
        state=state,
        quantity="velocity",
        kind="velocity",
        value=speed,
        maximum=dust.upper_velocity,
        suggestion=Suggestion(text=f"{wider} would do in this state; look at the other states first"),
        source=dust.upper_passport.source,
    )


def starved(shop: Shop, hoods: tuple[HoodResult, ...], state: str | None = None) -> list[Finding]:
    """Return a finding for each open hood below its design flow."""
    starving = [hood for hood in hoods if hood.design_flow is not None and hood.served not in (None, "holds")]
    number = {name: index for index, name in enumerate(shop.machines.ids)} if starving else {}
    advice = (
        "shut gates of machines that are not running, widen or shorten this path, or ease the losses that the other "
        "findings name"
    )
    return [starved_hood(shop, number[hood.run], hood.flow, state, advice) for hood in starving]


def starved_hood(shop: Shop, index: int, flow: float, state: str | None, advice: str, when: str = "") -> Finding:
    """Return the finding of one hood that gets less than its design flow.

    Args:
        shop: the tree.
        index: number of the hood's run.
        flow: that it gets, m3/s.
        state: of the gates.
        advice: what to do.
        when: end of the sentence, where it is told of a time.
    """
    units, run = shop.request.units, shop.runs[index]
    hood = run.run.hood
    assert hood is not None
    assert hood.flow is not None
    needed = float(hood.flow)
    gets, needs = show_apart(units, "flow", flow, needed)
    return finding(
        units,
        "hood-starved",
        f"{machine_at(hood.machine, run.id)} gets {gets} of the {needs} it needs{when}",
        at=f"runs[{index}].hood",
        run=run.id,
        state=state,
        quantity="flow",
        kind="flow",
        value=flow,
        minimum=needed,
        suggestion=Suggestion(text=advice),
        source=CALLER,
    )


def _gates(shop: Shop, openings: dict[int, float]) -> str:
    """Return the shut zone gates as words."""
    shut = [shop.runs[gate].id for gate in shut_zones(shop, openings)]
    return f"the shut gate of {shut[0]}" if len(shut) == 1 else f"one of the shut gates of {', '.join(shut)}"


def cut_off(
    shop: Shop, openings: dict[int, float], named: frozenset[int] = frozenset(), state: str | None = None
) -> list[Finding]:
    """Return a finding for each machine whose gates stand open, or that is named open, behind a shut zone gate."""
    return [
        finding(
            shop.request.units,
            "shut-off-downstream",
            f"{machine.name} is meant to be open, but {_gates(shop, openings)} further down cuts it off",
            at=f"runs[{machine.hoods[0]}].hood",
            run=shop.runs[machine.hoods[0]].id,
            state=state,
            suggestion=Suggestion(text=f"open {_gates(shop, openings)} as well"),
        )
        for machine in shut_off(shop, openings, named)
    ]


def suction(shop: Shop, told: tuple[RunResult, ...]) -> list[Finding]:
    """Return the finding of a tree under so much suction that one density is a rough reading."""
    deepest = min([run.static_pressure for run in told], default=0.0)
    if not above(-deepest, neglected()):
        return []
    worst = next(run for run in told if run.static_pressure == deepest)
    units = shop.request.units
    return [
        finding(
            units,
            "compressibility-neglected",
            f"suction in {worst.id} is {show(units, 'pressure', -worst.static_pressure)}; one density for the whole "
            "tree is a rough reading there",
            at=f"runs[{next(run.index for run in shop.runs if run.id == worst.id)}]",
            run=worst.id,
            quantity="suction",
            kind="pressure",
            value=-worst.static_pressure,
            maximum=neglected(),
            suggestion=Suggestion(text="read the deepest runs' flows with some percent of doubt"),
            source="common-practice",
        )
    ]


def transitional(shop: Shop, told: tuple[RunResult, ...]) -> list[Finding]:
    """Return the findings of runs whose flow is neither laminar nor turbulent."""
    return [
        finding(
            shop.request.units,
            "transitional-flow",
            f"flow in {run.id} is between laminar and turbulent; its friction is bridged between the two laws",
            at=f"runs[{run.index}]",
            run=run.id,
            quantity="reynolds",
            value=answer.reynolds,
            minimum=TURBULENT_START,
            suggestion=Suggestion(text="a narrower duct, or more flow, if chips must move here"),
            source="common-practice",
        )
        for run, answer in zip(shop.runs, told, strict=True)
        if not answer.idle and LAMINAR_END < answer.reynolds < TURBULENT_START and run.length > 0.0
    ]


def without_dust(shop: Shop) -> list[Finding]:
    """Return the note of a tree in which no dust is named."""
    if any(run.dust for run in shop.runs):
        return []
    return [
        finding(
            shop.request.units,
            "transport-not-judged",
            "no dust is named, so whether chips keep moving was not judged",
            at="dust",
            suggestion=Suggestion(text="name the dust that the machines make; the catalogue lists the kinds"),
        )
    ]
