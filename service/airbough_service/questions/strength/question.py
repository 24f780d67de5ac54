"""POST /v1/trees/strength: the duct's wall against the suction inside it."""

from __future__ import annotations

from dataclasses import dataclass

from airbough.wire.answer import Finding
from airbough.wire.strength import (
    RunStrength,
    StrengthAnswer,
    StrengthRequest,
)
from airbough_service.catalogue import Passport
from airbough_service.catalogue.gauges import GALVANIZED, buckling, coating
from airbough_service.core.limits import above
from airbough_service.judging.state_findings import outcome_findings, shut_off_not_on_curve
from airbough_service.questions.strength import findings as strength_findings
from airbough_service.questions.strength.doors import TIGHT, areas, forces
from airbough_service.questions.strength.states import (
    DOCUMENT,
    GIVEN,
    SHUT_OFF,
    highest_pressure,
    suctions,
)
from airbough_service.questions.strength.walls import (
    Allowance,
    KnownWall,
    UnknownWall,
    allowance,
    walls,
)
from airbough_service.shop import collector
from airbough_service.shop.gates import named_states
from airbough_service.shop.shop import (
    Shop,
    build,
)
from airbough_service.solving import tree_answer
from airbough_service.solving.solved_state import Solved, solve
from airbough_service.solving.told_state import Answered, of_point
from airbough_service.terms import sources
from airbough_service.terms.finding import (
    ordered,
)

ASSUMPTIONS = (
    "the duct is round and its wall elastic; seams and dents are left to the knockdown and the safety factor",
    "joints, hangers and fittings are not counted as stiffening; only rings named as such are",
    "at shut-off every run bears the highest pressure of the fan's curve, as with every gate shut or hood blocked",
    "sheet counts with the least thickness of its gauge where that is published, less its zinc; a wall thickness that "
    "is given counts as given",
    "spiral duct counts as a plain tube: no test of lock seams was found, so its seam neither stiffens nor weakens "
    "it here",
)


@dataclass(frozen=True, slots=True)
class _Load:
    """The suction of every run in each state, by name; the document's state may be unknown."""

    by_state: dict[str, list[float]]
    shut_off: float
    solved: Solved | None
    findings: tuple[Finding, ...]

    @property
    def deepest(self) -> tuple[str, float]:
        """The state in which the collector draws deepest, and its suction there, Pa."""
        return (SHUT_OFF if SHUT_OFF in self.by_state else GIVEN), self.shut_off


def answer(request: StrengthRequest) -> StrengthAnswer:
    """Answer the question in SI; raises as `answered`."""
    return answered(request).answer


def answered(request: StrengthRequest) -> Answered[StrengthAnswer]:
    """Answer each wall against its suction, in SI.

    Raises:
        Refusal: with every fault of tree, fan, walls and states.
    """
    shop = build(request)
    known, allowed, sizes = walls(shop, request), allowance(request), areas(shop, request)
    load = _given(shop, float(request.suction)) if request.suction is not None else _load(shop, request)
    strengths = tuple(
        _strength(shop.runs[index].id, wall, allowed, load, index)
        for index, wall in enumerate(known)
        if isinstance(wall, KnownWall)
    )
    items = ordered([*load.findings, *strength_findings.judged(shop, request, known, allowed, strengths)])
    told = StrengthAnswer(
        engine=tree_answer.engine(request),
        units={},
        preset=request.units,
        air=shop.air,
        name=request.name,
        runs=() if load.solved is None else load.solved.runs,
        hoods=() if load.solved is None else load.solved.hoods,
        system=None if load.solved is None else tree_answer.whole(shop, load.solved.runs),
        findings=items,
        sources=sources.told(tree_answer.origins(shop) | sources.origins(*_passports(request, known))),
        cautions=tree_answer.cautions(shop, items, ("duct-collapse",)),
        assumed=shop.assumed,
        strengths=strengths,
        shut_off_suction=load.shut_off,
        safety_factor=allowed.safety_factor,
        knockdown=allowed.knockdown,
        assumptions=(*ASSUMPTIONS, *((TIGHT,) if request.doors else ())),
        doors=forces(shop, request, sizes, load.by_state, load.deepest),
        judged_against="fan" if request.suction is None else "given-suction",
    )
    return Answered(told, None if load.solved is None else of_point(load.solved))


def _given(shop: Shop, suction: float) -> _Load:
    """Return the load of a suction that the caller gives."""
    return _Load({GIVEN: [suction] * len(shop.runs)}, suction, None, ())


def _load(shop: Shop, request: StrengthRequest) -> _Load:
    """Return the suction in the document's state, in the states asked for, and at shut-off."""
    fan = collector.build(shop)
    base = solve(shop, fan)
    found = [item for item in outcome_findings(base, None) if item.code != "shut-off-not-on-curve"]  # told once, below
    by_state = {}
    own = suctions(base)
    if own is not None:
        by_state[DOCUMENT] = own
    for state in named_states(shop, request.states, taken=(DOCUMENT, SHUT_OFF)):
        name = str(state.name)
        solved = solve(shop, fan, state)
        found += [item for item in outcome_findings(solved, name) if item.code != "shut-off-not-on-curve"]
        deep = suctions(solved)
        if deep is not None:
            by_state[name] = deep
    shut_off = highest_pressure(fan)
    by_state[SHUT_OFF] = [shut_off] * len(shop.runs)
    if fan.begins_beyond(0.0):
        found.append(shut_off_not_on_curve(request.units))
    return _Load(by_state, shut_off, base, tuple(found))


def _strength(run: str, wall: KnownWall, allowed: Allowance, load: _Load, index: int) -> RunStrength:
    """Return one run's strength."""
    state = max(load.by_state, key=lambda name: load.by_state[name][index])
    worst, bearable = load.by_state[state][index], wall.buckling * allowed.share
    own = load.by_state.get(DOCUMENT)
    return RunStrength(
        run=run,
        material=wall.material.id,
        wall_thickness=wall.thickness,
        buckling_pressure=wall.buckling,
        allowable_suction=bearable,
        suction=None if own is None else own[index],
        suction_at_shut_off=load.shut_off,
        worst_suction=worst,
        worst_state=state,
        share=worst / bearable,
        holds=not above(worst, bearable),
        gauge=wall.gauge,
        spacing=wall.spacing,
    )


def _passports(request: StrengthRequest, known: list[KnownWall | UnknownWall]) -> list[Passport]:
    """Return where the numbers of the walls come from."""
    judged = [wall for wall in known if isinstance(wall, KnownWall)]
    if not judged:
        return []
    found = [buckling().long, *(wall.material.passport for wall in judged)]
    found += [wall.passport for wall in judged if wall.passport is not None]
    if any(wall.spacing is not None for wall in judged):
        found.append(buckling().short)
    if any(wall.gauge is not None and wall.material.id == GALVANIZED for wall in judged):
        found.append(coating()[1])
    if request.safety_factor is None:
        found.append(buckling().passport)
    if request.knockdown is None:
        found.append(buckling().reserve)
    return found
