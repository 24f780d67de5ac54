"""A tree answer as plain text that a woodworker can read: runs, machines, what to change, cautions."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence

from airbough.wire.answer import (
    Finding,
    HoodResult,
    RunResult,
    TreeAnswer,
)
from airbough.wire.gate_states import (
    GateStatesAnswer,
    StateResult,
)
from airbough.wire.operating_point import OperatingPointAnswer
from airbough.wire.parts_list import (
    CuttingPlan,
    PartsListAnswer,
    PartsListLine,
)
from airbough.wire.quantity import printed
from airbough.wire.sizing import SizingAnswer

_HEADINGS = {"danger": "DANGER", "warning": "TO CHANGE", "note": "GOOD TO KNOW"}
_NO_UNITS: Mapping[str, str] = {}
_GAINS = {"pressure_saved": ("saves", "pressure"), "flow_gained": ("more air:", "flow")}
_SHOWN = {"inH2O": 0.01, "Pa": 2.0, "ft^3/min": 1.0, "m^3/h": 2.0}
_PROOFS = {
    ("exact", "cost"): "proved the cheapest of this stock",
    ("exact", "fan-pressure"): "proved the least fan pressure of this stock",
    ("gap", "cost"): "not proved the cheapest",
    ("gap", "fan-pressure"): "not proved the least fan pressure",
}
_CUTTING = {
    ("exact", "price"): "proved the cheapest",
    ("exact", "length"): "proved the least length bought",
    ("gap", "price"): "not proved the cheapest",
    ("gap", "length"): "not proved the least length bought",
}
_OUTCOMES = {
    "operating-point": "The fan moves {flow} against {pressure} of fan static pressure.",
    "several-operating-points": "The fan may move one of several flows; the least is {flow} at {pressure}.",
    "beyond-fan-curve": "The crossing lies beyond the given fan curve; nothing is extrapolated.",
    "no-flow": "No air flows: every gate is shut.",
}


def report(answer: TreeAnswer, *, width: int = 100) -> str:
    """Return a tree answer as text.

    Args:
        answer: of any tree question.
        width: of a line.
    """
    parts = [_title(answer), *_outcome(answer), *_state_told(answer)]
    if answer.runs:
        parts += ["", *_runs(answer)]
    if answer.hoods:
        parts += ["", *_hoods(answer)]
    parts += ["", *findings(answer.findings, answer.units, width=width)]
    parts += ["", "Cautions", *_wrapped(answer.cautions, width)]
    return "\n".join(parts) + "\n"


def gate_states(answer: GateStatesAnswer) -> str:
    """Return how many states of the gates fail, the worst of them and all named ones, and what fixes each."""
    system = answer.system
    lines = [
        f"Gate states: {system.states} examined, {system.failing} with a check that does not hold "
        f"({system.settling} let dust settle, {system.starving} starve a machine)."
    ]
    worst = answer.worst
    for label, state in (("settling", worst.settling), ("starving", worst.starving), ("suction", worst.suction)):
        if state is not None:
            lines += _state(f"worst for {label}: {_called(state)}", state, answer, suction=label == "suction")
    for state in answer.states:
        if state.named:
            lines += _state(f"{state.name}: {_held(state)}", state, answer)
    return "\n".join(lines) + "\n"


def _called(state: StateResult) -> str:
    """Return a state's own name, else what stands open in it."""
    return state.name if state.named else ", ".join(state.open) or "all gates shut"


def _held(state: StateResult) -> str:
    """Return whether a state's checks hold, as words."""
    if state.outcome == "beyond-fan-curve":
        return "beyond the given fan curve"
    if state.outcome == "no-flow":
        return "no air flows"
    return "every check holds" if state.holds else "a check does not hold"


def _state(head: str, state: StateResult, answer: GateStatesAnswer, *, suction: bool = False) -> list[str]:
    """Return the lines of one state; `suction`: with its deepest."""
    parts = [f"- {head}"]
    if state.named and state.flow is not None:
        parts.append(f"{state.flow:.0f} {_unit(answer.units, 'flow')}")
    if state.transport_margin is not None:
        parts.append(f"air in {state.least_margin_run} at {100.0 * state.transport_margin:.0f} % of transport velocity")
    if state.share_of_design is not None:
        parts.append(f"{state.most_starved_hood} gets {100.0 * state.share_of_design:.0f} % of its design flow")
    if suction and state.deepest_suction is not None:
        parts.append(f"suction {state.deepest_suction:.3g} {_unit(answer.units, 'pressure')} in {state.deepest_run}")
    lines = ["; ".join(parts)]
    if state.fix is not None and state.fix.fixes:
        lines.append(f"  fixed by opening {', '.join(state.fix.open)} as well")
    elif state.fix is not None:
        lines.append("  no set of gates fixes this" + (" (every set was tried)" if state.fix.proven else ""))
    return lines


