"""The drawing of a tree: no label on another, no duct across another, any size, any name."""

import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from airbough_service.questions.drawing import tree_svg
from airbough_service.questions.drawing.layout import (
    Spacing,
    lay_out,
    place,
)
from airbough_service.questions.drawing.picture import (
    DrawnRun,
    TreePicture,
)
from drawings import meeting, segments, tree

SPACING = Spacing(left=40.0, top=100.0, start=92.0, row=33.0, column=36.0, slant=14.0)


@settings(max_examples=60, deadline=None)
@given(hoods=st.integers(1, 24), seed=st.integers(0, 10**6), long=st.booleans(), flows=st.booleans())
def test_no_label_meets_another(hoods, seed, long, flows):
    picture = tree(hoods, seed, "us" if seed % 2 else "metric", long, flows)
    sheet = tree_svg.draw(picture)
    assert meeting(sheet.boxes) == []
    assert min(box.left for box in sheet.boxes) >= 0.0
    assert max(box.right for box in sheet.boxes) <= sheet.right + 0.01


@settings(max_examples=60, deadline=None)
@given(hoods=st.integers(2, 30), seed=st.integers(0, 10**6))
def test_no_duct_crosses_another(hoods, seed):
    runs = tree(hoods, seed).runs
    layout = lay_out(runs, SPACING, 400.0)
    pieces = [(index, piece) for index, course in enumerate(layout.courses) for piece in segments(course)]
    for order, (index, piece) in enumerate(pieces):
        for other, against in pieces[order + 1 :]:
            if index != other:
                assert not crosses(piece, against), (runs[index].id, runs[other].id)


def crosses(one, other):
    """Return whether two pieces cross at an inner point of both (ends may touch: that is a junction)."""
    (a, b), (c, d) = one, other

    def side(p, q, r):
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < -1e-6 and side(c, d, a) * side(c, d, b) < -1e-6


@settings(max_examples=40, deadline=None)
@given(hoods=st.integers(2, 30), seed=st.integers(0, 10**6))
def test_every_run_ends_where_its_duct_begins(hoods, seed):
    runs = tree(hoods, seed).runs
    layout = lay_out(runs, SPACING, 400.0)
    zones = {index: (start, end) for index, start, end in layout.zones}
    into = {run.into for run in runs}
    for index, run in enumerate(runs):
        if index not in into:
            assert layout.courses[index][-1][0] == 400.0
        if run.into is None:
            continue
        x, y = layout.courses[index][0]
        low, high = zones.get(run.into, (layout.courses[run.into][-1],) * 2)
        assert x == pytest.approx(low[0])
        assert low[1] - 1e-9 <= y <= high[1] + 1e-9


def test_what_goes_straight_keeps_its_column_and_each_run_has_its_own_row():
    picture = tree(20, 7)
    places, _ = place(picture.runs)
    assert sorted(one.row for one in places) == list(range(len(picture.runs)))
    for index, run in enumerate(picture.runs):
        if run.straight:
            assert places[index].column == places[run.into].column


@pytest.mark.parametrize("shape", ["series", "comb", "star"])
def test_a_thousand_runs_are_drawn(shape):
    count = 1000
    parents = {
        "series": [None, *range(count - 1)],
        "star": [None] * count,
        "comb": [None, *(index - (index % 2 == 0) - 1 for index in range(1, count))],
    }[shape]
    straight = [shape == "comb" and index % 2 == 1 for index in range(count)]
    runs = [
        DrawnRun(f"r{i}", into, 0.1, 0.1, 1.0, straight=on)
        for i, (into, on) in enumerate(zip(parents, straight, strict=True))
    ]
    picture = TreePicture("t", (), "metric", tuple(runs))
    sheet = tree_svg.draw(picture)
    assert meeting(sheet.boxes) == []
    assert sheet.right < 4000.0
    svg, _, _ = sheet.render("t", tree_svg.description(picture), 24.0)
    assert svg.count(">r999<") == 1
    ElementTree.fromstring(svg)


def test_a_name_cut_short_is_told_in_full():
    name = "dust collection drop behind the long bench by the window"
    runs = (DrawnRun(name, None, 0.1, 0.1, 1.0),)
    svg, _, _ = tree_svg.draw(TreePicture("t", (), "metric", runs)).render("t", "d", 24.0)
    told = [text for text in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text") if len(text)]
    assert [text[0].text for text in told] == [name]
    shown = "".join(told[0].itertext())[len(name) :]
    assert shown.endswith("…")
    assert name.startswith(shown[:-1])
    assert len(shown) > 12


def test_states_are_told_without_colour():
    base = tree(6, 3)
    runs = tuple(replace(run, idle=False, opening=None, hose=False, remarks=()) for run in base.runs)
    plain, _, _ = tree_svg.draw(replace(base, runs=runs)).render("t", "d", 24.0)
    for change, sign in (({"idle": True}, 'stroke-dasharray="5 4"'), ({"hose": True}, 'stroke-dasharray="1 3.4"')):
        assert sign not in plain
        svg, _, _ = tree_svg.draw(replace(base, runs=(*runs[:-1], replace(runs[-1], **change)))).render("t", "d", 24.0)
        assert sign in svg
    for opening, words in ((0.0, ">shut<"), (0.5, ">50 % open<"), (1.0, ">open<")):
        assert words not in plain
        svg, _, _ = tree_svg.draw(replace(base, runs=(*runs[:-1], replace(runs[-1], opening=opening)))).render(
            "t", "d", 24.0
        )
        assert words in svg
