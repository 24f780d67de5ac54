"""The chapter of one state of the gates: what works first, what each machine gets, every run, what to change."""

from __future__ import annotations

from collections import Counter

from airbough.report import findings
from airbough.report.blocks import Bar, Bars, Block, Chapter, Paragraph, Table
from airbough.report.words import bare, counted, heading, listed, percent, plain, quantity, rule, short
from airbough.wire.answer import HoodResult, RunResult, TreeAnswer
from airbough.wire.balance import BalanceAnswer
from airbough.wire.diagnosis import DiagnosisAnswer
from airbough.wire.gate_states import GateStatesAnswer
from airbough.wire.operating_point import OperatingPointAnswer
from airbough.wire.quantity import printed

_OUTCOMES = {
    "operating-point": "The fan moves {flow} against {pressure} of fan static pressure.",
    "several-operating-points": "The fan may move one of several flows; the least is {flow} at {pressure}.",
    "beyond-fan-curve": "The crossing lies beyond the given fan curve; nothing is extrapolated.",
    "no-flow": "No air flows: every gate is shut.",
}
_CARRYING = {"holds": "holds", "settles": "chips will settle"}


def chapter(answer: TreeAnswer) -> Chapter:
    """Return the state that a tree answer tells."""
    blocks: list[Block] = [Paragraph(words) for words in (_outcome(answer), _state(answer), summary(answer)) if words]
    bars = [_bar(hood, answer) for hood in answer.hoods if hood.open and hood.share_of_design is not None]
    if bars:
        blocks.append(Bars(bars))
    if answer.hoods:
        blocks.append(_hoods(answer))
    if answer.runs:
        blocks += _runs(answer)
    blocks += findings.blocks(answer.findings, answer.units) or [Paragraph("Every check that was made holds.")]
    return Chapter("The air", blocks)


def _outcome(answer: TreeAnswer) -> str:
    """Return the outcome as a sentence, where the answer has one."""
    units = answer.units
    if isinstance(answer, OperatingPointAnswer):
        flow = quantity(answer.system.flow or 0.0, units, "flow")
        pressure = quantity(answer.system.fan_static_pressure or 0.0, units, "pressure")
        return _OUTCOMES.get(answer.outcome, answer.outcome).format(flow=flow, pressure=pressure)
    if isinstance(answer, BalanceAnswer):
        need = answer.system.required
        flow, pressure = quantity(need.flow, units, "flow"), quantity(need.fan_static_pressure, units, "pressure")
        return f"At design flows the fan must move {flow} against {pressure} of fan static pressure."
    return ""


def _state(answer: TreeAnswer) -> str:
    """Return which state the tables are of, where the answer looks at several."""
    if isinstance(answer, GateStatesAnswer) and answer.runs:
        return f"The tables show the gates as in: {answer.system.state}."
    if isinstance(answer, DiagnosisAnswer):
        return "The tables show what is computed from the document, without any of the causes."
    return ""


def summary(answer: TreeAnswer) -> str:
    """Return what works, then what does not."""
    judged = [run for run in answer.runs if run.carrying is not None]
    served = [hood for hood in answer.hoods if hood.served is not None]
    works, fails = [], []
    if served:
        held = [hood for hood in served if hood.served == "holds"]
        works.append(f"air enough at {len(held)} of {counted(len(served), 'open hood')}")
        names = Counter(name(hood) for hood in served)
        for hood in served:
            if hood not in held:
                where = f" at {hood.run}" if names[name(hood)] > 1 else ""
                fails.append(f"{name(hood)}{where} {short(hood.share_of_design or 0.0)}")
    if judged:
        carried = [run for run in judged if run.carrying == "holds"]
        works.append(f"dust carried in {len(carried)} of {counted(len(judged), 'run')}")
        fails += [f"in {run.id} {_carrying(run)}" for run in judged if run not in carried]
    if not works:
        return ""
    return f"What works: {listed(works)}." + (f" What does not: {', '.join(fails)}." if fails else "")


def _carrying(run: RunResult) -> str:
    """Return how a run carries its dust, as words."""
    if run.carrying is None or run.carrying_ratio is None:
        return ""
    return _CARRYING.get(run.carrying) or short(run.carrying_ratio)


def name(hood: HoodResult) -> str:
    """Return a machine's name."""
    return hood.run if hood.machine is None else plain(hood.machine)


def _bar(hood: HoodResult, answer: TreeAnswer) -> Bar:
    share, unit = hood.share_of_design or 0.0, answer.units.get("flow", "")
    words = f"{bare(hood.flow, unit)} of {bare(hood.design_flow or 0.0, unit)} {printed(unit)}, {percent(share)}"
    return Bar(name(hood), share, words)


def _hoods(answer: TreeAnswer) -> Table:
    """Return the table of machines."""
    units, flow = answer.units, answer.units.get("flow", "")
    rows = [
        (
            name(hood),
            hood.run,
            bare(hood.flow, flow),
            "" if hood.design_flow is None else bare(hood.design_flow, flow),
            "" if hood.share_of_design is None or not hood.open else percent(hood.share_of_design),
            "gate shut" if not hood.open else short(hood.share_of_design) if hood.share_of_design is not None else "",
        )
        for hood in answer.hoods
    ]
    headings = (
        "machine",
        "duct run",
        heading("gets", units, "flow"),
        heading("needs", units, "flow"),
        "share",
        "grade",
    )
    return Table(headings, rows, left=2)


def _runs(answer: TreeAnswer) -> list[Block]:
    """Return the table of runs with an open machine upstream, and the names of the others."""
    units = answer.units
    headings = (
        "run",
        "diameter",
        heading("flow", units, "flow"),
        heading("velocity", units, "velocity"),
        "carries",
        heading("loss", units, "pressure"),
        heading("static", units, "pressure"),
        "grade",
    )
    blocks: list[Block] = [Table(headings, [_run(run, answer) for run in answer.runs if not run.idle])]
    idle = [run.id for run in answer.runs if run.idle]
    if idle:
        blocks.append(Paragraph(f"No open machine, leaks at most: {', '.join(idle)}."))
    return blocks


def _run(run: RunResult, answer: TreeAnswer) -> tuple[str, ...]:
    """Return one run's row."""
    units = answer.units
    pressure = units.get("pressure", "")
    return (
        run.id,
        rule(run.diameter, units, "diameter"),
        bare(run.flow, units.get("flow", "")),
        bare(run.velocity, units.get("velocity", "")),
        "" if run.carrying_ratio is None else percent(run.carrying_ratio),
        bare(run.total_loss, pressure),
        bare(run.static_pressure, pressure),
        _carrying(run),
    )
