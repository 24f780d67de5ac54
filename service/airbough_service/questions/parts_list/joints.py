"""Each joint told with its ends, and what joints, hangers and bonding take of small parts."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from airbough.wire.parts_list import PartsListJoint
from airbough_service.core.choosing.laying import (
    Joint,
    around,
    seam,
)
from airbough_service.questions.parts_list import hangers
from airbough_service.questions.parts_list.needs import RunNeeds
from airbough_service.questions.parts_list.rows import (
    Row,
    Rows,
)
from airbough_service.questions.parts_list.rules import Rules

Sized: TypeAlias = tuple[str, float | None]


@dataclass(slots=True)
class Made:
    """A joint in its place: what it is called, its bore [m], and how it is made."""

    run: str
    at: str
    upstream: str
    downstream: str
    bore: float
    joint: Joint
    ends: tuple[str | None, str | None]
    turned: tuple[str, ...]


@dataclass(slots=True)
class Supplies:
    """Small parts: (use, bore or None) -> pieces, or metres of what is sold by length."""

    pieces: Counter[Sized] = field(default_factory=Counter)
    lengths: dict[Sized, float] = field(default_factory=lambda: defaultdict(float))


def made(placed: Rows) -> list[Made]:
    """Return every joint of every row."""
    return [joint for row in placed.rows for joint in _of_row(row)]


def _of_row(row: Row) -> Iterator[Made]:
    assert row.chain is not None
    slots, chain = row.slots, row.chain
    ends = [slot.piece().ends(turned=turned) for slot, turned in zip(slots, chain.turned, strict=True)]
    names = [row.start.name, *(slot.name for slot in slots), row.final.name if row.final else ""]
    ways = [(None, row.start.end), *ends, (row.final.end if row.final else None, None)]
    turned = {slot.name for slot, turn in zip(slots, chain.turned, strict=True) if turn or _served_turned(slot)}
    for number, joint in enumerate(chain.joints):
        last = number == len(slots)
        if last and row.final is None:
            return
        before = slots[number - 1].part if number else None
        after = None if last else slots[number].part
        bore = before.downstream_bore if before else row.start.bore
        if after is None and row.final is not None:
            bore = row.final.bore if before is None else before.downstream_bore
        known = after or before
        run = known.run if known else row.start.run
        pair = (names[number], names[number + 1])
        at = known.at if known else ""
        both = (ways[number][1], ways[number + 1][0])
        yield Made(run, at, *pair, bore, joint, both, tuple(name for name in pair if name in turned))


def _served_turned(slot: object) -> bool:
    served = getattr(slot, "served", None)
    return served is not None and served.turned


def told(joints: Sequence[Made], rules: Rules) -> tuple[PartsListJoint, ...]:
    """Return the joints in the answer's structs."""
    return tuple(
        PartsListJoint(
            run=made.run,
            upstream=made.upstream,
            downstream=made.downstream,
            diameter=made.bore,
            kind=made.joint.kind,
            holds=made.joint.holds,
            upstream_end=made.ends[0],
            downstream_end=made.ends[1],
            adapter=made.joint.adapter,
            edge_faces_flow=made.joint.edge_faces_flow,
            screws=_screws(made, rules),
            bolts=_bolts(made, rules),
            clamps=made.joint.clamps,
            turned=made.turned,
        )
        for made in joints
    )


def _screws(made: Made, rules: Rules) -> int:
    return made.joint.seams * around(made.bore, rules.of("screw_spacing"), rules.number("least_screws"))


def _bolts(made: Made, rules: Rules) -> int:
    return made.joint.flanges * around(made.bore, rules.of("bolt_spacing"), rules.number("least_bolts"))


def supplies(
    joints: Sequence[Made], needs: Sequence[RunNeeds], junctions: Mapping[int, float], rules: Rules
) -> Supplies:
    """Count what joints, hangers and bonding take.

    Args:
        joints: every joint.
        needs: every run, and every piece after the fan.
        junctions: number of the run that begins at a junction piece -> bore of its outlet, m.
        rules: in use.
    """
    out = Supplies()
    for made in joints:
        _joint(out, made, rules)
    for index, run in enumerate(needs):
        _caps(out, run, rules)
        for bore, count in hangers.of_run(run, rules, junctions.get(index)).items():
            out.pieces["hanger", bore] += count
        if run.duct is not None and not run.duct.conductive and run.length > 0.0:
            out.lengths["bonding-wire", None] += run.length + 2 * rules.of("bonding_tail")
    out.pieces = Counter({sized: count for sized, count in out.pieces.items() if count})
    return out


def _joint(out: Supplies, made: Made, rules: Rules) -> None:
    joint, bore = made.joint, made.bore
    out.pieces["screw", None] += _screws(made, rules)
    out.pieces["bolt", None] += _bolts(made, rules)
    out.pieces["clamp", bore] += joint.clamps
    if joint.flanges:
        out.lengths["gasket", None] += joint.flanges * seam(bore)
        out.pieces["bonding-jumper", None] += joint.flanges
    if joint.seams and rules.seal != "none":
        share = 1.0 + (rules.of("tape_overlap") if rules.seal == "tape" else 0.0)
        out.lengths[rules.seal, None] += joint.seams * seam(bore) * share


def _caps(out: Supplies, run: RunNeeds, rules: Rules) -> None:
    """Count what caps take."""
    for part in run.parts:
        if part.loose:
            cap = Joint("slip", holds=True, seams=1)
            _joint(out, Made(part.run, part.at, "tee", "cap", part.upstream_bore, cap, (None, None), ()), rules)
