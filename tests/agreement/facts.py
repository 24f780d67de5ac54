"""Every question that tells something of a shop in a state of its gates, and what it tells, in one common form.

A fact is (what, state, of which run, hood or machine); a pool holds for each fact what every teller says, in SI. A
state is told to a question as a named state where it takes one, else as a document whose gates stand so.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any
from unittest import mock

import msgspec

from agreement import oracle
from agreement.shops import ALONE, Document, Shop
from airbough.calls import CALLS
from airbough_service.combined import registry
from airbough_service.questions.drawing import of_fan, of_tree
from airbough_service.questions.gate_states import fixes
from airbough_service.questions.strength import question as strength_question
from airbough_service.shop.shop import build
from airbough_service.terms import units
from airbough_service.terms.refusal import Refusal

Fact = tuple[str, str, str]
Facts = dict[Fact, Any]
Pool = dict[Fact, list[tuple[str, Any]]]
Tells = Iterator[tuple[str, Facts]]

BY_NAME = {call.name: call for call in CALLS}
AS_DOCUMENT = "as in the document"
# Factors of the presets' units, from their definitions: foot and inch, pound, water column, mechanical horsepower.
SI = {
    "us": {
        "flow": 0.3048**3 / 60.0,
        "velocity": 0.3048 / 60.0,
        "pressure": 249.08891,
        "power": 745.69987,
        "density": 0.45359237 / 0.3048**3,
        "diameter": 0.0254,
    },
    "metric": {
        "flow": 1.0 / 3600.0,
        "velocity": 1.0,
        "pressure": 1.0,
        "power": 1000.0,
        "density": 1.0,
        "diameter": 0.001,
    },
}
RUN_CODES = {
    "below-transport-velocity": "too slow",
    "needlessly-fast": "too fast",
    "hood-starved": "starved",
    "shut-off-downstream": "cut off",
}
OUTCOME_CODES = ("all-gates-shut", "fan-beyond-curve", "several-operating-points")
STATE_CODES = (*RUN_CODES, *OUTCOME_CODES, "motor-overloaded", "shut-off-not-on-curve")
NEXT_TO_NONE = 1.0e-6  # share of a flow
DEAD = ("all-gates-shut",)  # refuses a question about design flows where no hood is open
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
class Asking:
    """Asks questions and counts what was refused."""

    asked: Counter[str] = field(default_factory=Counter)
    refused: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    shops_asked: dict[str, set[int]] = field(default_factory=lambda: defaultdict(set))
    shops_refused: dict[str, set[int]] = field(default_factory=lambda: defaultdict(set))
    crashed: list[tuple[str, int, str]] = field(default_factory=list)

    def answer(self, question: str, body: Document, seed: int, expected: Iterable[str] = ()) -> tuple[Any, list[Any]]:
        """Return the answer, or None with the faults of the refusal; those of the codes expected are not counted."""
        return self.counted(question, lambda: registry.answer(question, decoded(question, body)), seed, expected)

    def counted(
        self, question: str, answering: Callable[[], Any], seed: int, expected: Iterable[str] = ()
    ) -> tuple[Any, list[Any]]:
        """Return what answers a question gives, or None with the faults of the refusal."""
        self.asked[question] += 1
        self.shops_asked[question].add(seed)
        try:
            return answering(), []
        except Refusal as refusal:
            faults = list(refusal.faults)
        except Exception as error:  # whatever it is, the other shops are looked at as well
            self.crashed.append((question, seed, f"{type(error).__name__}: {error}"))
            return None, []
        codes = {fault.code for fault in faults}
        if not codes <= set(expected):
            self.refused[question].update(codes)
            self.shops_refused[question].add(seed)
        return None, faults

    def table(self) -> str:
        """Return how often each question was asked and refused, and for which reasons."""
        lines = []
        for question in sorted(self.asked):
            share = 100.0 * self.share_answered(question)
            why = ", ".join(f"{code} {count}" for code, count in self.refused[question].most_common())
            lines.append(
                f"{question:>16}: asked {self.asked[question]}, of {share:.1f} % of the shops all; {why or '-'}"
            )
        return "\n".join(lines)

    def share_answered(self, question: str) -> float:
        """Return the share of the shops asked about in which the question answered every time."""
        return 1.0 - len(self.shops_refused[question]) / max(len(self.shops_asked[question]), 1)


@dataclass(slots=True)
class Case:
    """One document with its states, and who asks about it; what several tellers need is asked once."""

    seed: int
    document: Document
    model: oracle.Model
    states: list[State]
    asking: Asking
    kept: dict[tuple[str, str], tuple[Any, list[Any]]] = field(default_factory=dict)

    @property
    def has_leaks(self) -> bool:
        """Whether some joint leaks."""
        return any("leak" in run or "leakage_class" in run for run in self.document["runs"])

    @property
    def tapered(self) -> set[str]:
        """Runs whose bore changes inside them."""
        return {
            run["id"]
            for run in self.document["runs"]
            if any(fitting["type"] == "taper" for fitting in run.get("fittings", ()))
        }

    def ask(self, question: str, body: Document, expected: Iterable[str] = ()) -> Any:
        """Return the answer, None where refused."""
        return self.asking.answer(question, body, self.seed, expected)[0]

    def in_state(self, question: str, state: State, expected: Iterable[str] = ()) -> tuple[Any, list[Any]]:
        """Return the answer to a question about the document as it stands in a state, or the faults; asked once."""
        key = (question, state.name)
        if key not in self.kept:
            self.kept[key] = self.asking.answer(question, state.document, self.seed, expected)
        return self.kept[key]

    def point(self, state: State) -> Any:
        """Return the operating point in a state, None where it is refused or beyond the fan's curve."""
        answer, _ = self.in_state("operating-point", state)
        return None if answer is None or answer.outcome == "beyond-fan-curve" else answer


