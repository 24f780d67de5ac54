"""The commissioning card: what to read where on the first day, and the band in which the reading is right."""

from __future__ import annotations

from airbough.report.blocks import Block, Chapter, Paragraph, Table
from airbough.report.words import bare, heading
from airbough.wire.answer import TreeAnswer
from airbough.wire.uncertainty import FlowRange, PressureRange, VelocityRange

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
    flow, velocity, pressure = (units.get(kind, "") for kind in ("flow", "velocity", "pressure"))
    rows = []
    if told.fan_static_pressure is not None:
        rows.append(("fan", "fan static pressure", *_band(told.fan_static_pressure, pressure), _TO_WRITE))
    if told.flow is not None:
        rows.append(("collector inlet", "flow", *_band(told.flow, flow), _TO_WRITE))
    known = {run.id: run for run in answer.runs}
    for one in told.runs:
        run, band = known.get(one.run), one.velocity
        if run is None or run.idle or run.velocity <= 0.0:
            continue
        low, middle, high = (
            run.velocity_pressure * (speed / run.velocity) ** 2 for speed in (band.low, band.middle, band.high)
        )
        heads = PressureRange(low=low, middle=middle, high=high)
        rows.append((one.run, "velocity pressure", *_band(heads, pressure), _TO_WRITE))
        rows.append((one.run, "velocity", *_band(band, velocity), _TO_WRITE))
    headings = ("where", "what", "from", "expected", "to", "read")
    blocks: list[Block] = [
        Paragraph(
            "Set the gates as in this report, let the fan run for five minutes and read each place in straight duct. A "
            "reading from the first to the second of its bounds agrees with what was computed: nine of ten draws lie "
            "there. One outside asks for a reason: a leak, a gate not shut, a blocked hood, another fan speed."
        ),
        Table(headings, rows, left=2),
        Paragraph(f"Units: {', '.join(heading(kind, units, kind) for kind in ('flow', 'velocity', 'pressure'))}."),
    ]
    return Chapter("Commissioning card", blocks)


def _band(found: FlowRange | PressureRange | VelocityRange, unit: str) -> tuple[str, str, str]:
    """Return a band's ends and its middle."""
    return bare(found.low, unit), bare(found.middle, unit), bare(found.high, unit)
