"""The chapters of what to buy: chosen diameters, the parts list, sticks and how they are cut, joints and the air."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import starmap

from airbough.report.blocks import Block, Bullets, Chapter, Joint, Paragraph, Piece, Stick, Table
from airbough.report.words import counted, money, plain, quantity, rule
from airbough.wire.answer import Purchase
from airbough.wire.parts_list import (
    BoughtLength,
    CuttingPlan,
    PartsListAnswer,
    PartsListJoint,
    PartsListLine,
    PartsListNeed,
)
from airbough.wire.quote import QuotedParts
from airbough.wire.sizing import BrokenRule, SizingAnswer

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
_SAME_JOINTS = 6  # joints drawn of one kind; the rest are counted


def sizing(answer: SizingAnswer) -> Chapter:
    """Return the chosen diameters, what they cost and what they ask of the fan."""
    units = answer.units
    if answer.outcome != "sized":
        lines = [f"it would do to drop {plain(', '.join(way.drop))}" for way in answer.remedies if way.drop]
        for way in answer.remedies:
            if way.add_diameters:
                sizes = ", ".join(rule(size, units, "diameter") for size in way.add_diameters)
                lines.append(f"it would do to stock {sizes}")
        none = Paragraph("No choice of diameters keeps every rule that must hold.")
        return Chapter("Diameters", [none, *([Bullets(lines)] if lines else [])])
    head = f"{counted(len(answer.sizes), 'run')} sized ({_PROOFS[answer.proof, answer.objective]})"
    if answer.price is not None:
        head += f", for {money(answer.price, answer.currency)} of duct by the length laid, of fittings and gates"
    if answer.fan_static_pressure is not None:
        head += f"; at most {quantity(answer.fan_static_pressure, units, 'pressure')} of fan static pressure"
    rows = [(run.run, rule(run.diameter, units, "diameter")) for run in answer.sizes]
    blocks: list[Block] = [Paragraph(f"{head}."), Table(("run", "diameter"), rows)]
    if answer.price is not None:
        blocks.insert(1, Paragraph("What is bought, whole lengths and small parts among it, a parts list tells."))
    return Chapter("Diameters", [*blocks, *given_up(answer.broken)])


def given_up(items: Sequence[BrokenRule]) -> list[Block]:
    """Return the rules that do not hold, each with its runs and states."""
    lines = broken_in_words(items)
    return [Bullets(lines, "RULES GIVEN UP")] if lines else []


def broken_in_words(items: Sequence[BrokenRule]) -> list[str]:
    """Return a line for each rule that does not hold: where, and in which states each time."""
    broken: dict[str, dict[str, list[str]]] = {}
    for item in items:
        states = broken.setdefault(plain(item.rule), {}).setdefault(item.run or "", [])
        if item.state is not None:
            states.append(item.state)
    return [f"{word} does not hold: {', '.join(starmap(_place, places.items()))}" for word, places in broken.items()]


def _place(run: str, states: list[str]) -> str:
    """Return a run, or the whole, with its states."""
    told = ", ".join(dict.fromkeys(states))
    return f"{run or 'the whole'} ({told})" if told else run or "the whole"


def parts_list(answer: PartsListAnswer) -> Chapter:
    """Return what to buy, how the sticks are cut, and how the pieces are joined."""
    units, system = answer.units, answer.system
    duct, hose = (quantity(length, units, "length") for length in (system.duct_length, system.hose_length))
    of_a_stock = answer.lines or answer.not_stocked  # without one nothing is cut, joined or hung
    joints = f", {counted(system.joints, 'joint')}, {counted(system.hangers, 'hanger')}" if of_a_stock else ""
    blocks: list[Block] = [Paragraph(f"{duct} of duct, {hose} of hose{joints}.")]
    blocks += [*bought(answer, units), *needed(answer)]
    for plan in answer.cutting:
        blocks += cut(plan, units)
    blocks += [*_joints(answer), *room(answer.requirement, units)]
    return Chapter("Parts, cuts and joints", blocks)


def bought(parts: PartsListAnswer | QuotedParts, units: Mapping[str, str]) -> list[Block]:
    """Return what to buy, what the stock has not, and what it costs."""
    blocks: list[Block] = []
    if parts.lines:
        blocks.append(Bullets([_priced(line, units, parts.system.currency) for line in parts.lines], "TO BUY"))
    missing = [_need(need, units) for need in parts.not_stocked]
    if missing:
        blocks.append(Bullets(missing, "NOT IN THE STOCK LIST"))
    return blocks + _cost(parts)


def needed(parts: PartsListAnswer) -> list[Block]:
    """Return what the design needs, whoever makes it; nothing where the answer says what to buy of a stock."""
    if parts.lines or parts.not_stocked or not parts.requirement:
        return []
    return [Bullets([_need(need, parts.units) for need in parts.requirement], "NEEDED")]


def _need(need: PartsListNeed, units: Mapping[str, str]) -> str:
    if need.length is None:
        return f"{need.quantity or 1} {_piece(need, units)}"
    duct = f"{_piece(need, units)}, {plain(need.duct)}" if need.duct else _piece(need, units)
    return f"{quantity(need.length, units, 'length')} of {duct}"


def _cost(parts: PartsListAnswer | QuotedParts) -> list[Block]:
    blocks: list[Block] = []
    system = parts.system
    if system.price is not None:
        rest = "; some lines have no price" if any(line.price is None for line in parts.lines) else ""
        rest += "; what is not in the stock list comes on top" if parts.not_stocked else ""
        rest = rest or ("" if system.price_complete else "; the price is not complete")
        blocks.append(Paragraph(f"In all {money(system.price, system.currency)}{rest}."))
    return blocks


def one_line(line: PartsListLine | Purchase, units: Mapping[str, str]) -> str:
    """Return one line to buy; what is on nobody's list is named by kind and diameter."""
    name = line.item or plain(line.what)
    ends = getattr(line, "diameters", None) or ((line.diameter,) if line.diameter is not None else ())
    if line.item is None and ends:
        name += f" {' x '.join(rule(bore, units, 'diameter') for bore in ends)}"
    if line.quantity is not None:
        return f"{line.quantity} {name}"
    return name if line.length is None else f"{name}, {quantity(line.length, units, 'length')}"


