"""The drawing of a tree: ducts on the left, their schedule on the right, findings and key below."""

from __future__ import annotations

from dataclasses import dataclass

from airbough_service.core import deadline
from airbough_service.questions.drawing import (
    findings_list,
    key,
    schedule,
    signs,
)
from airbough_service.questions.drawing.layout import (
    Layout,
    Place,
    Spacing,
    lay_out,
    place,
)
from airbough_service.questions.drawing.picture import (
    DrawnRun,
    Remark,
    TreePicture,
)
from airbough_service.questions.drawing.svg import (
    INK,
    SOFT_INK,
    Sheet,
    marker_width,
)
from airbough_service.questions.drawing.text import (
    clean,
    measure,
    quantity,
    sentence,
    shorten,
    wrap,
)

MARGIN = 24.0
_MANY, _ID_ROOM, _MARKERS = 60, 18.0, 4
_LEAST_WIDTH = 520.0


@dataclass(frozen=True, slots=True)
class _Scale:
    """Sizes: letters, rows, the widest duct and the narrowest."""

    size: float
    row: float
    widest: float
    narrowest: float


_FEW_RUNS = _Scale(11.5, 33.0, 14.0, 4.5)
_MANY_RUNS = _Scale(8.5, 23.0, 8.0, 3.5)


@dataclass(frozen=True, slots=True)
class _Label:
    """A run's label: where it starts, its baseline's height against the row's middle, its reach."""

    x: float
    rise: float
    right: float


def draw(picture: TreePicture) -> Sheet:
    """Return the sheet of a tree."""
    sheet = Sheet()
    scale = _FEW_RUNS if len(picture.runs) <= _MANY else _MANY_RUNS
    table = schedule.columns(picture.runs, picture.preset)
    places, arms = place(picture.runs)
    wide = _duct_widths(picture.runs, scale)
    deepest = max(one.column for one in places)
    spacing_x = max(6.0, min(36.0, 420.0 / (deepest + 1))) * scale.size / 11.5
    left = MARGIN + 20.0
    labels = _labels(picture, places, arms, wide, scale, left, spacing_x)
    general = [remark for remark in picture.remarks if not remark.places]
    box = measure("Collector", scale.size) + 16.0
    hoods_at = max(*(label.right for label in labels), left + box + _markers_width(general, scale), 180.0) + 42.0
    schedule_at = hoods_at + 30.0
    top = _title(sheet, picture, schedule_at) + 2.6 * scale.size + 14.0
    spacing = Spacing(left, top, top - 8.0, scale.row, spacing_x, 0.42 * scale.row)
    layout = lay_out(picture.runs, spacing, hoods_at)
    rows = [one.row for one in places]
    right = schedule.draw(sheet, table, picture.runs, rows, schedule_at, spacing.top, scale.row, scale.size)
    _collector(sheet, general, left, spacing.start, box, scale)
    _ducts(sheet, picture.runs, layout, wide, arms, hoods_at)
    _write_labels(sheet, picture, layout, labels, arms, scale, schedule_at)
    bottom = spacing.top + scale.row * len(rows) + 18.0
    right = max(right, _LEAST_WIDTH)
    zones = bool(layout.zones) or layout.chamber is not None
    bottom = key.draw(sheet, picture, MARGIN, bottom, right, 10.5, zones=zones)
    sheet.text(
        MARGIN, bottom + 14.0, "Not to scale. The width of a duct follows its diameter.", size=10.5, fill=SOFT_INK
    )
    findings_list.draw(sheet, picture.remarks, MARGIN, bottom + 32.0, right, 11.0, "run")
    sheet.reach(right, bottom)
    return sheet


def _title(sheet: Sheet, picture: TreePicture, right: float) -> float:
    """Write title and lines; return where they end."""
    room = max(right, _LEAST_WIDTH) - MARGIN
    y = MARGIN + 14.0
    sheet.text(MARGIN, y, picture.title, size=17.0, bold=True, room=room)
    for line in picture.lines:
        for words in wrap(line, 11.5, room):
            y += 17.0
            sheet.text(MARGIN, y, words, size=11.5, fill=SOFT_INK)
    return y + 14.0


def _duct_widths(runs: tuple[DrawnRun, ...], scale: _Scale) -> list[float]:
    largest = max(run.start for run in runs)
    return [max(scale.narrowest, scale.widest * run.start / largest) for run in runs]


def _labels(
    picture: TreePicture, places: tuple[Place, ...], arms: list[list[int]], wide: list[float], scale: _Scale,
    left: float, column: float,
) -> list[_Label]:  # fmt: skip
    """Return where every run's label goes: above the duct of a leaf, else to the right of it."""
    found = []
    by_number = {remark.number: remark for remark in picture.remarks}
    for index, run in enumerate(picture.runs):
        deadline.check()
        x = left + places[index].column * column + wide[index] / 2 + 6.0
        leaf = not arms[index]
        rise = wide[index] / 2 + 3.5 if leaf else -0.36 * scale.size
        taken = measure(shorten(clean(run.id), scale.size, _ID_ROOM * scale.size), scale.size)
        marks = [by_number[number] for number in run.remarks]
        found.append(_Label(x, rise, x + taken + _markers_width(marks, scale)))
    return found