def case(shop: Shop, asking: Asking, document: Document | None = None, states: list[Document] | None = None) -> Case:
    """Return a shop's case: the document as it is, then its named states.

    Args:
        shop: drawn.
        asking: counts.
        document: in place of the shop's own.
        states: in place of the shop's own.
    """
    body = shop.document if document is None else document
    model = oracle.read(body)
    named = [{"name": AS_DOCUMENT}, *(shop.states if states is None else states)]
    return Case(shop.seed, body, model, [_state(model, one) for one in named], asking)


def _state(model: oracle.Model, named: Document) -> State:
    openings = model.openings(named)
    written = model.written(openings)
    return State(named["name"], named, openings, written, model.open_hoods(openings), model.served(openings))


def decoded(question: str, body: Document) -> Any:
    """Return a body as the question's request, as it comes over HTTP."""
    return msgspec.json.decode(msgspec.json.encode(body), type=BY_NAME[question].request)


class Reader:
    """Reads answers of one preset into facts in SI."""

    def __init__(self, case: Case) -> None:
        self.si = SI[case.document["units"]]
        self.tapered = case.tapered

    def runs(self, answer: Any, state: str, prefix: str = "") -> Facts:
        """Return what `runs` and `hoods` tell; `prefix`: of design flows."""
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

    def suctions(self, answer: Any, state: str) -> Facts:
        """Return the suction of each run of one bore, from its static pressure."""
        return {
            ("suction", state, run.id): max(-run.static_pressure, 0.0) * self.si["pressure"]
            for run in answer.runs
            if run.id not in self.tapered
        }

    def whole(self, answer: Any, state: str) -> Facts:
        """Return what `system` tells of an operating point, where there is one."""
        if answer.system is None:
            return {}
        return {
            ("system flow", state, ""): answer.system.flow * self.si["flow"],
            ("inlet static pressure", state, ""): times(answer.system.inlet_static_pressure, self.si["pressure"]),
        }

    def power(self, shaft: float | None, load: float | None, state: str) -> Facts:
        """Return shaft power and motor load."""
        return {("shaft power", state, ""): times(shaft, self.si["power"]), ("motor load", state, ""): load}


