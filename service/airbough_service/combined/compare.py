"""POST /v1/trees/compare: two trees by run id, and several fans on both."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias, TypeVar

from msgspec import structs

from airbough.wire.answer import (
    Finding,
    HoodResult,
    RunResult,
)
from airbough.wire.balance import (
    BalanceAnswer,
    BalanceRequest,
)
from airbough.wire.collector import Collector
from airbough.wire.compare import (
    CompareAnswer,
    ComparedTree,
    CompareQuestion,
    CompareRequest,
    FanCompared,
    HoodCompared,
    HoodDifference,
    HoodValues,
    RunCompared,
    RunDifference,
    RunValues,
)
from airbough.wire.operating_point import (
    OperatingPointAnswer,
    OperatingPointRequest,
)
from airbough.wire.problem import Fault
from airbough.wire.tree import Tree
from airbough_service.questions import (
    balance,
    operating_point,
)
from airbough_service.terms.finding import ordered
from airbough_service.terms.refusal import Refusal

Side: TypeAlias = OperatingPointAnswer | BalanceAnswer
Answered = TypeVar("Answered")


def answer(request: CompareRequest) -> CompareAnswer:
    """Answer the question in SI.

    Raises:
        Refusal: with every fault of both trees, each path beginning with `before` or `after`.
    """
    question = _question(request)
    _plain(request)
    before, after = _both(request, lambda tree: _side(request, tree, question))
    runs_before, runs_after = ({run.id for run in tree.runs} for tree in (request.before, request.after))
    gained, lost = _changed(before.findings, after.findings)
    return CompareAnswer(
        engine=after.engine,
        units={},
        preset=request.units,
        question=question,
        before=_tree(before),
        after=_tree(after),
        runs=_runs(request, before, after),
        hoods=_hoods(before, after),
        runs_added=tuple(run.id for run in request.after.runs if run.id not in runs_before),
        runs_removed=tuple(run.id for run in request.before.runs if run.id not in runs_after),
        findings=after.findings,
        findings_gained=gained,
        findings_lost=lost,
        sources=tuple({source.id: source for source in (*before.sources, *after.sources)}.values()),
        cautions=tuple(dict.fromkeys((*before.cautions, *after.cautions))),
        fans=_fans(request),
    )


def _question(request: CompareRequest) -> CompareQuestion:
    """Return what is asked of both trees."""
    if request.question is not None:
        return request.question
    both = all(
        tree.collector is not None and tree.collector.fan is not None for tree in (request.before, request.after)
    )
    return "operating-point" if both else "balance"


def _plain(request: CompareRequest) -> None:
    """Refuse what belongs to a question about one tree."""
    faults = [
        Fault(path=f"{name}.{field}", code="not-for-this-question", detail="ask it of each tree on its own")
        for name, tree in (("before", request.before), ("after", request.after))
        for field in ("resolved", "explain", "uncertainty")
        if getattr(tree, field)
    ]
    if faults:
        raise Refusal("not-computable", faults)


def _both(request: CompareRequest, ask: Callable[[Tree], Answered]) -> tuple[Answered, Answered]:
    """Ask both trees; refuse with the faults of both."""
    out: list[Answered] = []
    faults: list[Fault] = []
    kinds = []
    for name, tree in (("before", request.before), ("after", request.after)):
        try:
            out.append(ask(structs.replace(tree, units=request.units)))
        except Refusal as refusal:
            kinds.append(refusal.kind)
            for fault in refusal.faults:
                own = not fault.path.startswith("fans[")
                faults.append(structs.replace(fault, path=f"{name}.{fault.path}" if own else fault.path))
    if faults:
        raise Refusal(kinds[0] if len(set(kinds)) == 1 else "not-a-duct-tree", faults)
    return out[0], out[1]


def _side(request: CompareRequest, tree: Tree, question: CompareQuestion) -> Side:
    """Answer one tree."""
    fields = {name: getattr(tree, name) for name in Tree.__struct_fields__}
    if question == "balance":
        return balance.answer(BalanceRequest(**fields))
    return operating_point.answer(OperatingPointRequest(**fields))


def _tree(side: Side) -> ComparedTree:
    """Return one tree as a whole."""
    if isinstance(side, OperatingPointAnswer):
        pressure = side.system.fan_static_pressure
    else:
        pressure = side.system.required.fan_static_pressure
    return ComparedTree(
        name=side.name,
        air=side.air,
        outcome=side.outcome if isinstance(side, OperatingPointAnswer) else None,
        flow=side.system.flow,
        fan_static_pressure=pressure,
        inlet_static_pressure=side.system.inlet_static_pressure,
        friction=side.engine.friction,
        junctions=side.engine.junctions,
    )


def _runs(request: CompareRequest, before: Side, after: Side) -> tuple[RunCompared, ...]:
    """Return every run id, those of the tree after first."""
    old, new = ({run.id: run for run in side.runs} for side in (before, after))
    ids = dict.fromkeys([run.id for run in request.after.runs] + [run.id for run in request.before.runs])
    return tuple(_run(word, old.get(word), new.get(word)) for word in ids)


def _run(word: str, old: RunResult | None, new: RunResult | None) -> RunCompared:
    """Return one run in both trees."""
    difference = None
    if old is not None and new is not None:
        names = ("flow", "velocity", "total_loss", "static_pressure")
        difference = RunDifference(**{name: getattr(new, name) - getattr(old, name) for name in names})
    return RunCompared(id=word, before=_values(old), after=_values(new), difference=difference)


def _values(run: RunResult | None) -> RunValues | None:
    if run is None:
        return None
    return RunValues(
        flow=run.flow,
        velocity=run.velocity,
        total_loss=run.total_loss,
        static_pressure=run.static_pressure,
        idle=run.idle,
    )


def _hoods(before: Side, after: Side) -> tuple[HoodCompared, ...]:
    """Return every hood by the id of its run."""
    old, new = ({hood.run: hood for hood in side.hoods} for side in (before, after))
    return tuple(_hood(word, old.get(word), new.get(word)) for word in dict.fromkeys([*new, *old]))


def _hood(word: str, old: HoodResult | None, new: HoodResult | None) -> HoodCompared:
    """Return one hood in both trees."""
    difference, known = None, new if new is not None else old
    if old is not None and new is not None:
        shares = (old.share_of_design, new.share_of_design)
        difference = HoodDifference(
            flow=new.flow - old.flow,
            static_pressure=new.static_pressure - old.static_pressure,
            share_of_design=None if shares[0] is None or shares[1] is None else shares[1] - shares[0],
        )
    machine = None if known is None else known.machine
    return HoodCompared(run=word, machine=machine, before=_own(old), after=_own(new), difference=difference)


def _own(hood: HoodResult | None) -> HoodValues | None:
    if hood is None:
        return None
    return HoodValues(
        flow=hood.flow, static_pressure=hood.static_pressure, open=hood.open, share_of_design=hood.share_of_design
    )


def _changed(
    before: tuple[Finding, ...], after: tuple[Finding, ...]
) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """Return findings gained and lost; a finding is the same where code, run and quantity are, wherever it stands."""

    def keyed(findings: tuple[Finding, ...]) -> dict[tuple[str, str | None, str | None, str], Finding]:
        return {(one.code, one.run, one.quantity, _piece(one)): one for one in findings}

    old, new = keyed(before), keyed(after)
    gained = [one for key, one in new.items() if key not in old]
    lost = [one for key, one in old.items() if key not in new]
    return ordered(gained), ordered(lost)


def _piece(finding: Finding) -> str:
    """Return the part of a finding's path that does not depend on the order of the rows."""
    return (finding.at or "").partition("]")[2]


def _fans(request: CompareRequest) -> tuple[FanCompared, ...]:
    """Return each fan on both trees; the losses that a fan's curve does not include are the tree's own."""
    if not request.fans:
        return ()

    def tried(tree: Tree) -> OperatingPointAnswer:
        fields = {name: getattr(tree, name) for name in Tree.__struct_fields__}
        collector = structs.replace(tree.collector or Collector(), fan=request.fans[0].fan)
        fields["collector"] = collector
        return operating_point.answer(OperatingPointRequest(**fields, fans=request.fans))

    before, after = _both(request, tried)
    pairs = zip(request.fans, before.fans, after.fans, strict=True)
    return tuple(FanCompared(fan=fan.name, before=old, after=new) for fan, old, new in pairs)
