"""Every question that tells something of a shop in a state of its gates, and what it tells, in one common form.

A fact is (what, state, of which run, hood or machine); a pool holds for each fact what every teller says, in SI. A
state is told to a question as a named state where it takes one, else as a document whose gates stand so.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from copy import deepcopy
from dataclasses import dataclass, field
from typing import Any

import msgspec
from airbough.calls import CALLS
from airbough_service.combined import registry
from airbough_service.questions.drawing import of_tree
from airbough_service.shop.shop import build
from airbough_service.terms import units
from airbough_service.terms.refusal import Refusal

from agreement import oracle
from agreement.shops import Document, Shop

Fact = tuple[str, str, str]
Facts = dict[Fact, Any]
Pool = dict[Fact, list[tuple[str, Any]]]

BY_NAME = {call.name: call for call in CALLS}
AS_DOCUMENT = "as in the document"
SI = {
    "us": {"flow": 0.3048**3 / 60.0, "velocity": 0.3048 / 60.0, "pressure": 249.08891, "power": 745.69987,
           "density": 0.45359237 / 0.3048**3, "diameter": 0.0254},
    "metric": {"flow": 1.0 / 3600.0, "velocity": 1.0, "pressure": 1.0, "power": 1000.0, "density": 1.0,
               "diameter": 0.001},
}  # fmt: skip
RUN_CODES = {"below-transport-velocity": "too slow", "needlessly-fast": "too fast", "hood-starved": "starved"}
STATE_CODES = (*RUN_CODES, "all-gates-shut", "fan-beyond-curve", "several-operating-points", "motor-overloaded")
DEAD = ("all-gates-shut",)  # what refuses a question about design flows where no hood is open
DEEP = ("suction-too-deep",)
DAY = 3600.0


@dataclass(frozen=True, slots=True)
class State:
    """One state of the gates.

    Attributes:
        name: the caller's.
        named: as a named state of a request.
        openings: by run of a gate, as the contract reads it.
        document: with its gates standing so.
        is_open: by run of a hood, as the contract reads it.
        served: by run, likewise.
    """

    name: str
    named: Document
    openings: oracle.Openings
    document: Document
    is_open: dict[str, bool]
    served: dict[str, bool]

    @property
    def dead(self) -> bool:
        """Whether no hood is open."""
        return not any(self.is_open.values())


@dataclass(slots=True)
class Case:
    """One document with its states, ready to be asked about."""

    seed: int
    document: Document
    model: oracle.Model
    states: list[State]

    @property
    def has_leaks(self) -> bool:
        """Whether some joint leaks."""
        return any("leak" in run or "leakage_class" in run for run in self.document["runs"])


def case(shop: Shop, document: Document | None = None, most: int | None = None) -> Case:
    """Return a shop's case: the document as it is, then its named states.

    Args:
        shop: drawn.
        document: in place of the shop's own.
        most: named states; None: all.
    """
    body = shop.document if document is None else document
    model = oracle.read(body)
    named = [{"name": AS_DOCUMENT}, *(shop.states if most is None else shop.states[:most])]
    return Case(shop.seed, body, model, [_state(model, one) for one in named])


def _state(model: oracle.Model, named: Document) -> State:
    openings = model.openings(named)
    written = model.written(openings)
    return State(named["name"], named, openings, written, model.open_hoods(openings), model.served(openings))


@dataclass(slots=True)
class Asking:
    """Asks questions and counts what was refused."""

    asked: Counter[str] = field(default_factory=Counter)
    refused: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    shops_asked: dict[str, set[int]] = field(default_factory=lambda: defaultdict(set))
    shops_refused: dict[str, set[int]] = field(default_factory=lambda: defaultdict(set))
    last: tuple[str, ...] = ()

    def __call__(self, question: str, body: Document, seed: int, expected: Iterable[str] = ()) -> Any:
        """Return the answer; None where refused, the codes then in `last`; `expected` ones are not counted."""
        self.last = ()
        self.asked[question] += 1
        self.shops_asked[question].add(seed)
        try:
            return registry.answer(question, decoded(question, body))
        except Refusal as refusal:
            self.last = tuple(fault.code for fault in refusal.faults)
        if not set(self.last) <= set(expected):
            self.refused[question].update(set(self.last))
            self.shops_refused[question].add(seed)
        return None

    def share_answered(self, question: str) -> float:
        """Return the share of the shops asked about in which the question answered every time."""
        return 1.0 - len(self.shops_refused[question]) / max(len(self.shops_asked[question]), 1)


def decoded(question: str, body: Document) -> Any:
    """Return a body as the question's request, as it comes over HTTP."""
    return msgspec.json.decode(msgspec.json.encode(body), type=BY_NAME[question].request)