def times(value: float | None, factor: float) -> float | None:
    """Return a value in SI; None where it is not told."""
    return None if value is None else value * factor


def by_run(findings: Iterable[Any], state: str, runs: Iterable[str], codes: Iterable[str]) -> Facts:
    """Return by run whether there is a finding of each code."""
    found = {(item.code, item.run) for item in findings}
    return {(RUN_CODES[code], state, run): (code, run) in found for code in codes for run in runs}


def by_state(codes: Iterable[str], state: str, judged: Iterable[str] = STATE_CODES) -> Facts:
    """Return whether a state has a finding of each code."""
    found = set(codes)
    return {("code", state, code): code in found for code in judged}


def verdicts(findings: Iterable[Any], state: State, case: Case, *, named: bool) -> Facts:
    """Return every verdict of a state's findings; `named`: the question was told the state by its name.

    Only a question that knows the names knows that a machine without gates is meant to run, so that what cuts such a
    machine off is compared among those questions alone.
    """
    found = list(findings)
    codes = [code for code in RUN_CODES if code != "shut-off-downstream"]
    facts = by_run(found, state.name, case.model.into, codes)
    gated = {own.hoods[0] for own in case.model.machines.values() if own.gates}
    first = {own.hoods[0] for own in case.model.machines.values()}
    facts |= by_run(found, state.name, first if named else gated, ("shut-off-downstream",))
    return facts


def operating_point(case: Case) -> Tells:
    """What flows, asked of the document as it stands in each state."""
    read = Reader(case)
    for state in case.states:
        answer, _ = case.in_state("operating-point", state)
        if answer is None:
            continue
        facts: Facts = {("outcome", state.name, ""): answer.outcome}
        facts |= by_state((item.code for item in answer.findings), state.name, _comparable(state, case))
        if answer.outcome != "beyond-fan-curve":
            facts |= _point(answer, state, case, read)
        yield "operating-point", facts


def _comparable(state: State, case: Case) -> list[str]:
    """Return the codes that every question can tell of a state, however it is told it."""
    ungated = {word for word in state.named.get("open") or () if not _gates(word, case)}
    return [code for code in STATE_CODES if not (ungated and code == "shut-off-downstream")]


def _gates(word: str, case: Case) -> list[str]:
    """Return the gates that a word moves."""
    machine = case.model.machine(word)
    return [word] if machine is None else case.model.machines[machine].gates


def _point(answer: Any, state: State, case: Case, read: Reader) -> Facts:
    """Return the facts of a known operating point."""
    p, name = read.si["pressure"], state.name
    facts = read.runs(answer, name) | read.whole(answer, name) | read.suctions(answer, name)
    facts |= verdicts(answer.findings, state, case, named=False)
    facts["fan static pressure", name, ""] = times(answer.system.fan_static_pressure, p)
    facts["deepest suction", name, ""] = max((-run.static_pressure * p for run in answer.runs), default=None)
    facts["exhaust", name, ""] = answer.system.flow * read.si["flow"]
    facts["leaks enter", name, ""] = _leaks_enter(answer)
    if answer.system.crossings:
        shares = [hood.share_of_design for hood in answer.hoods if hood.open and hood.share_of_design is not None]
        facts["share of design", name, ""] = min(shares, default=None)
        facts["most starved", name, ""] = answer.system.most_starved_hood
        facts |= read.power(answer.system.shaft_power, answer.system.motor_load, name)
    return facts


def _leaks_enter(answer: Any) -> bool:
    """Return whether more leaves the tree than its hoods take in."""
    hoods = sum(hood.flow for hood in answer.hoods)
    return bool(answer.system.flow > hoods * (1.0 + 1.0e-7))