def _markers_width(marks: list[Remark], scale: _Scale) -> float:
    """Return the room of a run's markers."""
    size = scale.size * 0.82
    shown = sum(marker_width(str(mark.number), size, mark.severity) + 3.0 for mark in marks[:_MARKERS])
    return shown + (measure("+", size) + 3.0 if len(marks) > _MARKERS else 0.0)


def _write_markers(sheet: Sheet, marks: list[Remark], x: float, y: float, scale: _Scale) -> float:
    """Draw markers from x on; those beyond the first few are told by a plus. Return where they end."""
    size = scale.size * 0.82
    for mark in marks[:_MARKERS]:
        x += sheet.marker(x, y, size, str(mark.number), mark.severity) + 3.0
    if len(marks) > _MARKERS:
        x += sheet.text(x, y + size * 0.36, "+", size=size, bold=True) + 3.0
    return x


def _collector(sheet: Sheet, general: list[Remark], left: float, bottom: float, box: float, scale: _Scale) -> None:
    """Draw the collector and the markers of what concerns the whole."""
    high = scale.size * 1.9
    sheet.rectangle(left - 14.0, bottom - high, box, high, fill="#e3e7eb", stroke=INK, line=1.4)
    sheet.text(left - 14.0 + box / 2, bottom - high / 2 + scale.size * 0.36, "Collector", size=scale.size, bold=True,
               anchor="middle")  # fmt: skip
    _write_markers(sheet, general, left - 8.0 + box, bottom - high / 2, scale)


def _filling(run: DrawnRun) -> signs.Filling:
    if run.idle:
        return "idle"
    return "unknown" if run.flow is None else "flowing"


def _ducts(
    sheet: Sheet, runs: tuple[DrawnRun, ...], layout: Layout, wide: list[float], arms: list[list[int]], hoods_at: float
) -> None:
    """Draw every run's duct, then what sits on it."""
    for course, width in zip(layout.courses, wide, strict=True):
        signs.wall(sheet, course, width)
    for run, course, width in zip(runs, layout.courses, wide, strict=True):
        signs.inside(sheet, course, width, _filling(run), hose=run.hose)
    if layout.chamber is not None:
        signs.zone(sheet, *layout.chamber, max(wide))
    for index, start, end in layout.zones:
        signs.zone(sheet, start, end, wide[index])
    for index, run in enumerate(runs):
        deadline.check()
        _on_duct(sheet, run, index, layout, wide[index], hoods_at, leaf=not arms[index])


def _on_duct(
    sheet: Sheet, run: DrawnRun, index: int, layout: Layout, width: float, hoods_at: float, *, leaf: bool
) -> None:
    """Draw a run's hood, gate and arrow."""
    x, y = layout.anchors[index]
    flowing = _filling(run) == "flowing"
    if leaf:
        signs.hood(sheet, hoods_at, y, width, 12.0, _filling(run))
        if flowing:
            signs.arrow(sheet, hoods_at - 27.0, y, width, upright=False)
        if run.opening is not None:
            signs.gate(sheet, hoods_at - 11.0, y, width, run.opening, upright=False)
        return
    if flowing and not layout.places[index].sideways:
        signs.arrow(sheet, x, y - 5.0, width, upright=True)
    if run.opening is not None:
        signs.gate(sheet, x, y + 6.0, width, run.opening, upright=True)


def _write_labels(
    sheet: Sheet, picture: TreePicture, layout: Layout, labels: list[_Label], arms: list[list[int]], scale: _Scale,
    schedule_at: float,
) -> None:  # fmt: skip
    """Write every run's id, its markers, and the dotted line to its row of the schedule."""
    by_number = {remark.number: remark for remark in picture.remarks}
    for index, run in enumerate(picture.runs):
        deadline.check()
        label, y = labels[index], layout.anchors[index][1]
        ink = SOFT_INK if run.idle else INK
        room = _ID_ROOM * scale.size
        marks = [by_number[number] for number in run.remarks]
        x = _write_markers(sheet, marks, label.x, y - label.rise - 0.36 * scale.size, scale)
        end = x + sheet.text(x, y - label.rise, run.id, size=scale.size, bold=True, fill=ink, room=room)
        if arms[index]:
            signs.leader(sheet, (end + 4.0, y), (schedule_at - 10.0, y))


def description(picture: TreePicture) -> str:
    """Return the drawing in words, for those who do not see it; long trees are cut."""
    hoods = len(picture.runs) - len({run.into for run in picture.runs if run.into is not None})
    told = [f"{len(picture.runs)} runs, {hoods} hoods.", *(f"{line}." for line in picture.lines)]
    for run in picture.runs[:_MANY]:
        into = "the collector" if run.into is None else picture.runs[run.into].id
        words = [f"{run.id} into {into}", f"diameter {quantity('diameter', run.start, picture.preset)}"]
        if run.flow is not None:
            words.append("no flow" if run.idle else quantity("flow", run.flow, picture.preset))
        if run.velocity is not None and not run.idle:
            words.append(quantity("velocity", run.velocity, picture.preset))
        if run.opening is not None:
            words.append(f"gate {schedule.state(run.opening)}")
        told.append(", ".join(words) + ".")
    told += [f"{remark.severity.capitalize()} {remark.number}: {sentence(remark.text)}" for remark in picture.remarks]
    return " ".join(told)
