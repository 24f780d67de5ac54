"""How sure: many draws of the uncertain terms, each solved, told as ranges and as shares in which a check holds."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from airbough.wire.balance import BalanceRequest
from airbough.wire.collector import (
    Collector,
    Fan,
)
from airbough.wire.problem import Fault
from airbough.wire.tree import (
    Tree,
    Uncertainty,
)
from airbough.wire.uncertainty import (
    CheckShare,
    FlowRange,
    HoodRange,
    PressureRange,
    RunRange,
    TermShare,
    UncertaintyResult,
    VelocityRange,
)
from airbough_service.core import deadline
from airbough_service.core.evidence import draws
from airbough_service.core.laws.fan import Fan as Curve
from airbough_service.core.limits import below
from airbough_service.core.network import (
    columns,
    sampling,
)
from airbough_service.core.network import governing as balancing
from airbough_service.core.network.operating import (
    curve_samples,
    operate,
)
from airbough_service.core.network.sampling import Uses
from airbough_service.core.network.tree import Tree as Packed
from airbough_service.core.network.tree import (
    area,
    dynamic,
)
from airbough_service.shop import collector as fans
from airbough_service.shop import gates
from airbough_service.shop.shop import Shop, ShopRun
from airbough_service.solving.absorbing import places
from airbough_service.solving.design import at_hoods, limits
from airbough_service.solving.grades import carrier, dusts_of, settles, starves
from airbough_service.solving.one_draw import drawn_gate, drawn_tree
from airbough_service.solving.told_state import ToldState
from airbough_service.solving.uncertain_terms import (
    Terms,
    gathered,
)
from airbough_service.terms.refusal import Refusal

Floats = NDArray[np.float64]
Explained = Literal["flow", "fan-static-pressure"]
MOST: Final = 4.0e6  # rows of runs solved in all draws together
MOST_SLOWLY: Final = 1.0e5  # the same where each draw is solved on its own
SEARCH: Final = 20  # rows that would take as long as the search for crossings itself
TOLD_TERMS: Final = 5


@dataclass(frozen=True, slots=True)
class Drawn:
    """The draws of one question.

    Attributes:
        flow: by draw and packed row, m3/s; only draws that were solved.
        static: fan static pressure by draw, Pa.
        afforded: of a balance with a fan, what the fan does at the design flow, Pa.
        factor: by draw and term.
        terms: what was drawn.
        solved: share of the draws that were solved.
    """

    flow: Floats
    static: Floats
    afforded: Floats | None
    factor: Floats
    terms: Terms
    solved: float


def uncertainty(state: ToldState, request: Tree, asked: Uncertainty) -> UncertaintyResult:
    """Return how sure a balance or an operating point is, in the state that its answer tells; in SI.

    Args:
        state: told.
        request: the question, in SI.
        asked: samples and seed.

    Raises:
        Refusal: more draws than are answered.
    """
    balance = isinstance(request, BalanceRequest)
    drawn = _balance(state, request, asked) if isinstance(request, BalanceRequest) else _point(state, asked)
    explained: Explained = "fan-static-pressure" if balance and np.ptp(drawn.flow[:, 0]) == 0.0 else "flow"
    if drawn.static.size < 2:
        return UncertaintyResult(samples=asked.samples, seed=asked.seed, share_solved=drawn.solved)
    return UncertaintyResult(
        samples=asked.samples,
        seed=asked.seed,
        share_solved=drawn.solved,
        flow=FlowRange(**_range(drawn.flow[:, 0])),
        fan_static_pressure=PressureRange(**_range(drawn.static)),
        runs=_runs(state.shop, drawn),
        hoods=_hoods(state, drawn),
        checks=_checks(state, drawn),
        terms=_terms(drawn, drawn.flow[:, 0] if explained == "flow" else drawn.static),
        terms_explain=explained,
    )


def _limit(asked: Uncertainty, rows: int, most: float) -> None:
    """Refuse more work than is answered."""
    if asked.samples * rows > most:
        detail = f"at most {max(int(most / rows), 10)} for this tree"
        raise Refusal("out-of-range", [Fault(path="uncertainty.samples", code="too-many-samples", detail=detail)])


def _point(state: ToldState, asked: Uncertainty) -> Drawn:
    """Draw the operating point in the state told."""
    shop, fan, gate, chosen = state.shop, state.fan, state.gate, state.fan_given
    assert fan is not None
    once = fan.crosses_once
    _limit(asked, gate.size if once else gate.size + SEARCH, MOST if once else MOST_SLOWLY)
    terms, uses = gathered(
        shop, gate, [loss.name for loss in fans.outside_curve(shop.request.collector, chosen)], state.openings
    )
    factor = draws.factors(asked.seed, terms.names, terms.spreads, asked.samples)
    if once:
        found = sampling.solved(shop.tree, fan, gate, uses, factor)
        flow, kept = found.flow, sampling.settled(found)
    else:
        flow, kept = _one_by_one(shop.tree, fan, gate, uses, factor)
    flow, own = flow[kept], factor[kept]
    curve = own[:, uses.fan] if uses.fan >= 0 else 1.0
    off = fan.quadratic * flow[:, 0] ** 2
    static = curve * (curve_samples(fan, flow[:, 0]) + off) - off
    return Drawn(flow, static, None, own, terms, float(kept.mean()))


def _one_by_one(tree: Packed, fan: Curve, gate: Floats, uses: Uses, factor: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Solve draws one by one, for curves that may be crossed more than once."""
    flow, kept = np.zeros((len(factor), gate.size)), np.zeros(len(factor), bool)
    for s, own in enumerate(factor):
        pieces, terms = fan.pieces.copy(), fan.terms.copy()
        pieces[:, 2:] *= own[uses.fan]
        terms[:, 0] *= own[uses.losses]
        shaken = replace(fan, pieces=pieces, terms=terms)
        found = operate(drawn_tree(tree, uses, own), shaken, drawn_gate(gate, uses, own))
        flow[s], kept[s] = found.flow, found.outcome != "beyond-fan-curve"
    return flow, kept