class Reader:
    """Reads answers of one preset into facts in SI."""

    def __init__(self, preset: str) -> None:
        self.si = SI[preset]

    def runs(self, answer: Any, state: str, prefix: str = "") -> Facts:
        """Return what `runs` and `hoods` tell."""
        q, p = self.si["flow"], self.si["pressure"]
        out: Facts = {}
        for run in answer.runs:
            out["idle", state, run.id] = run.idle
            out[f"{prefix}flow", state, run.id] = run.flow * q
            out[f"{prefix}static pressure", state, run.id] = run.static_pressure * p
            out[f"{prefix}total pressure", state, run.id] = run.total_pressure * p
            out[f"{prefix}loss", state, run.id] = run.total_loss * p
        for hood in answer.hoods:
            out["open", state, hood.run] = hood.open
            out[f"{prefix}flow of hood", state, hood.run] = hood.flow * q
            out[f"{prefix}static pressure of hood", state, hood.run] = hood.static_pressure * p
        return out

    def whole(self, answer: Any, state: str) -> Facts:
        """Return what `system` tells of an operating point, where there is one."""
        if answer.system is None:
            return {}
        return {
            ("system flow", state, ""): answer.system.flow * self.si["flow"],
            ("inlet static pressure", state, ""): answer.system.inlet_static_pressure * self.si["pressure"],
        }


def by_run(findings: Iterable[Any], state: str, runs: Iterable[str], codes: Iterable[str]) -> Facts:
    """Return by run whether there is a finding of each code."""
    found = {(item.code, item.run) for item in findings}
    return {(RUN_CODES[code], state, run): (code, run) in found for code in codes for run in runs}


def by_state(codes: Iterable[str], state: str, judged: Iterable[str] = STATE_CODES) -> Facts:
    """Return whether a state has a finding of each code."""
    found = set(codes)
    return {("code", state, code): code in found for code in judged}


Tells = Iterator[tuple[str, Facts]]
Teller = Callable[[Asking, Case], Tells]


def known(answer: Any) -> bool:
    """Return whether an operating point's flows are known."""
    return bool(answer.outcome != "beyond-fan-curve")


def operating_point(ask: Asking, case: Case) -> Tells:
    """What flows, asked of the document as it stands in each state."""
    read = Reader(case.document["units"])
    for state in case.states:
        answer = ask("operating-point", state.document, case.seed)
        if answer is None:
            continue
        facts: Facts = {("outcome", state.name, ""): answer.outcome}
        facts |= by_state((item.code for item in answer.findings), state.name)
        if known(answer):
            facts |= _point(answer, state, case, read)
        yield "operating-point", facts


def _point(answer: Any, state: State, case: Case, read: Reader) -> Facts:
    """Return the facts of a known operating point."""
    p, name = read.si["pressure"], state.name
    facts = read.runs(answer, name) | read.whole(answer, name)
    facts |= by_run(answer.findings, name, case.model.into, RUN_CODES)
    facts["fan static pressure", name, ""] = answer.system.fan_static_pressure * p
    facts["deepest suction", name, ""] = -min(run.static_pressure for run in answer.runs) * p
    facts["exhaust", name, ""] = answer.system.flow * read.si["flow"]
    shares = [hood.share_of_design for hood in answer.hoods if hood.open and hood.share_of_design is not None]
    if answer.system.crossings:
        facts["share of design", name, ""] = min(shares, default=None)
        facts["most starved", name, ""] = answer.system.most_starved_hood
        facts |= power(answer.system.shaft_power, answer.system.motor_load, name, read)
    return facts


def power(shaft: float | None, load: float | None, state: str, read: Reader) -> Facts:
    """Return shaft power and motor load as facts."""
    told = None if shaft is None else shaft * read.si["power"]
    return {("shaft power", state, ""): told, ("motor load", state, ""): load}


def balance(ask: Asking, case: Case) -> Tells:
    """Design flows by run, and what the fan must do for them."""
    read = Reader(case.document["units"])
    for state in case.states:
        answer = ask("balance", state.document, case.seed, DEAD)
        if answer is None:
            if set(ask.last) == set(DEAD):
                yield "balance", {("code", state.name, "all-gates-shut"): True}
            continue
        facts = read.runs(answer, state.name, "design ")
        facts["design total", state.name, ""] = answer.system.flow * read.si["flow"]
        required = answer.system.required
        facts["needed fan static pressure", state.name, ""] = required.fan_static_pressure * read.si["pressure"]
        facts["code", state.name, "all-gates-shut"] = False
        yield "balance", facts


