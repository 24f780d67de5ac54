"""The diagram of a fan: its curve, what the system needs in each state of the gates, and where they cross."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from airbough_service.questions.drawing import (
    findings_list,
    key,
)
from airbough_service.questions.drawing.axis import (
    Axis,
    axis,
    spread,
)
from airbough_service.questions.drawing.picture import (
    Crossed,
    DrawnState,
    FanPicture,
)
from airbough_service.questions.drawing.svg import (
    HAIR,
    INK,
    PAPER,
    SOFT_INK,
    Point,
    Sheet,
)
from airbough_service.questions.drawing.text import (
    quantity,
    sentence,
    unit,
    wrap,
)

MARGIN = 24.0
_PLOT: Final = (92.0, 560.0, 400.0)  # left, width, height
_LABELS_AT: Final = 690.0
_LABEL_ROOM: Final = 230.0
_SIZE: Final = 11.5
_LINE: Final = 15.0
_STYLES: Final = (
    ("#0072b2", ""),
    ("#d55e00", "9 4"),
    ("#007a5a", "2.5 3"),
    ("#8a4a78", "11 3 2.5 3"),
    ("#4d5761", "16 5"),
    ("#0072b2", "6 2 1.5 2 1.5 2"),
    ("#d55e00", "3 6"),
    ("#007a5a", "14 3 5 3"),
    ("#8a4a78", "5 5"),
    ("#4d5761", "1.5 5"),
    ("#0072b2", "20 4 2 4"),
    ("#d55e00", "1.5 2"),
)
"""Colour and dash of each state: told apart by either alone for the first five, by both together beyond."""


@dataclass(frozen=True, slots=True)
class _Plot:
    """Two axes and the edges of the plot."""

    flow: Axis
    pressure: Axis

    def at(self, flow: float, pressure: float) -> Point:
        return self.flow.at(flow), self.pressure.at(pressure)


def style(index: int) -> tuple[str, str]:
    """Return colour and dash of a state."""
    return _STYLES[index % len(_STYLES)]


def draw(picture: FanPicture) -> Sheet:
    """Return the sheet of a fan."""
    sheet = Sheet()
    right = _LABELS_AT + _LABEL_ROOM
    top = _title(sheet, picture, right - MARGIN) + 34.0
    plot = _axes(picture, top)
    _grid(sheet, plot, picture)
    _beyond(sheet, plot, picture)
    for index, state in enumerate(picture.states):
        colour, dash = style(index)
        for piece in _visible(plot, state.curve):
            sheet.path(piece, stroke=colour, width=1.9, dash=dash)
    drawn = [plot.at(*point) for point in picture.fan if point[1] >= 0.0]
    if len(drawn) > 1:
        sheet.path(drawn, width=2.6)
    for x, y in (plot.at(*point) for point in picture.points):
        sheet.rectangle(x - 3.0, y - 3.0, 6.0, 6.0, fill=PAPER, stroke=INK, line=1.3)
    low = _labels(sheet, plot, picture)
    for state in picture.states:
        for crossing in state.crossings:
            _mark(sheet, *plot.at(crossing.flow, crossing.pressure), stable=crossing.stable)
    bottom = max(plot.pressure.start + 58.0, low + 18.0)
    bottom = key.write(sheet, _key(picture), MARGIN, bottom, right, 10.5)
    findings_list.draw(sheet, picture.remarks, MARGIN, bottom + 16.0, right, 11.0, "state")
    sheet.reach(right, bottom)
    return sheet


def _title(sheet: Sheet, picture: FanPicture, room: float) -> float:
    y = MARGIN + 14.0
    sheet.text(MARGIN, y, picture.title, size=17.0, bold=True, room=room)
    for line in picture.lines:
        for words in wrap(line, _SIZE, room):
            y += 17.0
            sheet.text(MARGIN, y, words, size=_SIZE, fill=SOFT_INK)
    return y + 6.0


def _axes(picture: FanPicture, top: float) -> _Plot:
    left, width, height = _PLOT
    most_flow = 1.06 * picture.fan[-1][0]
    highest = max(pressure for _, pressure in picture.fan)
    offs = [state.off_curve.pressure for state in picture.states if state.off_curve is not None]
    most_pressure = 1.06 * min(max(highest, *offs, 1.0e-6), 1.5 * max(highest, 1.0e-6))
    flow = axis("flow", most_flow, picture.preset, left, left + width, 10)
    return _Plot(flow, axis("pressure", most_pressure, picture.preset, top + height, top, 8))


def _grid(sheet: Sheet, plot: _Plot, picture: FanPicture) -> None:
    """Draw grid, figures and names of the axes."""
    left, right = plot.flow.start, plot.flow.end
    top, bottom = plot.pressure.end, plot.pressure.start
    for x, figure in plot.flow.ticks():
        sheet.path([(x, top), (x, bottom + 5.0)], stroke="#d9dee3", width=0.8)
        sheet.text(x, bottom + 18.0, figure, size=_SIZE - 1.0, anchor="middle")
    for y, figure in plot.pressure.ticks():
        sheet.path([(left - 5.0, y), (right, y)], stroke="#d9dee3", width=0.8)
        sheet.text(left - 9.0, y + 4.0, figure, size=_SIZE - 1.0, anchor="end")
    sheet.path([(left, top), (left, bottom), (right, bottom)], width=1.2)
    name = f"Fan static pressure, {unit('pressure', picture.preset)}"
    sheet.text(MARGIN, top - 14.0, name, size=_SIZE, bold=True)
    name = f"Flow, {unit('flow', picture.preset)}"
    sheet.text((left + right) / 2, bottom + 38.0, name, size=_SIZE, bold=True, anchor="middle")


def _beyond(sheet: Sheet, plot: _Plot, picture: FanPicture) -> None:
    """Hatch the flows for which the fan's curve says nothing."""
    first, last = plot.flow.at(picture.fan[0][0]), plot.flow.at(picture.fan[-1][0])
    top, bottom = plot.pressure.end, plot.pressure.start
    for left, right in ((plot.flow.start, first), (last, plot.flow.end)):
        if right - left > 0.5:
            hatch(sheet, left, right, top, bottom)


