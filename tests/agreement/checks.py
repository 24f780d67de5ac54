"""Everything that is checked of one shop: what must be alike, and what must not change what is told."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from copy import deepcopy
from dataclasses import replace
from typing import Any
from unittest import mock

from msgspec import to_builtins

from agreement import by_contract, comparing, facts, oracle, shops
from agreement.comparing import Disagreement
from agreement.facts import RARE, TELLERS, Asking, Case, Pool
from airbough_service import catalogue

LITTLE = {"coefficient": 1.0e-12, "exponent": 0.65}  # m3/s at 1 Pa: some 1e-11 m3/s of a run
NEAR = 1.0e-6  # what so little a leak may change, relative
SAMPLES = 24
EXTRAS = ("operating-point", "balance", "gate-states", "working-day", "strength", "make-up-air", "diagnosis")
"""Questions whose answers have room for the explanation, the ranges and the resolved request."""

LEAK_NOT_TOLD = ("leaks enter",)  # so little a leak is no share that could be told


def questions(seed: int) -> list[str]:
    """Return the questions asked of a shop: the rare ones of one in fifty."""
    return [question for question in TELLERS if question not in RARE or seed % 50 == 0]


def told(case: Case, questions: Iterable[str]) -> Pool:
    """Return what the questions tell of a case, and what the contract says of it."""
    pool = facts.pool(case, questions)
    facts.add(pool, by_contract.CONTRACT, by_contract.of_gates(case))
    facts.add(pool, by_contract.CONTRACT, by_contract.of_flows(case))
    return pool


def all_alike(shop: shops.Shop, asking: Asking) -> list[Disagreement]:
    """Every question tells the same of each state, and the same as the contract."""
    return comparing.disagreements(told(facts.case(shop, asking), questions(shop.seed)))


def leak_to_nothing(shop: shops.Shop, asking: Asking) -> list[Disagreement]:
    """A leak that goes to 0 goes to the answer without leak, in every question.

    Where no hood is open the leak is all that flows, so that the outcome has another name, and a curve that begins at
    some flow does not reach it.
    """
    tight = shops.tightened(shop.document)
    leaking = deepcopy(tight)
    for run in leaking["runs"]:
        run["leak"] = LITTLE
    without, little = (facts.case(shop, asking, document, shop.states[-1:]) for document in (tight, leaking))
    pool = told(without, questions(shop.seed))
    reached = {state.name for state in without.states if not state.dead or not by_contract.from_some_flow(without)}
    dead = {state.name for state in without.states if state.dead}
    little.states = [state for state in little.states if state.name in reached]
    kept = {
        fact: tellers
        for fact, tellers in of_questions(pool).items()
        if fact[1] in reached and (fact[0] != "outcome" or fact[1] not in dead)
    }
    if len(reached) < len(without.states):  # a comparison tells of two of them at a time
        kept = {fact: [one for one in tellers if one[0] != "compare"] for fact, tellers in kept.items()}
    other = facts.pool(little, questions(shop.seed))
    return comparing.disagreements(pool) + comparing.between(kept, other, "with next to no leak", NEAR, LEAK_NOT_TOLD)


def of_questions(pool: Pool) -> Pool:
    """Return a pool without what the contract says."""
    out = {fact: [one for one in tellers if one[0] != by_contract.CONTRACT] for fact, tellers in pool.items()}
    return {fact: tellers for fact, tellers in out.items() if tellers}


def other_preset(shop: shops.Shop, asking: Asking) -> list[Disagreement]:
    """A shop written in the other preset is told alike."""
    pools = [
        facts.pool(facts.case(shop, asking, document, shop.states[-1:]), questions(shop.seed))
        for document in (shop.document, shop.other)
    ]
    return comparing.between(*pools, "in the other preset", comparing.CLOSE)


def branch_taken_away(shop: shops.Shop, asking: Asking) -> list[Disagreement]:
    """A branch that is shut, without leak, changes nothing that is told of the others: it may as well not be there."""
    tight = shops.tightened(shop.document)
    model = oracle.read(tight)
    out: list[Disagreement] = []
    for run in removable(tight, model)[:2]:
        gone = {name for name in model.into if run in model.path(name)}
        shut = oracle.read(tight).written(model.openings(None) | {run: 0.0})
        without = tight | {"runs": [one for one in tight["runs"] if one["id"] not in gone]}
        if not any(oracle.read(without).open_hoods(None).values()):
            continue
        there = facts.pool(facts.case(shop, asking, shut, []), STANDING)
        left = facts.pool(facts.case(shop, asking, without, []), STANDING)
        kept = {fact: tellers for fact, tellers in there.items() if _of_the_rest(fact, gone, without)}
        out += comparing.between(kept, left, _taken(run, tight, model), comparing.CLOSE)
    return out


def _taken(run: str, document: shops.Document, model: oracle.Model) -> str:
    """Return what is taken away, with the junction that it leaves."""
    into = model.into[run]
    left = [one for one in document["runs"] if one["into"] == into and one["id"] != run]
    bore = next(one["diameter"] for one in document["runs"] if one["id"] == into)
    straight = next(one for one in left if (one.get("join") or {}).get("type") != "branch")
    change = "of its bore" if oracle.end(straight) == bore else "of another bore"
    return f"{run} taken away, {document['model']['junctions']}, {len(left)} left, straight {change}"


STANDING = ("operating-point", "balance", "gate-states", "strength", "make-up-air")
"""Questions asked of a shop with a branch shut and with it taken away."""


def _of_the_rest(fact: facts.Fact, gone: set[str], without: shops.Document) -> bool:
    """Return whether a fact is of what stands without the branch; the widest inlet decides the fan's outlet."""
    what, _, of = fact
    if what in ("cut off", "stand open") or of == "shut-off-downstream":
        return False  # of the machines gone, or a zone gate that now serves one machine alone
    has_outlet = "outlet_diameter" in without["collector"]["fan"] or without["collector"].get("discharge")
    return of not in gone and (bool(has_outlet) or what not in ("shaft power", "motor load", "code"))