def balance(case: Case) -> Tells:
    """Design flows by run, and what the fan must do for them."""
    read = Reader(case)
    for state in case.states:
        answer, faults = case.in_state("balance", state, DEAD)
        if answer is None:
            if {fault.code for fault in faults} == set(DEAD):
                yield "balance", {("code", state.name, "all-gates-shut"): True}
            continue
        facts = read.runs(answer, state.name, "design ")
        facts["design total", state.name, ""] = answer.system.flow * read.si["flow"]
        facts["leaks enter", state.name, ""] = _leaks_enter(answer)
        needed = answer.system.required.fan_static_pressure
        facts["needed fan static pressure", state.name, ""] = needed * read.si["pressure"]
        facts["code", state.name, "all-gates-shut"] = False
        yield "balance", facts


def gate_states(case: Case) -> Tells:
    """Named states together, and each machine alone."""
    read = Reader(case)
    body = case.document | {"states": [state.named for state in case.states], "detail": "runs"}
    if any(own.gates for own in case.model.machines.values()):
        body["up_to"] = 1
    with mock.patch.object(fixes, "most_sets", return_value=1):  # what fixes a state is not compared, and takes long
        answer = case.ask("gate-states", body)
    if answer is None:
        return
    number = {state.name: state for state in case.states}
    alone = {case.model.machine(state.named["open"][0]): state for state in case.states if state.name == ALONE}
    for told in answer.states:
        if told.name in number:
            yield "gate-states", _of_state(told, number[told.name], case, read)
        elif told.name in alone:
            yield "gate-states, up to one machine", _of_state(told, alone[told.name], case, read)


def _of_state(told: Any, state: State, case: Case, read: Reader) -> Facts:
    """Return what gate-states tells of one state."""
    p, name = read.si["pressure"], state.name
    facts: Facts = {("outcome", name, ""): told.outcome, ("stand open", name, ""): frozenset(told.open)}
    facts |= by_state(told.findings, name, _comparable(state, case))
    if told.outcome == "beyond-fan-curve":
        return facts
    facts |= read.runs(told, name) | read.suctions(told, name)
    facts["system flow", name, ""] = told.flow * read.si["flow"]
    facts["fan static pressure", name, ""] = times(told.fan_static_pressure, p)
    facts["deepest suction", name, ""] = times(told.deepest_suction, p)
    if told.outcome != "no-flow":
        facts["share of design", name, ""] = told.share_of_design
        facts["most starved", name, ""] = told.most_starved_hood
        facts["transport margin", name, ""] = told.transport_margin
        facts |= read.power(told.shaft_power, told.motor_load, name)
    return facts


def sizing(case: Case) -> Tells:
    """Design flows and operating flows of a tree whose bores are all fixed, by named state."""
    states = [state for state in case.states if case.in_state("balance", state, DEAD)[0] is not None]
    if not states:
        return
    stock = {"ducts": [{"diameter": case.document["runs"][0]["diameter"], "price_per_length": 1.0}]}
    fixed = [run["id"] for run in case.document["runs"]]
    body = case.document | {"stock": stock, "fixed": fixed, "states": [state.named for state in states]}
    flows = ("design", "fan")[case.seed % 2]  # one of the two a shop, for time
    answer = case.ask("sizing", body | {"flows": flows})
    if answer is not None and answer.outcome == "sized":
        yield f"sizing, flows by {flows}", _of_sizing(answer, flows, states[0], case)


def _of_sizing(answer: Any, flows: str, first: State, case: Case) -> Facts:
    """Return what sizing tells of every state."""
    read, design = Reader(case), flows == "design"
    q, p = read.si["flow"], read.si["pressure"]
    facts = read.runs(answer, first.name, "design " if design else "")
    # Flows are with what is allowed for leaks, a little more than leaks in.
    allowing = design and any((told.leak_allowance or 0.0) > NEXT_TO_NONE * told.flow for told in answer.states)
    for run in answer.sizes if not allowing else ():
        facts |= {("design flow" if design else "flow", at.state, run.run): at.flow * q for at in run.states}
    for told in answer.states:
        facts["outcome", told.state, ""] = told.operating_point
        if told.operating_flow is not None and told.operating_point != "beyond-fan-curve":
            facts["system flow", told.state, ""] = told.operating_flow * q
            facts["share of design", told.state, ""] = told.share_of_design
            facts["most starved", told.state, ""] = told.most_starved_hood
        if allowing:
            facts["needed fan static pressure", told.state, ""] = told.engine_fan_static_pressure * p
        elif design:
            facts["design total", told.state, ""] = told.flow * q
            facts["needed fan static pressure", told.state, ""] = told.engine_fan_static_pressure * p
        else:
            facts["fan static pressure", told.state, ""] = told.fan_static_pressure * p
    return facts


