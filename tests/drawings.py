"""Invented pictures for the tests of drawings."""

import random
from itertools import pairwise

from airbough_service.questions.drawing.picture import (
    Crossed,
    DrawnRun,
    DrawnState,
    FanPicture,
    Remark,
    TreePicture,
)

LONG = (
    "the very long name that somebody gave to a run in an invented shop",
    "WWWWWWWWWW mmmmmmmmmm",
    "鋸と鉋と集塵機",
    "Säge Ø 4",
)
MACHINES = ("table-saw", "planer", "drum-sander with a name that goes on and on and on", "")
REMARKS = (
    Remark(1, "below-transport-velocity", "danger", "air is too slow to carry the dust", ("a", "b")),
    Remark(2, "hood-starved", "warning", "a hood gets less than its design flow", ("a",)),
    Remark(3, "needlessly-fast", "note", "faster than its purpose needs", ()),
    *(Remark(n, f"invented-code-{n}", "warning", "an invented finding", ("a",)) for n in range(4, 12)),
)


def branching(hoods, seed):
    """Return parents, straight arms and square arms of a random tree with this many hoods."""
    chance = random.Random(seed)
    parents, straight = [], []
    waiting = [(None, hoods, False)]
    if hoods > 4 and chance.random() < 0.3:
        waiting = [(None, 2, False), (None, hoods - 2, False)]
    while waiting:
        into, below, goes_on = waiting.pop(chance.randrange(len(waiting)))
        parents.append(into)
        straight.append(goes_on)
        index = len(parents) - 1
        if below == 1:
            continue
        kind = chance.random()
        if kind < 0.1:
            waiting.append((index, below, False))  # a change of bore, no junction
            continue
        parts = [below - 2, 1, 1] if below >= 3 and kind < 0.25 else [below - (k := chance.randint(1, below - 1)), k]
        keeps = chance.random() < 0.8
        waiting += [(index, part, keeps and order == 0) for order, part in enumerate(parts)]
    return parents, straight


def tree(hoods, seed, preset="metric", long_names=False, flows=True):
    """Return a picture of a random tree."""
    chance = random.Random(seed)
    parents, straight = branching(hoods, seed)
    leaves = set(range(len(parents))) - {parent for parent in parents if parent is not None}
    runs = []
    for index, into in enumerate(parents):
        leaf = index in leaves
        opening = chance.choice((None, 0.0, 0.35, 1.0)) if leaf or chance.random() < 0.2 else None
        idle = flows and opening == 0.0
        bore = chance.choice((0.08, 0.1, 0.125, 0.15, 0.2, 0.3))
        flow = (0.0 if idle else chance.uniform(0.01, 2.0)) if flows else None
        runs.append(
            DrawnRun(
                id=f"{chance.choice(LONG)} {index}" if long_names else f"run {index}",
                into=into,
                start=bore,
                end=bore if chance.random() < 0.8 else 0.8 * bore,
                length=chance.uniform(0.0, 12.0),
                straight=straight[index],
                square=chance.random() < 0.2,
                hose=leaf and chance.random() < 0.5,
                machine=chance.choice(MACHINES) if leaf else "",
                flow=flow,
                velocity=None if flow is None else flow / (3.14159 * bore * bore / 4),
                design_flow=0.2 if leaf else None,
                share=flow / 0.2 if leaf and flow else None,
                idle=idle,
                opening=opening,
                remarks=tuple(sorted(chance.sample(range(1, 12), chance.choice((0, 0, 1, 2, 7))))),
            )
        )
    return TreePicture("Invented shop", ("Operating point, invented", "Air, invented"), preset, tuple(runs), REMARKS)


def fan(seed, preset="metric", states=5):
    """Return a picture of a fan with random parabolas as systems, crossed on a straight fan curve."""
    chance = random.Random(seed)
    first, last, end = chance.uniform(800.0, 4000.0), chance.uniform(0.0, 700.0), chance.uniform(0.2, 3.0)
    drawn = []
    for index in range(states):
        k = first / end**2 * 10 ** chance.uniform(-1.5, 2.0)
        curve = tuple((q, k * q * q) for q in (1.4 * end * i / 60 for i in range(61)))
        slope = (first - last) / end
        at = (-slope + (slope * slope + 4 * k * first) ** 0.5) / (2 * k)
        on = at <= end
        crossed = (Crossed(at, k * at * at, stable=chance.random() < 0.8),) if on else ()
        off = None if on else Crossed(end, k * end * end)
        name = f"{chance.choice(LONG)} {index}"
        drawn.append(DrawnState(name, curve, crossed, off, "" if on else "high"))
    drawn.append(DrawnState("all shut", ()))
    points = ((0.0, first), (end / 2, (first + last) / 2), (end, last))
    return FanPicture("Invented fan", ("an invented line",), preset, points, points, tuple(drawn), REMARKS[:2])


def meeting(boxes):
    """Return the words of every two boxes that share area."""
    ordered = sorted(boxes, key=lambda box: box.top)
    found = []
    for index, box in enumerate(ordered):
        for other in ordered[index + 1 :]:
            if other.top >= box.bottom:
                break
            if box.meets(other):
                found.append((box.words, other.words))
    return found


def segments(course):
    """Return a course as pairs of points."""
    return list(pairwise(course))