def removable(document: shops.Document, model: oracle.Model) -> list[str]:
    """Return the runs with a gate whose being taken away leaves a junction that the contract covers, or a straight."""
    joins: dict[str | None, list[tuple[str, shops.Document]]] = {}
    for run in document["runs"]:
        joins.setdefault(run["into"], []).append((run["id"], run.get("join") or {"type": "straight"}))
    out = []
    for run in model.machine_of_gate:
        into = model.into[run]
        left = [join for name, join in joins[into] if name != run]
        straights = sum(join["type"] == "straight" for join in left)
        if into is not None and straights == 1 and len(left) in (1, 2):
            out.append(run)
    return out


def extras(shop: shops.Shop, asking: Asking, named: Iterable[str] = EXTRAS) -> list[Disagreement]:
    """What explains an answer, how sure it is, and the request resolved are about the state that the answer tells."""
    case = facts.case(shop, asking)
    return [found for question in named for found in _extras(question, case)]


def _extras(question: str, case: Case) -> Iterator[Disagreement]:
    """Yield where one question's extras are about another state than its runs."""
    for body in _bodies(question, case):
        wanted = {"explain": True, "resolved": True, "uncertainty": {"samples": SAMPLES, "seed": 1}}
        answer = case.ask(question, body | wanted, ("all-gates-shut",))
        if answer is None or not answer.runs:
            continue
        yield from _explained(question, answer)
        yield from _ranges(question, answer)
        with mock.patch.object(catalogue, "gate_loss", _later(catalogue.gate_loss)):
            again = case.ask(question, to_builtins(answer.resolved))
        one = facts.Reader(case).runs(answer, "told")
        other = {} if again is None else facts.Reader(case).runs(again, "told")
        for fact, value in one.items():
            if fact not in other or not comparing.alike(fact[0], value, other[fact], 1.0e-11):
                yield Disagreement(fact, question, value, f"{question}, resolved", other.get(fact, "nothing"))


def _later(gate_loss: Callable[[float], catalogue.Loss]) -> Callable[[float], catalogue.Loss]:
    """Return the loss of a gate as a later catalogue may have it: what is resolved does not ask for it."""
    return lambda opening: replace(gate_loss(opening), coefficient=1.5 * gate_loss(opening).coefficient)


def _bodies(question: str, case: Case) -> Iterator[shops.Document]:
    """Yield requests of one question whose answer tells runs: of the document, and of the last named state."""
    state = case.states[-1]
    if question == "diagnosis":
        body = facts.readings(case, state)
        yield from () if body is None else (body,)
    elif question == "gate-states":
        yield case.document | {"states": [one.named for one in case.states[1:]]}
    elif question == "strength":
        yield case.document | {"states": [state.named]}
    elif question == "working-day":
        on = facts.machines_on(case.model, state.openings)
        if on:
            day = [{"machine": name, "times": [{"on": 0.0, "off": 600.0}]} for name in on[:1]]
            yield case.document | {"machines": day, "duration": 600.0}
    else:
        room = {"collector_stands": "outdoors", "room": {"volume": 6000.0}} if question == "make-up-air" else {}
        yield state.document | room