def _priced(line: PartsListLine, units: Mapping[str, str], currency: str | None) -> str:
    return one_line(line, units) + ("" if line.price is None else f", {money(line.price, currency)}")


def _piece(need: PartsListNeed, units: Mapping[str, str]) -> str:
    """Return a piece by kind, angle and diameters, such as `wye 45 deg, 6 in. x 5 in. x 6 in.`."""
    angle = "" if need.angle is None else f" {need.angle:g} deg"
    return f"{plain(need.type)}{angle}, {' x '.join(rule(bore, units, 'diameter') for bore in need.diameters)}"


def room(requirement: Sequence[PartsListNeed], units: Mapping[str, str]) -> list[Block]:
    """Return how much room elbows and wyes take, which head-room and drops go by."""
    rows = [
        (_piece(need, units), *("" if value is None else rule(value, units, "diameter")
                                for value in (need.corner_to_end, need.reach, need.straight_way)))
        for need in requirement
        if need.reach is not None
    ]  # fmt: skip
    if not rows:
        return []
    words = "Room that fittings take, of wyes and tees about: measure the piece before you cut. Corner to end: from "
    words += "where the middles of the ducts meet. Reach: from the middle of the straight way to the far edge."
    return [Paragraph(words), Table(("piece", "corner to end", "reach", "straight way"), rows)]


def cut(plan: CuttingPlan, units: Mapping[str, str]) -> list[Block]:
    """Return the cut list of one diameter: each stick as a picture."""
    proof = _CUTTING[plan.proof, plan.objective]
    head = f"Cut {rule(plan.diameter, units, 'diameter')} {plain(plan.duct)}"
    blocks: list[Block] = [Paragraph(f"{head} ({proof}, waste {quantity(plan.waste, units, 'length')}):")]
    groups: dict[tuple[str, ...], list[BoughtLength]] = {}
    for stick in plan.lengths_bought:
        cuts = tuple(quantity(piece.cut_length, units, "length") for piece in stick.cuts)
        groups.setdefault((quantity(stick.length, units, "length"), *cuts), []).append(stick)
    return [*blocks, *(_sticks(group, names) for names, group in groups.items())]


def _sticks(group: list[BoughtLength], lengths: tuple[str, ...]) -> Stick:
    """Return sticks that are cut alike as one picture; `lengths`: of the stick, and of each cut."""
    first = group[0]
    whole = first.length or 1.0
    pieces = []
    for place, own in enumerate(first.cuts):
        runs = ", ".join(dict.fromkeys(stick.cuts[place].run for stick in group))
        pieces.append(Piece(own.cut_length / whole, f"{lengths[place + 1]} {runs}"))
    if first.offcut > 0.0:
        pieces.append(Piece(first.offcut / whole, ""))
    count = f"{len(group)} of " if len(group) > 1 else ""
    return Stick(f"{count}{lengths[0]}", pieces)


def _joints(answer: PartsListAnswer) -> list[Block]:
    """Return the joints with the air, equal ones counted."""
    groups: dict[tuple[str, str | None, str | None], list[PartsListJoint]] = {}
    for joint in answer.joints:
        groups.setdefault((joint.kind, joint.upstream_end, joint.downstream_end), []).append(joint)
    return [_joint(group) for group in groups.values()]


def _joint(group: list[PartsListJoint]) -> Joint:
    """Return the joints of one kind as one picture."""
    first = group[0]
    inner = 0 if first.upstream_end == "enters" else 1 if first.downstream_end == "enters" else None
    places = list(dict.fromkeys(joint.run for joint in group))
    shown = ", ".join(places[:_SAME_JOINTS]) + (" and further runs" if len(places) > _SAME_JOINTS else "")
    words = f"{counted(len(group), 'joint')}, {plain(first.kind)}: {shown}"
    if first.edge_faces_flow:
        words += "; an inner edge faces the air"
    if not first.holds and first.kind != "not-judged":
        words += "; does not hold"
    return Joint(_side(first.upstream), _side(first.downstream), inner, words)


def _side(words: str) -> str:
    """Return a piece at a joint, such as `double-wye into line-1`, its kind as a person reads it, its run as given."""
    kind, space, where = words.partition(" ")
    return f"{plain(kind)}{space}{where}"
