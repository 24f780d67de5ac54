"""The chapters of a quote and of variants: what it costs and what each state gets; many designs beside one another."""

from __future__ import annotations

from typing import Any

from airbough.report import buying
from airbough.report import findings as _findings
from airbough.report.blocks import Block, Bullets, Chapter, Paragraph, Picture, Table
from airbough.report.words import bare, counted, figures, heading, money, percent, plain
from airbough.wire.quantity import printed
from airbough.wire.quote import QuoteAnswer, QuotedState
from airbough.wire.variants import VariantsAnswer

_PICTURES = {"plan": "Plan", "side": "Side view", "tree": "Runs", "fan": "Fan and system", "pairs": "Pairs"}
_COMFORT = ("upper_velocity", "no_narrowing")
"""Rules that cost power or noise where they are given up; air and dust still go where they must."""
_MOST_ROWS = 60


def quote(answer: QuoteAnswer) -> list[Chapter]:
    """Return a quote: price and states first, then parts, pictures and what was found."""
    found = [_offer(answer)]
    if answer.parts is not None:
        parts: list[Block] = buying.bought(answer.parts, answer.units)
        for plan in answer.parts.cutting:
            parts += buying.cut(plan, answer.units)
        found.append(Chapter("Parts and cuts", [*parts, *buying.room(answer.parts.requirement, answer.units)]))
    for name, svg in answer.drawings.items():
        title = _PICTURES.get(name, plain(name))
        found.append(Chapter(title, [Picture(title, svg, title)]))
    found.append(Chapter("Found", _findings.blocks(answer.findings, answer.units)))
    return [chapter for chapter in found if chapter.blocks]


def _offer(answer: QuoteAnswer) -> Chapter:
    """Return what it costs, and what each state of the gates gets."""
    blocks: list[Block] = []
    if answer.outcome != "sized":
        blocks.append(Paragraph("No choice of diameters keeps every rule that must hold, so nothing is priced."))
    elif answer.price is not None:
        rest = "." if answer.price_complete else ", and some parts without a price."
        blocks.append(Paragraph(f"The parts cost {money(answer.price, answer.currency)}{rest}"))
    else:
        blocks.append(Paragraph("No part of the stock has a price."))
    until = f" The stock's prices stand until {answer.expires}." if answer.expires else ""
    blocks.append(Paragraph(f"Of the stock with the digest {answer.stock_digest}.{until}"))
    if answer.states:
        headings = ("gates", heading("the fan moves", answer.units, "flow"), "least served", "")
        blocks.append(Table(headings, [_state(state, answer) for state in answer.states]))
    if answer.pairs:
        held = [pair for pair in answer.pairs if all(item.rule in _COMFORT for item in pair.broken)]
        blocks.append(Paragraph(f"Two machines at once: {len(held)} of {counted(len(answer.pairs), 'pair')} hold."))
    return Chapter("The quote", [*blocks, *buying.given_up(answer.broken)])


def _state(state: QuotedState, answer: QuoteAnswer) -> tuple[str, ...]:
    """Return one state as a row."""
    flow = "" if state.flow is None else bare(state.flow, answer.units.get("flow", ""))
    least = "" if state.share_of_design is None else f"{state.most_starved_hood} {percent(state.share_of_design)}"
    fails = ", ".join(plain(code) for code in dict.fromkeys(state.findings))
    return (state.name, flow, least, "holds" if state.holds else fails or "does not hold")


def variants(answer: VariantsAnswer) -> Chapter:
    """Return variants as rows: figures of the whole, the least of those by hood or run and where, checks that fail."""
    columns = [(name, values) for name, values in answer.columns.items() if _shown(values)]
    rows = []
    for number, name in enumerate(answer.names[:_MOST_ROWS]):
        problem = answer.problems.get(str(number))
        cells = ["" if problem is not None else _figure(column, values, number, answer) for column, values in columns]
        fails = [plain(check) for check, holds in answer.checks.items() if holds[number] is False]
        rows.append((name, *cells, "no answer" if problem is not None else ", ".join(fails) or "holds"))
    headings = ("variant", *(_heading(name, values, answer) for name, values in columns), "checks")
    blocks: list[Block] = [Table(headings, rows)]
    if len(answer.names) > _MOST_ROWS:
        blocks.append(Paragraph(f"And {len(answer.names) - _MOST_ROWS} more."))
    told = [f"{answer.names[int(number)]}: {one.detail}" for number, one in list(answer.problems.items())[:_MOST_ROWS]]
    if told:
        blocks.append(Bullets(told, "WITHOUT AN ANSWER"))
    return Chapter("Variants", blocks)


def _shown(values: Any) -> bool:
    """Return whether a column holds what a table can show."""
    return bool(values)


def _unit(name: str, answer: VariantsAnswer) -> str:
    """Return the unit of a column, by the quantity that its name ends in."""
    last = name.rsplit(".", 1)[-1]
    kinds = {"shaft_power": "power", "diameter": "diameter", "velocity": "velocity"}
    kind = kinds.get(last) or next((kind for kind in ("flow", "pressure", "current", "loss") if kind in last), "")
    return answer.units.get("pressure" if kind == "loss" else kind, "")


def _heading(name: str, values: Any, answer: VariantsAnswer) -> str:
    least = "least " if isinstance(values, dict) else ""
    return f"{least}{plain(name.rsplit('.', 1)[-1])} {printed(_unit(name, answer))}".rstrip()


def _figure(name: str, values: Any, number: int, answer: VariantsAnswer) -> str:
    """Return one figure of one variant; of those by hood or run the least, and where."""
    unit = _unit(name, answer)
    if not isinstance(values, dict):
        return _cell(values[number], name, unit)
    starved = answer.columns.get("system.most_starved_hood")
    if (
        name.startswith("hoods.") and starved and starved[number] in values
    ):  # of open hoods: a shut one gets next to none
        values = {starved[number]: values[starved[number]]}
    known = [(column[number], where) for where, column in values.items() if column[number] is not None]
    numbers = [(value, where) for value, where in known if isinstance(value, int | float)]
    if not numbers:
        return ", ".join(dict.fromkeys(plain(str(value)) for value, _ in known))
    value, where = min(numbers)
    return f"{_cell(value, name, unit)} ({where})"


def _cell(value: Any, name: str, unit: str) -> str:
    if value is None:
        return ""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return plain(str(value))
    if name.endswith(("share_of_design", "carrying_ratio", "motor_load")):
        return percent(float(value))
    return bare(float(value), unit) if unit else figures(float(value))
