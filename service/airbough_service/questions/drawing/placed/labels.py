"""Labels beside what they name: each where it covers no duct, no machine and no other label."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise, product

from airbough_service.questions.drawing.svg import INK, PAPER, SOFT_INK, Box, Point, Sheet
from airbough_service.questions.drawing.text import clean, measure, shorten

Leader = tuple[Point, Point]

_STEP = 5.0
_STRAIGHT = ((1.0, 0.0), (-1.0, 0.0), (0.0, -1.0), (0.0, 1.0), (1.0, -1.0), (-1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))
_ASLANT = tuple(
    (across, down) for one, other in ((1.0, 0.4), (0.4, 1.0)) for across in (one, -one) for down in (-other, other)
)
_DIRECTIONS = _STRAIGHT + _ASLANT
_DISTANCES = (4.0, 10.0, 18.0, 28.0, 42.0, 60.0, 84.0, 112.0)
_LED = 12.0  # px from which a line leads to what is named
_LINE, _SIDE = 1.28, 1.5
_ONE = 40.0  # px: what is the same within this is named once
_SQUARE = 24.0  # px of the grid by which what is in the way is found
_HAIR = 0.5  # px, half a leader's width, about
_SHARES = (0.5, 0.35, 0.65, 0.2, 0.8)  # of a line, where its words are tried


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a label."""

    words: str
    bold: bool = False


@dataclass(slots=True)
class Taken:
    """Boxes in the way, found by the squares of a grid that they touch."""

    squares: dict[tuple[int, int], list[Box]] = field(default_factory=dict)

    def add(self, box: Box) -> None:
        """Put a box in the way."""
        for square in _squares(box):
            self.squares.setdefault(square, []).append(box)

    def meets(self, box: Box) -> bool:
        """Return whether something in the way shares any area with a box."""
        return any(box.meets(other) for square in _squares(box) for other in self.squares.get(square, ()))