def sizing(answer: SizingAnswer) -> str:
    """Return the chosen diameters, what they cost and what they ask of the fan."""
    inch, pressure = _unit(answer.units, "diameter"), _unit(answer.units, "pressure")
    if answer.outcome != "sized":
        lines = ["Sizing: no choice of diameters keeps every rule that must hold."]
        lines += [f"- it would do to drop {_plain(', '.join(way.drop))}" for way in answer.remedies if way.drop]
        for way in answer.remedies:
            if way.add_diameters:
                lines.append(f"- it would do to stock {', '.join(f'{size:.4g}' for size in way.add_diameters)} {inch}")
        return "\n".join(lines) + "\n"
    head = f"Sizing ({_PROOFS[answer.proof, answer.objective]}): {len(answer.sizes)} runs"
    if answer.price is not None:
        head += f" for {answer.price:.2f} {answer.currency or ''}".rstrip()
    if answer.fan_static_pressure is not None:
        head += f", at most {answer.fan_static_pressure:.3g} {pressure} of fan static pressure"
    rows = ((run.run, f"{run.diameter:.4g}") for run in answer.sizes)
    broken = [
        f"- {_plain(item.rule)} does not hold{f' in {item.run}' if item.run else ''}"
        f"{f' ({item.state})' if item.state else ''}"
        for item in answer.broken
    ]
    return "\n".join([f"{head}.", *_table(("run", f"diameter {inch}"), rows), *broken]) + "\n"


def parts_list(answer: PartsListAnswer) -> str:
    """Return what to buy and how the stock lengths are cut."""
    unit, system, foot = answer.units, answer.system, _unit(answer.units, "length")
    lines = [
        f"Parts list: {system.duct_length:.4g} {foot} of duct, {system.hose_length:.4g} {foot} of hose, "
        f"{system.joints} joints, {system.hangers} hangers."
    ]
    lines += [_line(line, unit) for line in answer.lines]
    if system.price is not None:
        rest = "" if system.price_complete else "; some lines have no price"
        lines.append(f"In all {system.price:.2f} {system.currency or ''}".rstrip() + rest)
    for plan in answer.cutting:
        lines += _plan(plan, unit)
    return "\n".join(lines) + "\n"


def _line(line: PartsListLine, unit: dict[str, str]) -> str:
    """Return one line to buy; what is on nobody's list is named by kind and diameter."""
    name = line.item or _plain(line.what)
    if line.item is None and line.diameter is not None:
        name += f" {line.diameter:.4g} {_unit(unit, 'diameter')}"
    if line.quantity is not None:
        return f"- {line.quantity} {name}"
    return f"- {name}" if line.length is None else f"- {name}, {line.length:.4g} {_unit(unit, 'length')}"


def _plan(plan: CuttingPlan, unit: dict[str, str]) -> list[str]:
    """Return the cut list of one diameter."""
    foot, inch, proof = _unit(unit, "length"), _unit(unit, "diameter"), _CUTTING[plan.proof, plan.objective]
    head = f"Cut {plan.diameter:.4g} {inch} {_plain(plan.duct)} ({proof}, waste {plan.waste:.3g} {foot}):"
    lengths = [
        f"  {bought.length:.4g} {foot}: " + " + ".join(f"{cut.cut_length:.2f} for {cut.run}" for cut in bought.cuts)
        for bought in plan.lengths_bought
    ]
    return [head, *lengths]


def findings(items: Sequence[Finding], units: Mapping[str, str] = _NO_UNITS, *, width: int = 100) -> list[str]:
    """Return findings as lines, the gravest first.

    Args:
        items: in any order.
        units: of the answer, by kind; what was gained is told with them.
        width: of a line.
    """
    if not items:
        return ["Every check that was made holds."]
    lines: list[str] = []
    for severity, heading in _HEADINGS.items():
        chosen = [item for item in items if item.severity == severity]
        if chosen:
            lines.append(heading)
        for item in chosen:
            lines += textwrap.wrap(f"- {_sentence(item.message)}", width, subsequent_indent="  ")
            if item.suggestion is not None:
                text = f"What to do: {item.suggestion.text}{_gain(item, units)}"
                lines += textwrap.wrap(text, width, initial_indent="  ", subsequent_indent="  ")
    return lines