def _explained(question: str, answer: Any) -> Iterator[Disagreement]:
    """Yield runs whose explained velocity or pressure is not the one told; a leaking run has two of a kind."""
    fields = {"velocity": "velocity", "static-pressure": "static_pressure", "total-pressure": "total_pressure"}
    terms: dict[tuple[str, str], list[float]] = {}
    for term in answer.explanation:
        if term.run is not None and term.term in fields:
            terms.setdefault((term.term, term.run), []).append(term.value)
    for run in answer.runs:
        for term, name in fields.items():
            value, found = getattr(run, name), terms.get((term, run.id), [])
            if not found and (run.flow == 0.0 or term != "velocity"):
                continue
            if not any(abs(value - other) <= 1.0e-9 * max(abs(value), 1.0e-3) for other in found):
                yield Disagreement((name, "told", run.id), question, value, f"{question}, explained", found)


def _ranges(question: str, answer: Any) -> Iterator[Disagreement]:
    """Yield runs whose velocity told lies far from its range, and open hoods without a range or others with one."""
    ranges = {one.run: one.velocity for one in answer.uncertainty.runs}
    if answer.uncertainty.share_solved < 1.0:
        return  # the draws left out are all on one side
    for run in answer.runs:
        at = ranges.get(run.id)
        if at is None:
            if run.flow > 0.0:
                yield Disagreement(("velocity", "told", run.id), question, run.velocity, f"{question}, ranges", None)
            continue
        width = at.high - at.low + 1.0e-6 * at.middle
        if not at.low - width <= run.velocity <= at.high + width:
            pair = (at.low, at.high)
            yield Disagreement(("velocity", "told", run.id), question, run.velocity, f"{question}, ranges", pair)
    is_open = {hood.run for hood in answer.hoods if hood.open}
    ranged = {hood.run for hood in answer.uncertainty.hoods}
    if is_open != ranged:
        yield Disagreement(("open hoods", "told", ""), question, is_open, f"{question}, ranges", ranged)


def wrong_names(shop: shops.Shop, asking: Asking) -> list[Disagreement]:
    """A state that is wrong is refused by every question that takes states, for the same reasons."""
    case = facts.case(shop, asking, shops.tightened(shop.document))
    ungated = next((run["id"] for run in case.document["runs"] if "gate" not in run), None)
    wrong = {
        "unknown word": {"name": "wrong", "open": [*case.model.machines, "no such machine"]},
        "unknown run": {"name": "wrong", "openings": {"no such run": 1.0}},
        "too small": {"name": "wrong", "openings": {next(iter(case.model.machine_of_gate), ""): 1.0e-5}},
        "run without gate": {"name": "wrong", "openings": {ungated or "no such run": 1.0}},
        "several": {
            "name": "wrong",
            "open": [*case.model.machines, "no such machine"],
            "openings": {"no such run": 1.0},
        },
    }
    quiet = Asking()
    out: list[Disagreement] = []
    for what, named in wrong.items():
        seen = []
        for question, body in _with_state(named, case):
            _, faults = quiet.answer(question, body, shop.seed)
            paths = sorted((fault.code, fault.path.replace("states[0]", "state")) for fault in faults)
            seen.append((question, paths))
        first = seen[0]
        out += [Disagreement(("faults", what, ""), *first, *other) for other in seen[1:] if other[1] != first[1]]
    return out


def _with_state(named: shops.Document, case: Case) -> Iterator[tuple[str, shops.Document]]:
    """Yield every question that takes a named state, with this one."""
    body = case.document
    yield "gate-states", body | {"states": [named]}
    yield "strength", body | {"states": [named]}
    yield "drawing", body | {"of": "tree", "states": [named]}
    yield "drawing", body | {"of": "fan", "states": [named]}
    stock = {"ducts": [{"diameter": body["runs"][0]["diameter"], "price_per_length": 1.0}]}
    yield "sizing", body | {"stock": stock, "fixed": [run["id"] for run in body["runs"]], "states": [named]}
    reading = [{"quantity": "flow", "run": body["runs"][0]["id"], "value": 100.0}]
    state = {name: value for name, value in named.items() if name != "name"}
    yield "diagnosis", body | {"readings": reading, "state": state}


CHECKS = {
    "all alike": all_alike,
    "leak to nothing": leak_to_nothing,
    "other preset": other_preset,
    "branch taken away": branch_taken_away,
    "extras": extras,
    "wrong names": wrong_names,
}