def _squares(box: Box) -> Iterator[tuple[int, int]]:
    """Return the squares of the grid that a box touches."""
    across = range(int(box.left // _SQUARE), int(box.right // _SQUARE) + 1)
    down = range(int(box.top // _SQUARE), int(box.bottom // _SQUARE) + 1)
    return product(across, down)


@dataclass(slots=True)
class Labels:
    """What is in the way so far, and the field that labels stay in."""

    sheet: Sheet
    frame: Box
    taken: Taken = field(default_factory=Taken)
    leaders: list[Leader] = field(default_factory=list)
    named: list[tuple[object, Point]] = field(default_factory=list)

    def block(self, left: float, top: float, right: float, bottom: float) -> None:
        """Keep labels off a rectangle."""
        self.taken.add(Box(left, top, right, bottom, ""))

    def block_line(self, points: Sequence[Point], half: float) -> None:
        """Keep labels off a line of this half width."""
        for box in _along(points, half):
            self.taken.add(box)

    def write(self, at: Point, lines: Sequence[Line], size: float, room: float, near: float = 0.0,
              or_at: Sequence[Point] = ()) -> bool:  # fmt: skip
        """Write a label near a point; return False where there is no room, which leaves it to the schedule.

        Args:
            at: what is named, px.
            lines: of the label.
            size: of its letters.
            room: width that a line may take.
            near: distance kept from the point, px.
            or_at: further points of what is named, where the label may stand as well.
        """
        texts = [shorten(clean(line.words), size, room) for line in lines]
        wide, high = max(measure(text, size) for text in texts), _LINE * size * len(texts)
        spot = self._spot((at, *or_at), wide, high, near)
        if spot is None:
            return False
        box, leader = spot
        if leader is not None:
            self.sheet.path(leader, stroke=SOFT_INK, width=0.6)
            self.block_line(leader, _HAIR)
            self.leaders.append(leader)
        for number, line in enumerate(lines):
            y = box.top + size * (0.95 + _LINE * number)
            self.sheet.text(
                box.left, y, line.words, size=size, bold=line.bold, room=room, fill=INK if line.bold else SOFT_INK
            )
        self.taken.add(box)
        return True

    def write_name(self, at: Point, lines: Sequence[Line], size: float, room: float, near: float,
                   same: object | None = None) -> bool:  # fmt: skip
        """Write a label, or its first line alone where there is no room for all; return False where for none.

        What is the `same` as something close by, such as the second port of a machine, is not named again.
        """
        if same is not None and any(same == other and math.dist(at, place) < _ONE for other, place in self.named):
            return True
        self.named.append((same, at))
        return self.write(at, lines, size, room, near) or (
            len(lines) > 1 and self.write(at, lines[:1], size, room, near)
        )

    def write_on(self, at: Point, lines: Sequence[Line], size: float, room: float) -> bool:
        """Write a label over a point, on paper; return False where it would cover something or leave the field."""
        wide = max(measure(shorten(clean(line.words), size, room), size) for line in lines) + 2 * _SIDE
        high = _LINE * size * len(lines)
        box = Box(at[0] - wide / 2, at[1] - high / 2, at[0] + wide / 2, at[1] + high / 2, "")
        if not self._inside(box) or self.taken.meets(box):
            return False
        self.sheet.rectangle(box.left, box.top - 2.0, wide, high + 4.0, fill=PAPER)
        for number, line in enumerate(lines):
            y = box.top + size * (0.95 + _LINE * number)
            self.sheet.text(at[0], y, line.words, size=size, bold=line.bold, room=room, anchor="middle")
        self.taken.add(box)
        return True

    def _spot(self, ats: Sequence[Point], wide: float, high: float, near: float) -> tuple[Box, Leader | None] | None:
        """Return the first free place around one of the points, the nearest first, and the line that leads to it.

        A place whose leader passes over another label or leader is taken only where there is no other.
        """
        crossing = None
        for distance in _DISTANCES:
            away = near + distance
            for at, (across, down) in product(ats, _DIRECTIONS):
                x = at[0] + across * away - (wide if across < 0 else wide / 2 if across == 0 else 0.0)
                y = at[1] + down * away - (high if down < 0 else high / 2 if down == 0 else 0.0)
                box = Box(x - _SIDE, y, x + wide + _SIDE, y + high, "")
                if not self._inside(box) or self.taken.meets(box):
                    continue
                leader = _leader(at, box) if distance >= _LED else None
                if leader is None or not self._crosses(leader):
                    return box, leader
                crossing = crossing or (box, leader)
        return crossing

    def _crosses(self, leader: Leader) -> bool:
        words = (piece.meets(box) for piece in _along(leader, _HAIR) for box in self.sheet.boxes)
        return any(words) or any(_cross(leader, other) for other in self.leaders)

    def _inside(self, box: Box) -> bool:
        own = self.frame
        return own.left <= box.left and box.right <= own.right and own.top <= box.top and box.bottom <= own.bottom


def _along(points: Sequence[Point], half: float) -> Iterator[Box]:
    """Yield squares that cover a line of this half width."""
    for (ax, ay), (bx, by) in pairwise(points):
        count = max(1, int(max(abs(bx - ax), abs(by - ay)) / _STEP))
        for index in range(count + 1):
            x, y = ax + (bx - ax) * index / count, ay + (by - ay) * index / count
            yield Box(x - half, y - half, x + half, y + half, "")


def points_along(start: Point, end: Point) -> list[Point]:
    """Return the points of a line beside which its words are tried, its middle first."""
    return [(start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])) for share in _SHARES]


def _leader(at: Point, box: Box) -> Leader:
    """Return the thin line from what is named to its label."""
    return at, (min(max(at[0], box.left), box.right), min(max(at[1], box.top), box.bottom))


def _cross(one: Leader, other: Leader) -> bool:
    """Return whether two lines cross within their lengths."""

    def turn(line: Leader, point: Point) -> float:
        (ax, ay), (bx, by) = line
        return (bx - ax) * (point[1] - ay) - (by - ay) * (point[0] - ax)

    return all(turn(line, far[0]) * turn(line, far[1]) < 0.0 for line, far in ((one, other), (other, one)))