def working_day(case: Case) -> Tells:
    """The machines, and a day of one state: every machine of which the gates are open works all day."""
    for state in case.states:
        on = machines_on(case.model, state.openings)
        if not on:
            continue
        times = [{"on": 0.0, "off": DAY}]
        body = state.document | {"machines": [{"machine": name, "times": times} for name in on], "duration": DAY}
        answer = case.ask("working-day", body)
        if answer is not None:
            yield "working-day", _of_day(answer, state, on, case)


def _of_day(answer: Any, state: State, on: list[str], case: Case) -> Facts:
    """Return what a day of one state tells of it, and who is a machine."""
    read, name = Reader(case), state.name
    facts: Facts = {
        ("machine", "", row.machine): (frozenset(row.hoods), frozenset(row.gates)) for row in answer.machines
    }
    (told,) = [step for step in answer.timeline if step.fan_on]
    facts["outcome", name, ""] = told.outcome
    facts |= by_state((item.code for item in answer.findings), name, OUTCOME_CODES)
    if told.outcome == "beyond-fan-curve":
        return facts
    facts |= read.runs(answer, name) | read.suctions(answer, name)
    facts["system flow", name, ""] = told.flow * read.si["flow"]
    facts |= by_run(answer.findings, name, case.model.into, ("below-transport-velocity",))
    working = [hood for machine in on for hood in case.model.machines[machine].hoods]
    facts |= by_run(answer.findings, name, working, ("hood-starved",))
    motor = case.document["collector"].get("motor")
    if told.power is not None and motor is not None and told.outcome != "no-flow":
        facts["shaft power", name, ""] = told.power * read.si["power"] * motor["efficiency"]
    return facts


def machines_on(model: oracle.Model, openings: oracle.Openings) -> list[str]:
    """Return the machines whose gates all stand open, those without gates too; none where one's stand both ways."""
    out = []
    for name, machine in model.machines.items():
        stand = {openings[gate] >= oracle.SHUT_BELOW for gate in machine.gates}
        if len(stand) == 2:
            return []
        if stand != {False}:
            out.append(name)
    return out


def strength(case: Case) -> Tells:
    """Suction in each named state, and in each told as the document's own."""
    read = Reader(case)
    body = case.document | {"states": [state.named for state in case.states]}
    seen: list[Any] = []
    wrapped = _kept(strength_question.suctions, seen)
    with mock.patch.object(strength_question, "suctions", wrapped):  # only the worst of all states is answered
        answer = case.ask("strength", body)
    if answer is not None:
        for state, deep in zip(case.states, seen[1:], strict=True):
            found = [item for item in answer.findings if item.state == state.name]
            facts = by_state((item.code for item in found), state.name, OUTCOME_CODES)
            if deep is not None:
                pairs = zip(case.document["runs"], deep, strict=True)
                facts |= {("suction", state.name, run["id"]): suction for run, suction in pairs
                          if run["id"] not in case.tapered}  # fmt: skip
            yield "strength, named states", facts
    for state in case.states:
        answer = case.ask("strength", state.document)
        if answer is not None:
            facts = read.runs(answer, state.name) | read.whole(answer, state.name)
            facts |= {("suction", state.name, told.run): told.suction * read.si["pressure"]
                      for told in answer.strengths
                      if told.suction is not None and told.run not in case.tapered}  # fmt: skip
            yield "strength", facts


