"""The answer: layouts, proof, and what no price or rule here knows of."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Final

from airbough.wire.drawing import DrawingAnswer
from airbough.wire.layout import (
    CorridorPrice,
    Layout,
    LayoutAnswer,
    LayoutClash,
    LayoutLack,
    LayoutOverlap,
    LayoutRequest,
    LayoutUnjoined,
)
from airbough.wire.quantity import Preset
from airbough.wire.tree import Tree
from airbough_service.combined.layout.asked import Asked
from airbough_service.combined.layout.different import elsewhere
from airbough_service.combined.layout.on_top import bought
from airbough_service.combined.layout.places import Places
from airbough_service.combined.layout.plans import beside, plan
from airbough_service.combined.layout.search import ALIKE, Found
from airbough_service.combined.layout.trying import Tried
from airbough_service.solving import tree_answer
from airbough_service.terms import money, units
from airbough_service.terms.cautions import cautions
from airbough_service.terms.finding import show

NOT_MODELLED: Final = (
    "beams, lamps, doors and whatever else is not among the forbidden boxes",
    "room for wyes and elbows on short runs",
    "labour and everything else that the stock has no price for",
    "what the proven price is without, such as whole lengths, adapters at ports, screws and sealant: see `on_top`",
    "states of the gates that are not named",
    "more air than the design flows: a quote of an outline sizes it anew by what the fan moves, at another price, and "
    "may so rank layouts otherwise; of a layout's tree with all its runs `fixed` it tells what is bought here",
    "ducts at another height, or between the lines through machines, inlet, walls and boxes",
    "two runs that join a third at one place, one that turns behind its wye, or is entered from the side it came from",
)
FASTER: Final = (
    "ducts faster than their upper velocity for the price's sake: it is kept wherever some diameter keeps it for the "
    "machines upstream, as `rules` has it"
)
_MORE_AIR: Final = "a stronger fan, wider ducts in the stock or a nearer collector is needed"
_REMEDY: Final = "open a second gate where little air flows, or give one of them a collector of its own"
_NO_TREE: Final = "no arrangement along these lines, with these bores and states, keeps the rules"
_NO_AIR: Final = "in no arrangement along these lines, with these bores, does the pressure suffice for every state"
_NOT_AT_ONCE: Final = (
    "in no arrangement along these lines, with these bores, does the pressure suffice for all states at once"
)
_BESIDES: Final = "; besides, the cheapest cannot be sized, for the reason among the findings"
_TOO_DEEP: Final = (
    "in every arrangement along these lines, with these bores, the suction is deeper than can be answered; wider ducts "
    "in the stock or a nearer collector is needed"
)
_NO_CURVE: Final = "in every arrangement the air asked for lies outside the fan's curve, so that none is known to hold"
_EXACT: Final = "no arrangement along these lines, with these bores, prices, states and rules, is cheaper"


def told(asked: Asked, where: Places, found: Found) -> LayoutAnswer:
    """Return the answer in SI."""
    request = asked.request
    bare = Tree(units=request.units, runs=(), model=request.model)
    own = next((layout.sized for layout in found.layouts), None)
    pictures = []
    if request.drawings:
        pictures = [plan(request, one.tree, _title(request, number, one)) for number, one in enumerate(found.layouts)]
    return LayoutAnswer(
        engine=tree_answer.engine(bare),
        preset=request.units,
        outcome="proposed" if found.layouts else "no-layout",
        proof="exact" if found.exact else "gap",
        bound=_bound(found, request.stock.currency),
        none_holds=found.none_holds,
        statement=statement(found, request.units),
        not_modelled=NOT_MODELLED if request.rules.upper_velocity is not None else (*NOT_MODELLED, FASTER),
        layouts=tuple(
            _layout(asked, where, one, found.layouts[:number], pictures[number] if pictures else None)
            for number, one in enumerate(found.layouts)
        ),
        corridor_prices=tuple(_corridor(name, price, found, request.stock.currency) for name, price in found.corridors),
        clashes=found.clashes,
        lacking=found.lacking,
        unjoined=found.unjoined,
        drawing=beside(pictures) if pictures else None,
        currency=request.stock.currency,
        assumed=asked.assumed,
        findings=found.layouts[0].findings if found.layouts else found.unsized,
        sources=asked.sources,
        cautions=own.cautions if own is not None else cautions(*tree_answer.CAUTIONS),
        name=request.name,
    )


def _title(request: LayoutRequest, number: int, one: Tried) -> str:
    """Return what stands over a plan: which layout, what it costs, whether it holds."""
    name = "" if request.name is None else f"{request.name}, "
    money = "" if request.stock.currency is None else f" {request.stock.currency}"
    return f"{name[:28]}layout {number + 1}: {one.price}{money}, {'holds' if one.holds else 'does not hold'}"[:64]


def statement(found: Found, preset: Preset) -> str:
    """Return what is proven, in words."""
    if found.lacking:
        return f"{_lacking(found.lacking, preset)}; the layout told first breaks the fewest rules"
    if found.unjoined:
        return f"{_NO_TREE}: {'; '.join(_unjoined(one, preset) for one in found.unjoined)}"
    if found.none_holds:
        if math.isfinite(found.cheapest):  # there are trees, but for the pressure
            why = _TOO_DEEP if found.unlimited else f"{_NOT_AT_ONCE}; {_MORE_AIR}"
            why += _BESIDES if found.unsized else ""
            return f"{why}; the layout told first breaks the fewest rules" if found.layouts else why
        clashing = "; ".join(_clash(one, preset) for one in found.clashes)
        return f"{_NO_TREE}: {clashing}" if clashing else _NO_TREE
    if found.exact:
        return _EXACT
    if not found.layouts:
        return f"{_EXACT} than the bound; none was found that can be sized, for the reason among the findings"
    best = found.layouts[0]
    if not best.holds:
        return f"{_EXACT} than the bound; of the layouts tried none holds, and whether any does is not proven"
    more = 100.0 * (float(best.price) / found.bound - 1.0)
    return (
        "no arrangement along these lines, with these bores, prices, states and rules, is cheaper than the bound: the "
        f"layout told first is at most {more:.2g} % dearer than the cheapest"
    )


def _lacking(lack: tuple[LayoutLack, ...], preset: Preset) -> str:
    """Return which states no arrangement serves, what is missing most and what would help, as words."""
    short = [one for one in lack if one.flow is None]
    off = ", ".join(one.state for one in lack if one.flow is not None)
    words = [f"{_NO_AIR}: {', '.join(one.state for one in short)}"] if short else []
    known = [one for one in short if one.missing is not None]
    if known:
        worst = max(known, key=lambda one: float(one.missing or 0.0))
        needed, there = (show(preset, "pressure", float(value or 0.0)) for value in (worst.needed, worst.available))
        words.append(f"{worst.state} needs at least {needed} and the fan has {there}; {_MORE_AIR}")
    return "; ".join([*words, *([f"{_NO_CURVE}: {off}"] if off else [])])


def _clash(one: LayoutClash, preset: Preset) -> str:
    """Return which machines have no diameter, as words."""
    least, most = (
        "" if size is None else show(preset, "diameter", float(size)) for size in (one.at_least, one.at_most)
    )
    names, slow, fast = " and ".join(one.machines), one.states[0], one.states[-1]
    limits = [f"at most {most}, or dust settles in the state {slow}"] if most else []
    limits += [f"at least {least}, or air is too fast in the state {fast}"] if least else []
    remedy = "open another gate with it" if one.alone else _REMEDY
    some = one.at_least is None or one.at_most is None or float(one.at_least) <= float(one.at_most)
    if some:
        remedy = f"the stock has none: add one, or {remedy}"
    must = f"the duct of {names} must be" if one.alone else f"{names} cannot share a duct: it must be"
    return f"{must} {', and '.join(limits)}; {remedy}"


def _unjoined(one: LayoutUnjoined, preset: Preset) -> str:
    """Return which machines nothing joins, as words."""
    sizes = " or ".join(show(preset, "diameter", float(size)) for size in one.diameters)
    if one.to_inlet:
        return f"in {sizes} the stock has no pieces into the inlet in its direction"
    if len(one.machines) == 1 and one.port is not None:
        port = show(preset, "diameter", float(one.port))
        return (
            f"the duct of {one.machines[0]} may be {sizes} only, or dust settles in the main duct in the state "
            f"{one.state}, and its port or hose is {port}; {_REMEDY}"
        )
    if len(one.machines) == 1:
        return f"in {sizes} the stock has no pieces for a duct of {one.machines[0]} by itself"
    return f"in {sizes} the stock has no pieces that join the ducts of {', '.join(one.machines)}"


def _bound(found: Found, currency: str | None) -> Decimal | None:
    """Return the bound in coins, never above that of the first layout where that is proven."""
    if not math.isfinite(found.bound):
        return None
    least = money.at_least(found.bound * (1.0 - ALIKE), currency)
    return found.layouts[0].price if found.exact and found.layouts else least


def _corridor(name: str, price: float, found: Found, currency: str | None) -> CorridorPrice:
    """Return what a duct along a line costs; beyond what was looked at, that it is more than that."""
    known = price <= found.looked_up_to
    if not math.isfinite(price) and not math.isfinite(found.looked_up_to):
        return CorridorPrice(along=name)
    least = money.at_least(price if known else found.looked_up_to, currency)
    more = max(least - money.at_least(found.cheapest, currency), Decimal(0))
    return CorridorPrice(along=name, price=least, more=more, at_least=not known)


def _layout(asked: Asked, where: Places, one: Tried, before: list[Tried], picture: DrawingAnswer | None) -> Layout:
    stiff = {machine.id for machine in asked.request.machines}
    tree = one.tree
    parts = bought(asked, one)
    lengths = [run.length for run in units.to_si(tree).runs if run.hood is None or run.id in stiff]
    return Layout(
        price=one.price,
        bought=parts.price,
        bought_complete=parts.complete,
        on_top=parts.on_top,
        price_in_words=parts.words,
        allowance=one.allowance,
        price_complete=one.sized.price_complete,
        outline=units.document(one.outline, asked.request.units),
        tree=tree,
        duct_length=sum(float(length or 0.0) for length in lengths),
        elsewhere=elsewhere(one, before, where) if before else None,
        states=one.states,
        broken=one.sized.broken,
        overlaps=_overlaps(where, one),
        holds=one.holds,
        drawings={} if picture is None else {"plan": picture.svg},
    )


def _overlaps(where: Places, one: Tried) -> tuple[LayoutOverlap, ...]:
    out = []
    for point in one.traced.overlaps:
        runs = dict.fromkeys(one.rows[id(run)] for run in one.traced.root.runs() if point in run.points)
        place = (float(where.lattice.x[point]), float(where.lattice.y[point]))
        out.append(LayoutOverlap(place=place, runs=tuple(runs)))
    return tuple(out)