def gate_states(ask: Asking, case: Case) -> Tells:
    """Named states together, and each machine alone."""
    read = Reader(case.document["units"])
    body = case.document | {"states": [state.named for state in case.states], "up_to": 1, "detail": "runs"}
    answer = ask("gate-states", body, case.seed)
    if answer is None:
        return
    number = {state.named["name"]: state for state in case.states}
    alone = {state.named["open"][0]: state for state in case.states if state.name == "alone"}
    for told in answer.states:
        if told.name in number:
            yield "gate-states", _of_state(told, number[told.name], read)
        elif told.name in alone:
            yield "gate-states, up to one machine", _of_state(told, alone[told.name], read)


def _of_state(told: Any, state: State, read: Reader) -> Facts:
    """Return what gate-states tells of one state."""
    p, name = read.si["pressure"], state.name
    facts: Facts = {("outcome", name, ""): told.outcome} | by_state(told.findings, name)
    if told.outcome == "beyond-fan-curve":
        return facts
    facts |= read.runs(told, name)
    facts["system flow", name, ""] = told.flow * read.si["flow"]
    facts["fan static pressure", name, ""] = told.fan_static_pressure * p
    facts["deepest suction", name, ""] = told.deepest_suction * p
    if told.outcome != "no-flow":
        facts["share of design", name, ""] = told.share_of_design
        facts["most starved", name, ""] = told.most_starved_hood
        facts["transport margin", name, ""] = told.transport_margin
        facts |= power(told.shaft_power, told.motor_load, name, read)
    return facts


def sizing(ask: Asking, case: Case) -> Tells:
    """Design flows and operating flows of a tree whose bores are all fixed, by named state."""
    read = Reader(case.document["units"])
    states = [state for state in case.states if not state.dead and _has_balance(ask, case, state)]
    if not states:
        return
    stock = {"ducts": [{"diameter": case.document["runs"][0]["diameter"], "price_per_length": 1.0}]}
    fixed = [run["id"] for run in case.document["runs"]]
    body = case.document | {"stock": stock, "fixed": fixed, "states": [state.named for state in states]}
    q, p = read.si["flow"], read.si["pressure"]
    for flows in ("design", "fan"):
        answer = ask("sizing", body | {"flows": flows}, case.seed)
        if answer is None:
            continue
        if answer.outcome != "sized":
            continue
        by_name = {state.name: state for state in states}
        what, facts = "design flow" if flows == "design" else "flow", {}
        for told in answer.sizes:
            facts |= {(what, at.state, told.run): at.flow * q for at in told.states}
        facts |= read.runs(answer, states[0].name, "design " if flows == "design" else "")
        for told in answer.states:
            name = by_name[told.state].name
            facts["outcome", name, ""] = told.operating_point
            facts["system flow", name, ""] = told.operating_flow * q if told.operating_flow else None
            facts["share of design", name, ""] = told.share_of_design
            facts["most starved", name, ""] = told.most_starved_hood
            if flows == "design":
                facts["design total", name, ""] = told.flow * q
                facts["needed fan static pressure", name, ""] = told.engine_fan_static_pressure * p
            else:
                facts["fan static pressure", name, ""] = told.fan_static_pressure * p
        yield f"sizing, flows by {flows}", {fact: value for fact, value in facts.items() if value is not None}


def _has_balance(ask: Asking, case: Case, state: State) -> bool:
    """Return whether a state's design flows can be balanced: one density answers only so much suction."""
    quiet = Asking()
    return quiet("balance", state.document, case.seed) is not None


def working_day(ask: Asking, case: Case) -> Tells:
    """The machines, and a day of one state: every machine of which the gates are open works all day."""
    read = Reader(case.document["units"])
    for state in case.states:
        on = machines_on(case.model, state.openings)
        if on is None or not on:
            continue
        times = [{"on": 0.0, "off": DAY}]
        body = state.document | {"machines": [{"machine": name, "times": times} for name in on], "duration": DAY}
        answer = ask("working-day", body, case.seed)
        if answer is None:
            continue
        facts: Facts = {("machine", "", row.machine): (frozenset(row.hoods), frozenset(row.gates))
                        for row in answer.machines}  # fmt: skip
        (told,) = [step for step in answer.timeline if step.fan_on]
        facts["outcome", state.name, ""] = told.outcome
        if told.outcome != "beyond-fan-curve":
            facts |= read.runs(answer, state.name)
            facts["system flow", state.name, ""] = told.flow * read.si["flow"]
            facts |= by_run(answer.findings, state.name, case.model.into, ("below-transport-velocity",))
            working = [hood for name in on for hood in case.model.machines[name].hoods]
            facts |= by_run(answer.findings, state.name, working, ("hood-starved",))
            facts |= _of_motor(told, state, case, read)
        codes = ("all-gates-shut", "fan-beyond-curve", "several-operating-points")
        facts |= by_state((item.code for item in answer.findings), state.name, codes)
        yield "working-day", facts


