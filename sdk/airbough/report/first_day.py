"""The commissioning card: what to read where on the first day, and the band in which the reading is right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from airbough.report.blocks import Block, Chapter, Paragraph, Table
from airbough.report.words import bare, heading, plain
from airbough.wire.answer import TreeAnswer
from airbough.wire.uncertainty import FlowRange, PressureRange, UncertaintyResult, VelocityRange

_NEEDS = "A commissioning card needs an answer with `uncertainty`: its bands are those of the draws, no fixed share."

_TO_WRITE = "........"


def chapter(answer: TreeAnswer) -> Chapter:
    """Return the card of the state that an operating point tells.

    Raises:
        ValueError: the answer has no `uncertainty`.
    """
    told = answer.uncertainty
    if told is None:
        raise ValueError(_NEEDS)
    units = answer.units
    pressure = units.get("pressure", "")
    rows = [*_at_fan(answer, told, units), *_in_ducts(answer, told, units)]
    suction = {hood.run: hood for hood in answer.hoods}
    for one in told.hoods:
        hood, band = suction.get(one.run), one.static_pressure
        if hood is not None and band is not None:
            machine = plain(hood.machine or hood.run)
            rows.append((machine, "hood static pressure", *_band(band, hood.static_pressure, pressure), _TO_WRITE))
    headings = ("where", "what", "from", "expected", "to", "read")
    blocks: list[Block] = [
        Paragraph(
            "Set the gates as in this report, let the fan run for five minutes and read each place in straight duct, "
            "the hood static pressure at a hole just after the machine's port. A "
            "reading from the first to the second of its bounds agrees with what was computed: nine of ten draws lie "
            "there. One outside asks for a reason: a leak, a gate not shut, a blocked hood, another fan speed."
        ),
        Table(headings, rows, left=2),
        Paragraph(f"Units: {', '.join(heading(kind, units, kind) for kind in ('flow', 'velocity', 'pressure'))}."),
    ]
    return Chapter("Commissioning card", blocks)


def _at_fan(answer: TreeAnswer, told: UncertaintyResult, units: Mapping[str, str]) -> list[Sequence[str]]:
    """Return what to read at the fan: expected is what the answer tells, where it tells it."""
    system = getattr(answer, "system", None)
    rows: list[Sequence[str]] = []
    bands = (("fan", "fan_static_pressure", told.fan_static_pressure), ("collector inlet", "flow", told.flow))
    for where, name, band in bands:
        if band is not None:
            own = getattr(system, name, None)
            unit = units.get("flow" if name == "flow" else "pressure", "")
            rows.append((where, plain(name), *_band(band, band.middle if own is None else own, unit), _TO_WRITE))
    return rows


def _in_ducts(answer: TreeAnswer, told: UncertaintyResult, units: Mapping[str, str]) -> list[Sequence[str]]:
    """Return what to read in each run where air flows by intent."""
    velocity, pressure = units.get("velocity", ""), units.get("pressure", "")
    known = {run.id: run for run in answer.runs}
    rows: list[Sequence[str]] = []
    for one in told.runs:
        run, band = known.get(one.run), one.velocity
        if run is None or run.idle or run.velocity <= 0.0:
            continue
        low, middle, high = (
            run.velocity_pressure * (speed / run.velocity) ** 2 for speed in (band.low, band.middle, band.high)
        )
        heads = PressureRange(low=low, middle=middle, high=high)
        rows.append((one.run, "velocity pressure", *_band(heads, run.velocity_pressure, pressure), _TO_WRITE))
        rows.append((one.run, "velocity", *_band(band, run.velocity, velocity), _TO_WRITE))
    return rows


def _band(found: FlowRange | PressureRange | VelocityRange, expected: float, unit: str) -> tuple[str, str, str]:
    """Return a band's ends, and what is expected between them."""
    return bare(found.low, unit), bare(expected, unit), bare(found.high, unit)
