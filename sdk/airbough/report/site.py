"""The chapters of the site: a day, strength under suction, make-up air, readings against what was computed, compare."""

from __future__ import annotations

from airbough.report import findings
from airbough.report.blocks import Block, Bullets, Chapter, Paragraph, Table
from airbough.report.words import bare, counted, figures, heading, money, percent, plain, quantity, sentence
from airbough.wire.compare import CompareAnswer
from airbough.wire.diagnosis import DiagnosisAnswer
from airbough.wire.make_up_air import MakeUpAirAnswer
from airbough.wire.operating_point import OperatingPointAnswer
from airbough.wire.quantity import duration, printed
from airbough.wire.strength import StrengthAnswer
from airbough.wire.uncertainty import UncertaintyResult
from airbough.wire.working_day import WorkingDayAnswer

_MOST_HOURS = 40  # rows of a day that are printed
_SLOW = ("below-transport-velocity", "chips-may-settle")
_FOUND = {
    "readings-agree": "The readings agree with what was computed, within their spreads.",
    "suspects": "The readings do not agree with what was computed; one of the causes below would explain them.",
    "not-explained": "The readings do not agree with what was computed, and no single cause would explain them.",
}


def working_day(answer: WorkingDayAnswer) -> Chapter:
    """Return what the fan does in the day, and what stays in the duct."""
    system, units = answer.system, answer.units
    words = f"The fan starts {counted(system.starts, 'time')} and runs {_time(system.time_fan_on)}; at most "
    words += f"{counted(system.most_starts, 'start')} in any hour."
    if system.energy is not None:
        words += f" It takes {quantity(system.energy, units, 'energy')}"
        words += "." if system.cost is None else f", {money(system.cost, None)} at the price given."
    left = [
        f"{one.run}: chips of {plain(one.machine)} stay, {plain(one.cause)}, {counted(one.times, 'time')}"
        + ("" if one.carried_out_at is None else f"; carried out at {_clock(one.carried_out_at)}")
        for one in answer.left
    ]
    slow = any(finding.code in _SLOW for finding in answer.findings)
    none = (
        "No chips are sure to stay; some may where air is slower than their dust needs." if slow else "No chips stay."
    )
    blocks: list[Block] = [Paragraph(words), Bullets(left, "CHIPS LEFT") if left else Paragraph(none)]
    return Chapter("A working day", [*blocks, *_hours(answer)])


def _hours(answer: WorkingDayAnswer) -> list[Block]:
    """Return what stands open when, as the clock of the request counts."""
    unit = answer.units.get("flow", "")
    rows = [
        (_clock(one.start), _clock(one.end), ", ".join(one.open_gates) or "none", "runs" if one.fan_on else "stands",
         "" if one.flow is None else bare(one.flow, unit))
        for one in answer.timeline
        if one.fan_on or one.open_gates
    ]  # fmt: skip
    if not rows:
        return []
    headings = ("from", "to", "gates open", "fan", heading("air", answer.units, "flow"))
    shown: list[Block] = [Table(headings, rows[:_MOST_HOURS], left=4)]
    more = len(rows) - _MOST_HOURS
    return shown if more <= 0 else [*shown, Paragraph(f"And {counted(more, 'state')} more.")]