def hatch(sheet: Sheet, left: float, right: float, top: float, bottom: float) -> None:
    """Fill a rectangle with slanted lines."""
    wide = right - left
    y = top + 9.0
    while y < bottom + wide:
        rise = min(wide, y - top)
        skip = max(0.0, y - bottom)
        if skip < rise:
            sheet.path([(left + skip, y - skip), (left + rise, y - rise)], stroke=HAIR, width=0.8)
        y += 9.0


def _visible(plot: _Plot, curve: Sequence[tuple[float, float]]) -> list[list[Point]]:
    """Return a rising curve's part inside the plot, cut where it leaves at the top or to the right."""
    ceiling, edge = plot.pressure.end, plot.flow.end
    inside: list[Point] = []
    for x, y in (plot.at(*point) for point in curve):
        if y < ceiling or x > edge:
            if inside:
                before_x, before_y = inside[-1]
                share = min(
                    (before_y - ceiling) / (before_y - y) if y < ceiling else 1.0,
                    (edge - before_x) / (x - before_x) if x > edge else 1.0,
                )
                inside.append((before_x + share * (x - before_x), before_y + share * (y - before_y)))
            break
        inside.append((x, y))
    return [inside] if len(inside) > 1 else []


def _mark(sheet: Sheet, x: float, y: float, *, stable: bool) -> None:
    """Draw a crossing: a full dot where stable, a ring with a cross where not."""
    if stable:
        sheet.circle(x, y, 4.6, fill=INK, stroke=PAPER)
        return
    sheet.circle(x, y, 5.6, fill=PAPER, line=1.4)
    sheet.path([(x - 3.6, y - 3.6), (x + 3.6, y + 3.6)], width=1.3)
    sheet.path([(x - 3.6, y + 3.6), (x + 3.6, y - 3.6)], width=1.3)


def words_of(state: DrawnState, preset: str) -> list[str]:
    """Return what is to be said of a state, line by line."""
    lines = []
    for crossing in state.crossings:
        unstable = "" if crossing.stable else ", unstable"
        flow, pressure = quantity("flow", crossing.flow, preset), quantity("pressure", crossing.pressure, preset)
        lines.append(f"{flow} at {pressure}{unstable}")
    off = state.off_curve
    if off is not None:
        bound, end = ("at least", "end") if state.beyond == "high" else ("at most", "beginning")
        lines += [f"beyond the fan's curve: {bound} {quantity('flow', off.flow, preset)};",
                  f"needs {quantity('pressure', off.pressure, preset)} at the curve's {end}"]  # fmt: skip
    return lines or ["no flow"]


