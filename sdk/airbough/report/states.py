"""The chapters of many states of the gates: how many hold, which two can run together, labels for the gates."""

from __future__ import annotations

import csv
import io
from itertools import combinations

from airbough.report.blocks import Block, Bullets, Card, Chapter, Paragraph, Table
from airbough.report.words import counted, listed, percent, plain, quantity, short
from airbough.wire.gate_states import GateStatesAnswer, RunCleared, StateResult

TOGETHER, WITH, SHORT, NO = "yes", "with", "just short", "no"
_LITTLE = 0.9  # of the mark: what the service grades `short`


def chapter(answer: GateStatesAnswer) -> Chapter:
    """Return the states: what works, the worst, the named ones, what clears the runs that settle, the pairs."""
    system, worst = answer.system, answer.worst
    holding = system.states - system.failing
    blocks: list[Block] = [
        Paragraph(
            f"Of {counted(system.states, 'state')} examined every check holds in {holding}; a check does not hold in "
            f"{system.failing} ({system.settling} let dust settle, {system.starving} starve a machine)."
        )
    ]
    blocks += [Paragraph(words) for words in _by_number(answer)]
    lines: list[str] = []
    told: list[str] = []
    worst_of = (("carrying dust", worst.settling), ("air at the machines", worst.starving), ("suction", worst.suction))
    for label, state in worst_of:
        if state is not None and state.name not in told:
            told.append(state.name)
            lines += _state(f"Worst for {label}: {_called(state)}", state, answer, suction=label == "suction")
    for state in answer.states:
        if state.named:
            lines += _state(f"{state.name}: {_held(state)}", state, answer)
    blocks.append(Bullets(lines))
    if answer.settling:
        blocks.append(Bullets([_cleared(item) for item in answer.settling], "WHERE DUST SETTLES, AND WHAT CLEARS IT"))
    table = pairs_table(answer)
    if table is not None:
        blocks.append(table)
    return Chapter("The gates", blocks)


def _by_number(answer: GateStatesAnswer) -> list[str]:
    """Return how many states of one and of two machines hold; the latter are rare where one person works."""
    found = []
    for size, words in ((1, "One machine at a time"), (2, "Two at once, rare where one person works")):
        states = [state for state in answer.states if not state.named and len(state.open) == size]
        if states:
            found.append(f"{words}: {sum(state.holds for state in states)} of {len(states)} hold.")
    return found


def _cleared(item: RunCleared) -> str:
    """Return where dust settles and the state that carries it off."""
    run, states, ratio = item.run, item.states, item.worst_ratio
    words = f"{run}: dust settles in {counted(states, 'state')}, at worst {short(ratio)} ({item.worst_state})"
    if item.cleared_by is None or item.cleared_ratio is None:
        return f"{words}; no state carries it off."
    return f"{words}; {item.cleared_by} clears it, at {percent(item.cleared_ratio)}."


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
    parts = [head]
    if state.named and state.flow is not None:
        parts.append(quantity(state.flow, answer.units, "flow"))
    if state.transport_margin is not None:
        ratio = state.transport_margin
        parts.append(f"air in {state.least_margin_run} at {percent(ratio)} of transport velocity ({short(ratio)})")
    if state.share_of_design is not None:
        parts.append(f"{state.most_starved_hood} gets {percent(state.share_of_design)} of its design flow")
    if suction and state.deepest_suction is not None:
        parts.append(f"suction {quantity(state.deepest_suction, answer.units, 'pressure')} in {state.deepest_run}")
    lines = ["; ".join(parts)]
    if state.fix is not None and state.fix.fixes:
        lines.append(f" fixed by opening {', '.join(state.fix.open)} as well")
    elif state.fix is not None:
        lines.append(" no set of gates fixes this" + (" (every set was tried)" if state.fix.proven else ""))
    return lines


def machines(answer: GateStatesAnswer) -> list[str]:
    """Return the machines of the states, in the order of the document."""
    if answer.system.machines:
        return list(answer.system.machines)
    return list(dict.fromkeys(name for state in answer.states for name in state.open))


def verdicts(answer: GateStatesAnswer) -> dict[frozenset[str], tuple[str, str]]:
    """Return machines open -> verdict and its words, of every listed state of one or two machines."""
    found: dict[frozenset[str], tuple[str, str]] = {}
    for state in answer.states:
        if len(state.open) in (1, 2):
            found.setdefault(frozenset(state.open), verdict(state))
    return found


def verdict(state: StateResult) -> tuple[str, str]:
    """Return whether a state can be worked in, and how far from its mark it is or what to open as well."""
    if "motor-overloaded" in state.findings:
        return NO, "overloads the motor"
    ratios = [ratio for ratio in (state.transport_margin, state.share_of_design) if ratio is not None]
    if state.holds:
        return TOGETHER, percent(min(ratios)) if ratios else ""
    if state.fix is not None and state.fix.fixes:
        return WITH, f"open {listed([plain(one) for one in state.fix.open])} as well"
    if not ratios:
        return NO, plain(state.outcome)
    least = min(ratios)
    return (SHORT if least >= _LITTLE else NO), percent(least)


def pairs_table(answer: GateStatesAnswer) -> Table | None:
    """Return machine by machine whether two can run together; None where no pair was asked for."""
    names, found = machines(answer), verdicts(answer)
    if not any(frozenset(pair) in found for pair in combinations(names, 2)):
        return None
    rows = []
    for place, row in enumerate(names):
        cells = [found.get(frozenset((row, column)), ("", "")) for column in names[: place + 1]]
        rows.append(
            (plain(row), *(f"{word} {words}".strip() for word, words in cells), *[""] * (len(names) - place - 1))
        )
    return Table(("together", *map(plain, names)), rows)


def pairs_csv(answer: GateStatesAnswer) -> str:
    """Return the pairs as CSV text: two machines, verdict, words; a machine alone stands beside itself."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(("machine", "with", "can run", "words"))
    names, found = machines(answer), verdicts(answer)
    for place, one in enumerate(names):
        for other in names[place:]:
            if frozenset((one, other)) in found:
                writer.writerow((_cell(one), _cell(other), *found[frozenset((one, other))]))
    return out.getvalue()


def _cell(words: str) -> str:
    """Return a caller's word that no spreadsheet takes for a formula."""
    return f"'{words}" if words[:1] in "=+-@\t\r" else words


def labels(answer: GateStatesAnswer) -> Chapter:
    """Return a card for each gate: alone, with which other machines, with which not."""
    names, found = machines(answer), verdicts(answer)
    cards = []
    for one in names:
        alone = found.get(frozenset((one,)))
        groups: dict[str, list[str]] = {}
        for other in names:
            if other != one and frozenset((one, other)) in found:
                groups.setdefault(found[frozenset((one, other))][0], []).append(plain(other))
        lines = [] if alone is None else [f"Alone: {alone[0]}, {alone[1]}"]
        said = (
            (TOGETHER, "Together with"),
            (SHORT, "Just short with"),
            (WITH, "With a further gate"),
            (NO, "Not with"),
        )
        lines += [f"{words}: {listed(groups[word])}" for word, words in said if word in groups]
        cards.append(Card(plain(one), [*lines, "Shut this gate when the machine stands still."]))
    return Chapter("Gate labels", cards)