def _gain(item: Finding, units: Mapping[str, str]) -> str:
    """Return what a tried suggestion brings, as words; what no gauge in a shop would show is left out."""
    gain = item.suggestion.gain if item.suggestion is not None else None
    if not gain:
        return ""
    parts = []
    for name, value in gain.items():
        words, kind = _GAINS.get(name, (_plain(name), "pressure"))
        unit = units.get(kind, "")
        if abs(value) >= _SHOWN.get(unit, 0.0):
            parts.append(f"{words} {value:.3g} {printed(unit)}".rstrip())
    return f" (tried: {', '.join(parts)})" if parts else " (tried: no gain to speak of in this state)"


def _unit(units: Mapping[str, str], kind: str) -> str:
    """Return the unit of a kind as it is printed; empty where the answer has none."""
    return printed(units.get(kind, ""))


def _plain(word: str) -> str:
    """Return a word of the wire as a person reads it."""
    return word.replace("_", " ").replace("-", " ")


def _sentence(words: str) -> str:
    """Return words with a full stop, unless they end with a short form such as `in.`."""
    return words if words.endswith(".") else f"{words}."


def _title(answer: TreeAnswer) -> str:
    """Return the report's first line."""
    return (
        f"{answer.name or 'Duct tree'}: airflow report "
        f"(engine {answer.engine.version}, junctions: {_plain(answer.engine.junctions)})"
    )


def _outcome(answer: TreeAnswer) -> list[str]:
    """Return the outcome as a sentence, where the answer has one."""
    if not isinstance(answer, OperatingPointAnswer):
        return []
    flow = f"{answer.system.flow or 0.0:.0f} {_unit(answer.units, 'flow')}"
    pressure = f"{answer.system.fan_static_pressure or 0.0:.3g} {_unit(answer.units, 'pressure')}"
    return [_OUTCOMES.get(answer.outcome, answer.outcome).format(flow=flow, pressure=pressure)]


def _state_told(answer: TreeAnswer) -> list[str]:
    """Return which state the tables are of, where it is not the document's own."""
    if isinstance(answer, GateStatesAnswer):
        state = answer.system.state
    elif isinstance(answer, SizingAnswer) and answer.states:
        state = answer.states[0].state
    else:
        return []
    return [f"Runs and machines are told with the gates as in: {state}."]


def _table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """Return rows in columns; the first column is to the left, the others to the right."""
    whole = [list(headings), *(list(row) for row in rows)]
    widths = [max(len(row[column]) for row in whole) for column in range(len(headings))]
    return [
        "  ".join(
            cell.ljust(size) if column == 0 else cell.rjust(size)
            for column, (cell, size) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in whole
    ]


def _runs(answer: TreeAnswer) -> list[str]:
    """Return the table of runs."""
    unit = answer.units
    headings = (
        "run",
        f"diameter {_unit(unit, 'diameter')}",
        f"flow {_unit(unit, 'flow')}",
        f"velocity {_unit(unit, 'velocity')}",
        f"loss {_unit(unit, 'pressure')}",
        f"static {_unit(unit, 'pressure')}",
        "",
    )
    return _table(headings, (_run(run) for run in answer.runs))


def _run(run: RunResult) -> tuple[str, ...]:
    """Return one run's row."""
    return (
        run.id,
        f"{run.diameter:.4g}",
        f"{run.flow:.0f}",
        f"{run.velocity:.4g}",
        "" if run.idle else f"{run.total_loss:.3g}",
        f"{run.static_pressure:.3g}",
        "idle" if run.idle else "",
    )


def _hoods(answer: TreeAnswer) -> list[str]:
    """Return the table of machines."""
    flow = _unit(answer.units, "flow")
    headings = ("machine", "duct run", f"gets {flow}", f"needs {flow}", "share", "")
    return _table(headings, (_hood(hood) for hood in answer.hoods))


def _hood(hood: HoodResult) -> tuple[str, ...]:
    """Return one machine's row."""
    needs = "" if hood.design_flow is None else f"{hood.design_flow:.0f}"
    share = "" if hood.share_of_design is None or not hood.open else f"{100.0 * hood.share_of_design:.0f} %"
    machine = hood.run if hood.machine is None else _plain(hood.machine)
    return (machine, hood.run, f"{hood.flow:.0f}", needs, share, "" if hood.open else "gate shut")


def _wrapped(texts: Iterable[str], width: int) -> list[str]:
    """Return texts as a list."""
    return [line for text in texts for line in textwrap.wrap(f"- {text}", width, subsequent_indent="  ")]