def _balance(state: ToldState, request: BalanceRequest, asked: Uncertainty) -> Drawn:
    """Draw the balance at design flows."""
    shop = state.shop
    chosen = None if shop.request.collector is None else shop.request.collector.fan
    gate, design = shop.gates(), at_hoods(shop)
    once = request.by == "gates" and shop.parted is None  # no draw changes a flow
    _limit(asked, gate.size, MOST if once else MOST_SLOWLY)
    way = balancing.Way(request.by, request.correction, limits(), places(shop, request.gates_may_stand))
    middle = balancing.balance(shop.tree, gate, design, way)
    collector = shop.request.collector or Collector()
    names = [loss.name for loss in collector.losses]
    terms, uses = gathered(shop, gate, names)
    factor = draws.factors(asked.seed, terms.names, terms.spreads, asked.samples)
    if once:
        flow = np.tile(middle.flow, (asked.samples, 1))
        at_fan = sampling.needed(shop.tree, gate, middle.flow, uses, factor)
    else:
        flow, at_fan = np.zeros((asked.samples, gate.size)), np.zeros(asked.samples)
        for s, own in enumerate(factor):
            tree, gates = drawn_tree(shop.tree, uses, own), drawn_gate(gate, uses, own)
            found = balancing.balance(tree, gates, design, way)
            flow[s], at_fan[s] = found.flow, found.at_fan
    static = at_fan + _collector_losses(shop, flow[:, 0], factor, uses)
    static -= fans.recovery(shop, chosen) * flow[:, 0] ** 2
    return Drawn(flow, static, _afforded(shop, chosen, flow[:, 0], factor, uses), factor, terms, 1.0)


def _collector_losses(shop: Shop, flow: Floats, factor: Floats, uses: Uses) -> Floats:
    """Return the collector's losses in each draw, Pa."""
    lost = np.zeros(flow.size)
    for k, (constant, exponent) in enumerate(fans.loss_terms(shop)):
        lost += constant * flow**exponent * (factor[:, uses.losses[k]] if uses.losses[k] >= 0 else 1.0)
    return lost


def _afforded(shop: Shop, chosen: Fan | None, flow: Floats, factor: Floats, uses: Uses) -> Floats | None:
    """Return what the document's fan does at the flow of each draw, with the losses inside its curve given back."""
    if chosen is None:
        return None
    fan = fans.build(shop, chosen)
    if float(np.max(flow)) > fan.highest or float(np.min(flow)) < fan.lowest:
        return None
    off = fan.quadratic * flow**2
    curve = factor[:, uses.fan] if uses.fan >= 0 else 1.0
    afforded = curve * (curve_samples(fan, flow) + off) - off
    collector = shop.request.collector or Collector()
    outside = fans.outside_curve(collector, chosen)
    for k, (constant, exponent) in enumerate(fans.loss_terms(shop)):
        if collector.losses[k] not in outside:
            afforded = afforded + constant * flow**exponent * factor[:, uses.losses[k]]
    return np.asarray(afforded)