def _anchor(state: DrawnState, picture: FanPicture) -> tuple[float, float]:
    """Return the point that a state's label speaks of."""
    stable = [crossing for crossing in state.crossings if crossing.stable] or list(state.crossings)
    told: Crossed | None = stable[0] if stable else state.off_curve
    return (told.flow, told.pressure) if told is not None else picture.fan[0]


def _labels(sheet: Sheet, plot: _Plot, picture: FanPicture) -> float:
    """Write every state's label with its leader, highest first; return how far down they reach."""
    room = _LABEL_ROOM
    blocks = []
    for index, state in enumerate(picture.states):
        lines = [line for words in words_of(state, picture.preset) for line in wrap(words, _SIZE - 1.0, room)]
        x, y = plot.at(*_anchor(state, picture))
        inside = (x, min(max(y, plot.pressure.end), plot.pressure.start))
        blocks.append((inside, index, state, lines))
    blocks.sort(key=lambda block: (block[0][1], -block[0][0]))
    heights = [_LINE * (1 + len(lines)) for _, _, _, lines in blocks]
    middles = [point[1] for point, _, _, _ in blocks]
    tops = spread(middles, heights, plot.pressure.end, plot.pressure.start, 9.0)
    low = plot.pressure.start
    for (point, index, state, lines), top, height in zip(blocks, tops, heights, strict=True):
        _leader(sheet, point, plot.flow.end, top + 8.0)
        _label(sheet, state, index, lines, top, room)
        low = max(low, top + height)
    return low


def _leader(sheet: Sheet, point: Point, edge: float, y: float) -> None:
    x = point[0]
    sheet.path([point, (max(x, edge + 3.0), point[1]), (_LABELS_AT - 5.0, y)], stroke=SOFT_INK, width=0.7)


def _label(sheet: Sheet, state: DrawnState, index: int, lines: Sequence[str], top: float, room: float) -> None:
    colour, dash = style(index)
    sheet.path([(_LABELS_AT, top + 8.0), (_LABELS_AT + 40.0, top + 8.0)], stroke=colour, width=2.4, dash=dash)
    sheet.text(_LABELS_AT + 48.0, top + 12.0, state.name, size=_SIZE, bold=True, room=room - 48.0)
    for number, line in enumerate(lines, start=1):
        sheet.text(_LABELS_AT, top + 12.0 + _LINE * number, line, size=_SIZE - 1.0)


def _key(picture: FanPicture) -> list[tuple[str, key.Sign]]:
    """Return the signs that the diagram uses."""

    def curve(sheet: Sheet, x: float, y: float) -> None:
        sheet.path([(x, y), (x + 34.0, y)], width=2.6)
        if picture.points:
            sheet.rectangle(x + 14.0, y - 3.0, 6.0, 6.0, fill=PAPER, stroke=INK, line=1.3)

    crossings = [crossing for state in picture.states for crossing in state.crossings]
    found: list[tuple[str, key.Sign]] = [
        ("fan, and the points it was given by" if picture.points else "fan, its curve guessed", curve)
    ]
    if any(crossing.stable for crossing in crossings):
        found.append(("stable crossing", lambda sheet, x, y: _mark(sheet, x + 17.0, y, stable=True)))
    if any(not crossing.stable for crossing in crossings):
        found.append(("unstable crossing", lambda sheet, x, y: _mark(sheet, x + 17.0, y, stable=False)))
    found.append(("no curve given here", lambda sheet, x, y: hatch(sheet, x, x + 34.0, y - 7.0, y + 7.0)))
    return found


def description(picture: FanPicture) -> str:
    """Return the diagram in words, for those who do not see it."""
    first, last = picture.fan[0], picture.fan[-1]
    told = [*(f"{line}." for line in picture.lines)]
    ends = [
        f"{quantity('flow', flow, picture.preset)} at {quantity('pressure', pressure, picture.preset)}"
        for flow, pressure in (first, last)
    ]
    told.append(f"Fan curve from {ends[0]} to {ends[1]}.")
    told += [f"State {state.name}: {' '.join(words_of(state, picture.preset))}." for state in picture.states]
    told += [f"{remark.severity.capitalize()} {remark.number}: {sentence(remark.text)}" for remark in picture.remarks]
    return " ".join(told)