def _kept(function: Callable[..., Any], results: list[Any]) -> Callable[..., Any]:
    """Return the function, its results kept."""

    def wrapped(*arguments: Any) -> Any:
        results.append(function(*arguments))
        return results[-1]

    return wrapped


def make_up_air(case: Case) -> Tells:
    """The exhaust: of the fan, and without one of the design flows."""
    read = Reader(case)
    room = {"collector_stands": "outdoors", "room": {"volume": 6000.0}}
    for state in case.states:
        answer = case.ask("make-up-air", state.document | room, ("fan-beyond-curve",))
        if answer is not None:
            facts = read.runs(answer, state.name) | read.whole(answer, state.name)
            facts["exhaust", state.name, ""] = answer.room.exhaust_flow * read.si["flow"]
            codes = ("all-gates-shut", "several-operating-points")
            yield "make-up-air", facts | by_state((item.code for item in answer.findings), state.name, codes)
        answer = case.ask("make-up-air", without_fan(state.document) | room, DEAD)
        if answer is not None and not state.dead:
            flow = answer.room.exhaust_flow * read.si["flow"]
            yield "make-up-air without fan", {("design total", state.name, ""): flow}


def without_fan(document: Document) -> Document:
    """Return the document without its collector."""
    return {name: value for name, value in document.items() if name != "collector"}


def drawing(case: Case) -> Tells:
    """What the pictures show: the tree in each named state, with the fan and without; the fan with every state."""
    body = case.document | {"of": "tree", "states": [case.states[case.seed % len(case.states)].named]}
    case.ask("drawing", body)  # once as a caller would: the picture as text takes long
    for state in case.states:
        yield from _drawn_tree(case, state)
        if not state.dead:
            yield from _drawn_design(case, state)
    yield from _drawn_fan(case)


def _drawn(case: Case, body: Document, of: Any) -> tuple[Any, Any]:
    """Return a picture before it is written as text, in SI, and its findings; nothing where refused."""
    request = units.to_si(decoded("drawing", body))
    found, _ = case.asking.counted("drawing", lambda: of.picture(request, build(request)), case.seed)
    return (None, ()) if found is None else found


def _drawn_tree(case: Case, state: State) -> Tells:
    """Yield what the picture of the tree shows of one named state."""
    picture, findings = _drawn(case, case.document | {"of": "tree", "states": [state.named]}, of_tree)
    if picture is not None:
        facts = _pictured(picture, state, case)
        facts |= by_state((item.code for item in findings), state.name)
        if all(item.code != "fan-beyond-curve" for item in findings):
            facts |= verdicts(findings, state, case, named=True)
        yield "drawing", facts


def _drawn_design(case: Case, state: State) -> Tells:
    """Yield what the picture of the tree without its fan shows: design flows."""
    picture, _ = _drawn(case, without_fan(case.document) | {"of": "tree", "states": [state.named]}, of_tree)
    if picture is not None:
        facts = _pictured(picture, state, case).items()
        renamed = {("design flow" if what == "flow" else what, name, run): told for (what, name, run), told in facts}
        yield "drawing without fan", renamed


def _pictured(picture: Any, state: State, case: Case) -> Facts:
    """Return what stands at the runs of a picture."""
    facts: Facts = {}
    for run in picture.runs:
        if run.flow is not None:
            facts["flow", state.name, run.id] = run.flow
            facts["idle", state.name, run.id] = run.idle
            if run.id in case.model.machine_of_hood:
                facts["open", state.name, run.id] = run.share is not None
        if run.opening is not None:
            facts["opening", state.name, run.id] = run.opening
    return facts