def _range(values: Floats) -> dict[str, float]:
    """Return the 5 %, 50 % and 95 % points."""
    deadline.check()
    low, middle, high = np.quantile(values, [0.05, 0.5, 0.95])
    return {"low": float(low), "middle": float(middle), "high": float(high)}


def _flow_of(shop: Shop, drawn: Drawn, index: int) -> Floats:
    """Return a run's flow at its downstream end in each draw."""
    return drawn.flow[:, shop.end_row(index)]


def _runs(shop: Shop, drawn: Drawn) -> tuple[RunRange, ...]:
    """Return the range of each run's velocity, where air flows."""
    out = []
    for run in shop.runs:
        flow = _flow_of(shop, drawn, run.index)
        if flow.any():
            out.append(RunRange(run=run.id, velocity=VelocityRange(**_range(flow / area(run.widest.bore)))))
    return tuple(out)


def _hoods(state: ToldState, drawn: Drawn) -> tuple[HoodRange, ...]:
    """Return the range of each open hood's flow."""
    shop, live = state.shop, gates.open_hoods(state.shop, state.openings)
    return tuple(
        HoodRange(
            run=run.id,
            flow=FlowRange(**_range(drawn.flow[:, shop.hood_row(run.index)])),
            static_pressure=PressureRange(**_range(_at_hood(shop, drawn, run))),
        )
        for run in shop.runs
        if run.run.hood is not None and live[run.index]
    )


def _at_hood(shop: Shop, drawn: Drawn, run: ShopRun) -> Floats:
    """Return the static pressure just after a hood in each draw, Pa: what is lost up to there, and the air moving."""
    row, table, terms = shop.hood_row(run.index), shop.tree.table, drawn.terms.numbers
    flow = drawn.flow[:, row]
    per_square = np.full(flow.size, float(shop.tree.entry[row] + shop.tree.port[row] + table[row, columns.VP_START]))
    for piece in run.pieces:
        term = terms.get(piece.entry, -1)
        if piece.part in ("entry", "port") and term >= 0:
            lost = piece.coefficient * piece.count * dynamic(shop.density, piece.bore)
            per_square += (drawn.factor[:, term] - 1.0) * lost
    inside = terms.get(f"machine-resistance/{run.id}", -1)
    resistance = table[row, columns.POWER_B] * flow ** table[row, columns.EXPONENT_B]
    inner = drawn.factor[:, inside] if inside >= 0 else 1.0
    return np.asarray(-(per_square * flow * flow + resistance * inner))


def _checks(state: ToldState, drawn: Drawn) -> tuple[CheckShare, ...]:
    """Return how often each check holds."""
    out, shop = [], state.shop
    for run, dusts in zip(shop.runs, dusts_of(shop, state.openings), strict=True):
        if dusts:
            limit = carrier(dusts).transport_velocity
            flow = np.minimum(_flow_of(shop, drawn, run.index), drawn.flow[:, shop.hood_row(run.index)])
            speed = flow / area(run.widest.bore)
            out.append(_share("transport-velocity", ~settles(speed / limit), run.id))
    live = gates.open_hoods(shop, state.openings)
    for run in shop.runs:
        hood = run.run.hood
        if hood is not None and hood.flow is not None and live[run.index]:
            flow = drawn.flow[:, shop.hood_row(run.index)]
            out.append(_share("design-flow", ~starves(flow / float(hood.flow)), run.id))
    if drawn.afforded is not None:
        out.append(_share("pressure-available", ~below(drawn.afforded, drawn.static), None))
    return tuple(out)


def _share(
    check: Literal["transport-velocity", "design-flow", "pressure-available"],
    holds: NDArray[np.bool_],
    run: str | None,
) -> CheckShare:
    """Return one check's share with its standard error."""
    p = (float(holds.sum()) + 1.0) / (holds.size + 2.0)
    error = math.sqrt(p * (1.0 - p) / holds.size)
    return CheckShare(check=check, run=run, share_holding=float(holds.mean()), standard_error=error)


def _terms(drawn: Drawn, value: Floats) -> tuple[TermShare, ...]:
    """Return the terms that matter most for a quantity."""
    correlations = draws.rank_correlations(drawn.factor, value)
    names = drawn.terms.names
    out = []
    for k in np.argsort(-(correlations**2), kind="stable")[:TOLD_TERMS]:
        passport = drawn.terms.passports[k]
        if correlations[k] == 0.0:
            continue
        out.append(
            TermShare(
                entry=names[k],
                spread=passport.spread,
                share=float(correlations[k] ** 2),
                raises=bool(correlations[k] > 0.0),
                source=passport.source,
                read={"read": True, "memory": False}.get(passport.how),
            )
        )
    return tuple(out)