def _clock(seconds: float) -> str:
    """Return a time of the day as hours, minutes and, where there are any, seconds."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes // 60}:{minutes % 60:02}" + (f":{rest:02}" if rest else "")


def _time(seconds: float) -> str:
    """Return a time to the minute from ten minutes on."""
    return duration(seconds if seconds < 600.0 else 60.0 * round(seconds / 60.0))


def strength(answer: StrengthAnswer) -> Chapter:
    """Return which duct would not stand the suction, what holds first."""
    units = answer.units
    if not answer.strengths:
        none = Paragraph("No wall was judged: no run tells its gauge or its wall's thickness.")
        return Chapter("Strength", [none, *_doors(answer)])
    held = [one for one in answer.strengths if one.holds]
    words = f"{len(held)} of {counted(len(answer.strengths), 'run')} hold under the deepest suction, "
    words += f"{quantity(answer.shut_off_suction, units, 'pressure')} at shut-off."
    unit = units.get("pressure", "")
    rows = [
        (one.run, bare(one.worst_suction, unit), bare(one.allowable_suction, unit), percent(one.share),
         "holds" if one.holds else "does not hold")
        for one in sorted(answer.strengths, key=lambda one: -one.share)
    ]  # fmt: skip
    headings = ("run", heading("suction", units, "pressure"), heading("may have", units, "pressure"), "share", "")
    return Chapter("Strength", [Paragraph(words), Table(headings, rows), *_doors(answer)])


def _doors(answer: StrengthAnswer) -> list[Block]:
    """Return what holds doors and lids shut."""
    units = answer.units
    lines = [
        f"{door.name}: {quantity(door.suction, units, 'pressure')} behind {quantity(door.area, units, 'area')} hold it "
        f"shut with {quantity(door.force, units, 'force')}; {quantity(door.edge_force, units, 'force')} at its edge "
        f"open it ({plain(door.state)})"
        for door in answer.doors
    ]
    return [Bullets(lines, "DOORS AND LIDS")] if lines else []


def make_up_air(answer: MakeUpAirAnswer) -> Chapter:
    """Return what leaves the room and must come back."""
    room, units = answer.room, answer.units
    words = f"{quantity(room.make_up_flow, units, 'flow')} must come in from outdoors, "
    words += f"{figures(room.air_changes)} room volumes an hour"
    if room.returned_share > 0.0:
        words += (
            f"; of the {quantity(room.exhaust_flow, units, 'flow')} exhausted {percent(room.returned_share)} come back"
        )
    words += "."
    if room.depressurization is not None:
        words += f" The room falls {quantity(room.depressurization, units, 'pressure')} below outdoors."
    words += f" A grille wants {quantity(room.grille_free_area, units, 'area')} of free area."
    if room.heat_energy is not None:
        words += f" The heat lost is {quantity(room.heat_energy, units, 'energy')}."
    return Chapter("Make-up air", [Paragraph(words)])


def diagnosis(answer: DiagnosisAnswer) -> Chapter:
    """Return readings against what was computed, and what would explain them."""
    rows = [
        (one.run or "the whole", plain(one.quantity), f"{figures(one.value)} {printed(one.unit)}",
         f"{figures(one.computed)} {printed(one.unit)}", figures(one.deviation, 2))
        for one in answer.readings
    ]  # fmt: skip
    table = Table(("where", "what", "read", "computed", "spreads apart"), rows, left=2)
    suspects = [sentence(one.message) for one in answer.suspects if one.plausible]
    outcome = _FOUND.get(answer.outcome, sentence(plain(answer.outcome)))
    blocks: list[Block] = [Paragraph(outcome), table]
    if suspects:
        blocks.append(Bullets(suspects, "WHAT WOULD EXPLAIN IT"))
    return Chapter("Readings", blocks)


def compare(answer: CompareAnswer) -> Chapter:
    """Return two trees side by side."""
    units = answer.units
    unit = units.get("flow", "")

    def flow(value: float | None) -> str:
        return "" if value is None else bare(value, unit)

    rows = [("the whole", flow(answer.before.flow), flow(answer.after.flow))]
    rows += [
        (
            hood.run if hood.machine is None else plain(hood.machine),
            flow(None if hood.before is None else hood.before.flow),
            flow(None if hood.after is None else hood.after.flow),
        )
        for hood in answer.hoods
    ]
    table = Table((heading("flow", units, "flow"), "before", "after"), rows)
    blocks: list[Block] = [table]
    for heading_, items in (("GONE", answer.findings_lost), ("NEW", answer.findings_gained)):
        if items:
            blocks.append(Bullets(findings.once(items), heading_))
    return Chapter("Before and after", blocks)


def how_sure(told: UncertaintyResult, units: dict[str, str]) -> Chapter:
    """Return the band of the flow, how often each check holds, and what matters most."""
    lines = []
    if told.flow is not None:
        low, high = (quantity(value, units, "flow") for value in (told.flow.low, told.flow.high))
        lines.append(f"the fan's flow lies between {low} and {high} in nine of ten draws")
    alike: dict[tuple[str, int], list[str]] = {}
    for check in told.checks:
        places = alike.setdefault((check.check, round(check.share_holding * told.samples)), [])
        places += [] if check.run is None else [check.run]
    for (check_, count), places in alike.items():
        often = "all" if count == told.samples else f"{count} of"
        where = f": {', '.join(places)}" if places else ""
        lines.append(f"{plain(check_)} holds in {often} {told.samples} draws{where}")
    if told.terms:
        terms = ", ".join(plain(term.entry).replace("/", ": ") for term in told.terms)
        lines.append(f"what matters most: {terms}")
    return Chapter("How sure", [Bullets(lines)])


def fans(answer: OperatingPointAnswer) -> Chapter:
    """Return several fans on one shop, with what is found of each."""
    units = answer.units
    flow, pressure = units.get("flow", ""), units.get("pressure", "")
    rows = [
        (
            one.fan,
            "off its curve" if one.flow is None else bare(one.flow, flow),
            "" if one.fan_static_pressure is None else bare(one.fan_static_pressure, pressure),
            "" if one.share_of_design is None else f"{one.most_starved_hood} {percent(one.share_of_design)}",
            ", ".join(plain(code) for code in dict.fromkeys(one.findings)),
        )
        for one in answer.fans
    ]
    headings = ("fan", heading("flow", units, "flow"), heading("against", units, "pressure"), "least served", "found")
    return Chapter("Which fan", [Table(headings, rows)])