def _of_motor(told: Any, state: State, case: Case, read: Reader) -> Facts:
    """Return the shaft power that the motor's power means."""
    motor = case.document["collector"].get("motor")
    if told.power is None or motor is None or told.outcome == "no-flow":
        return {}
    return {("shaft power", state.name, ""): told.power * read.si["power"] * motor["efficiency"]}


def machines_on(model: oracle.Model, openings: oracle.Openings) -> list[str] | None:
    """Return the machines whose gates all stand open, those without gates too; None where one's stand both ways."""
    out = []
    for name, machine in model.machines.items():
        stand = {openings[gate] >= oracle.SHUT_BELOW for gate in machine.gates}
        if len(stand) == 2:
            return None
        if stand != {False}:
            out.append(name)
    return out


def strength(ask: Asking, case: Case) -> Tells:
    """Suction in each state, told as the document's own, and the danger of each named state."""
    read = Reader(case.document["units"])
    body = case.document | {"states": [state.named for state in case.states]}
    answer = ask("strength", body, case.seed)
    if answer is not None:
        codes = ("all-gates-shut", "fan-beyond-curve", "several-operating-points")
        for state in case.states:
            yield "strength, named states", by_state(
                (item.code for item in answer.findings if item.state == state.name), state.name, codes
            )
    changing = {run["id"] for run in case.document["runs"] if _changes(run)}
    for state in case.states:
        answer = ask("strength", state.document, case.seed)
        if answer is None:
            continue
        facts = read.runs(answer, state.name) | read.whole(answer, state.name)
        for told in answer.strengths:
            if told.suction is not None and told.run not in changing:
                facts["suction", state.name, told.run] = told.suction * read.si["pressure"]
        facts |= {
            ("suction", state.name, run.id): max(-run.static_pressure, 0.0) * read.si["pressure"]
            for run in answer.runs
            if run.id not in changing
        } if not answer.strengths else {}
        yield "strength", facts


def _changes(run: Document) -> bool:
    """Return whether a run's bore changes inside it: its deepest suction is then in the narrower part."""
    return any(fitting["type"] == "taper" for fitting in run.get("fittings", ()))


def make_up_air(ask: Asking, case: Case) -> Tells:
    """The exhaust: of the fan, and without one of the design flows."""
    read = Reader(case.document["units"])
    room = {"collector_stands": "outdoors", "room": {"volume": 6000.0}}
    for state in case.states:
        answer = ask("make-up-air", state.document | room, case.seed, ("fan-beyond-curve",))
        if answer is not None:
            facts = read.runs(answer, state.name) | read.whole(answer, state.name)
            facts["exhaust", state.name, ""] = answer.room.exhaust_flow * read.si["flow"]
            codes = ("all-gates-shut", "several-operating-points")
            yield "make-up-air", facts | by_state((item.code for item in answer.findings), state.name, codes)
        answer = ask("make-up-air", without_fan(state.document) | room, case.seed, DEAD)
        if answer is not None:
            flow = answer.room.exhaust_flow * read.si["flow"]
            if state.dead:
                yield "make-up-air without fan", {("design total", state.name, ""): flow}
            else:
                yield "make-up-air without fan", {("design total", state.name, ""): flow}


def without_fan(document: Document) -> Document:
    """Return the document without its collector."""
    return {name: value for name, value in document.items() if name != "collector"}


def drawing(ask: Asking, case: Case) -> Tells:
    """What the picture of the tree shows in each named state, with the fan and without."""
    read = Reader("metric")  # pictures are made in SI
    for state in case.states:
        body = case.document | {"of": "tree", "states": [state.named]}
        answer = ask("drawing", body, case.seed)
        if answer is not None:
            facts = _pictured(body, state)
            beyond = any(item.code == "fan-beyond-curve" for item in answer.findings)
            facts |= by_state((item.code for item in answer.findings), state.name)
            if not beyond:
                facts |= by_run(answer.findings, state.name, case.model.into, RUN_CODES)
            yield "drawing", facts
        body = without_fan(case.document) | {"of": "tree", "states": [state.named]}
        if ask("drawing", body, case.seed) is not None and not state.dead:
            yield "drawing without fan", {
                (f"design {what}" if what == "flow" else what, name, run): value
                for (what, name, run), value in _pictured(body, state).items()
            }
    del read