def _drawn_fan(case: Case) -> Tells:
    """Yield what the fan's diagram shows of every named state."""
    body = case.document | {"of": "fan", "states": [state.named for state in case.states]}
    with mock.patch.object(of_fan, "_needed", return_value=()):  # the curves between the crossings
        picture, findings = _drawn(case, body, of_fan)
    for state, drawn in zip(case.states, picture.states[1:] if picture else (), strict=picture is not None):
        codes = (item.code for item in findings if item.state == state.name)
        facts = by_state(codes, state.name, OUTCOME_CODES)
        stable = [crossing for crossing in drawn.crossings if crossing.stable]
        if stable:
            facts["system flow", state.name, ""] = stable[0].flow
            facts["fan static pressure", state.name, ""] = stable[0].pressure
        yield "drawing of the fan", facts


def compare(case: Case) -> Tells:
    """Each state as the tree after, beside the document as it is."""
    first = case.states[0]
    for state in case.states[1:]:
        body = {"units": case.document["units"], "before": case.document, "after": state.document}
        answer = case.ask("compare", body)
        if answer is None:
            continue
        facts = _side(answer, "before", first, case) | _side(answer, "after", state, case)
        facts |= by_state((item.code for item in answer.findings), state.name, _comparable(state, case))
        if answer.after.outcome != "beyond-fan-curve":
            facts |= verdicts(answer.findings, state, case, named=False)
        yield "compare", facts


def _side(answer: Any, side: str, state: State, case: Case) -> Facts:
    """Return what a comparison tells of one of its trees."""
    si, name = SI[case.document["units"]], state.name
    q, p, tree = si["flow"], si["pressure"], getattr(answer, side)
    facts: Facts = {("outcome", name, ""): tree.outcome}
    if tree.outcome == "beyond-fan-curve":
        return facts
    facts["system flow", name, ""] = tree.flow * q
    facts["fan static pressure", name, ""] = times(tree.fan_static_pressure, p)
    facts["inlet static pressure", name, ""] = times(tree.inlet_static_pressure, p)
    for run in answer.runs:
        told = getattr(run, side)
        if told is None:
            continue
        facts["flow", name, run.id] = told.flow * q
        facts["idle", name, run.id] = told.idle
        facts["static pressure", name, run.id] = told.static_pressure * p
        facts["loss", name, run.id] = told.total_loss * p
    for hood in answer.hoods:
        told = getattr(hood, side)
        if told is None:
            continue
        facts["open", name, hood.run] = told.open
        facts["flow of hood", name, hood.run] = told.flow * q
        facts["static pressure of hood", name, hood.run] = told.static_pressure * p
    return facts


def diagnosis(case: Case) -> Tells:
    """Readings that are just what is computed; runs and hoods are of the state in which they were taken."""
    read = Reader(case)
    for state in case.states:
        body = readings(case, state)
        answer = None if body is None else case.ask("diagnosis", body)
        if answer is not None:
            yield "diagnosis", read.runs(answer, state.name) | read.whole(answer, state.name)


def readings(case: Case, state: State) -> Document | None:
    """Return a diagnosis of readings that the operating point of a state tells; None where it tells none."""
    point = case.point(state)
    flowing = [] if point is None else [run for run in point.runs if not run.idle and run.static_pressure < 0.0]
    if not flowing:
        return None
    taken: list[Document] = [{"quantity": "flow", "run": flowing[0].id, "value": flowing[0].flow}]
    taken += [{"quantity": "static-pressure", "run": run.id, "value": run.static_pressure} for run in flowing[:3]]
    named = {name: value for name, value in state.named.items() if name != "name"}
    return case.document | {"readings": taken, "suspects": [flowing[-1].id], "state": named or "as-document"}


TELLERS: dict[str, Callable[[Case], Tells]] = {
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


def pool(case: Case, tellers: Iterable[str]) -> Pool:
    """Return what each question tells of a case."""
    out: Pool = defaultdict(list)
    for question in tellers:
        for teller, facts in TELLERS[question](case):
            add(out, teller, facts)
    return out


def add(out: Pool, teller: str, facts: Facts) -> None:
    """Add a teller's facts to a pool."""
    for fact, value in facts.items():
        out[fact].append((teller, value))