def _pictured(body: Document, state: State) -> Facts:
    """Return what stands at the runs of a picture."""
    request = units.to_si(decoded("drawing", body))
    picture, _ = of_tree.picture(request, build(request))
    facts: Facts = {}
    for run in picture.runs:
        if run.flow is not None:
            facts["flow", state.name, run.id] = run.flow
            facts["idle", state.name, run.id] = run.idle
        if run.opening is not None:
            facts["opening", state.name, run.id] = run.opening
        if run.machine and run.flow is not None and run.design_flow is not None:
            facts["open", state.name, run.id] = run.share is not None
    return facts


def compare(ask: Asking, case: Case) -> Tells:
    """Each state as the tree after, beside the document as it is."""
    read = Reader(case.document["units"])
    q, p = read.si["flow"], read.si["pressure"]
    first = case.states[0]
    for state in case.states[1:]:
        body = {"units": case.document["units"], "before": case.document, "after": state.document}
        answer = ask("compare", body, case.seed)
        if answer is None:
            continue
        facts: Facts = {}
        for side, at in (("before", first), ("after", state)):
            tree = getattr(answer, side)
            facts["outcome", at.name, ""] = tree.outcome
            if tree.outcome == "beyond-fan-curve":
                continue
            facts["system flow", at.name, ""] = tree.flow * q
            facts["fan static pressure", at.name, ""] = tree.fan_static_pressure * p
            facts["inlet static pressure", at.name, ""] = tree.inlet_static_pressure * p
            for run in answer.runs:
                told = getattr(run, side)
                facts["flow", at.name, run.id] = told.flow * q
                facts["idle", at.name, run.id] = told.idle
                facts["static pressure", at.name, run.id] = told.static_pressure * p
                facts["loss", at.name, run.id] = told.total_loss * p
            for hood in answer.hoods:
                told = getattr(hood, side)
                facts["open", at.name, hood.run] = told.open
                facts["flow of hood", at.name, hood.run] = told.flow * q
                facts["static pressure of hood", at.name, hood.run] = told.static_pressure * p
        facts |= by_state((item.code for item in answer.findings), state.name)
        if answer.after.outcome != "beyond-fan-curve":
            facts |= by_run(answer.findings, state.name, case.model.into, RUN_CODES)
        yield "compare", facts


def diagnosis(ask: Asking, case: Case) -> Tells:
    """Readings that are just what is computed; runs and hoods are of the state in which they were taken."""
    read = Reader(case.document["units"])
    for state in case.states:
        point = ask("operating-point", state.document, case.seed)
        if point is None or point.outcome != "operating-point":
            continue
        flowing = [run for run in point.runs if not run.idle]
        readings = [{"quantity": "flow", "run": flowing[0].id, "value": flowing[0].flow}]
        readings += [{"quantity": "static-pressure", "run": run.id, "value": run.static_pressure}
                     for run in flowing[:3] if run.static_pressure < 0.0]  # fmt: skip
        body = case.document | {"readings": readings, "suspects": [flowing[-1].id]}
        body["state"] = {name: value for name, value in state.named.items() if name != "name"} or "as-document"
        answer = ask("diagnosis", body, case.seed)
        if answer is not None:
            yield "diagnosis", read.runs(answer, state.name) | read.whole(answer, state.name)


TELLERS: dict[str, Teller] = {
    "operating-point": operating_point,
    "balance": balance,
    "gate-states": gate_states,
    "sizing": sizing,
    "working-day": working_day,
    "strength": strength,
    "make-up-air": make_up_air,
    "drawing": drawing,
    "compare": compare,
    "diagnosis": diagnosis,
}
RARE = ("diagnosis",)  # asked of one shop in fifty


def pool(ask: Asking, case: Case, tellers: Iterable[str]) -> Pool:
    """Return what each question tells of a case."""
    out: Pool = defaultdict(list)
    for question in tellers:
        for teller, facts in TELLERS[question](ask, case):
            for fact, value in facts.items():
                out[fact].append((teller, value))
    return out


def add(out: Pool, teller: str, facts: Facts) -> None:
    """Add a teller's facts to a pool."""
    for fact, value in facts.items():
        out[fact].append((teller, value))


__all__ = ["deepcopy", "math"]
