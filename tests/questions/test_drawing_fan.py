"""The diagram of a fan: curves where they belong, crossings on both, ends told, labels apart."""

import math
import re
import xml.etree.ElementTree as ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from airbough_service.questions.drawing import (
    axis,
    fan_svg,
)
from airbough_service.questions.drawing.picture import (
    Crossed,
    DrawnState,
    FanPicture,
)
from drawings import fan, meeting

LINE = ((0.0, 2000.0), (0.5, 1000.0), (1.0, 0.0))


def diagram(*states, preset="metric"):
    picture = FanPicture("t", (), preset, LINE, LINE, states)
    return fan_svg.draw(picture).render("t", fan_svg.description(picture), 24.0)[0]


def circles(svg):
    return [
        (float(circle.get("cx")), float(circle.get("cy")), circle.get("fill"))
        for circle in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}circle")
    ]


def courses(svg, **wanted):
    found = []
    for path in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}path"):
        if all(path.get(name.replace("_", "-")) == value for name, value in wanted.items()):
            numbers = [float(n) for n in re.findall(r"-?[0-9.]+", path.get("d"))]
            found.append(list(zip(numbers[::2], numbers[1::2], strict=True)))
    return found


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**6), states=st.integers(0, 11))
def test_no_label_meets_another(seed, states):
    sheet = fan_svg.draw(fan(seed, "us" if seed % 2 else "metric", states))
    assert meeting(sheet.boxes) == []
    assert max(box.right for box in sheet.boxes) <= sheet.right + 0.01
    assert max(box.bottom for box in sheet.boxes) <= sheet.bottom + 0.01


def test_a_crossing_is_drawn_where_its_axes_say():
    # Fan 2000 - 2000 q, system 2000 q^2 (Pa, m3/s): they cross at q = (sqrt 5 - 1)/2, by hand.
    q = (math.sqrt(5.0) - 1.0) / 2.0
    curve = tuple((i / 100, 2000.0 * (i / 100) ** 2) for i in range(141))
    svg = diagram(DrawnState("s", curve, (Crossed(q, 2000.0 * q * q),)))
    (x, y, fill), *_ = circles(svg)
    assert fill != "#ffffff"
    (a, b, c), *_ = courses(svg, stroke_width="2.6")
    share = (x - a[0]) / (c[0] - a[0])
    assert share == pytest.approx(q, abs=1e-3)
    assert (c[1] - y) / (c[1] - a[1]) == pytest.approx(1.0 - q, abs=1e-3)
    assert b[0] == pytest.approx((a[0] + c[0]) / 2, abs=0.02)
    (system, *_) = courses(svg, stroke_width="1.9")
    nearest = min(math.dist(point, (x, y)) for point in system)
    assert nearest < 4.0
    assert "2225 m³/h at 764 Pa" in svg


def test_an_unstable_crossing_looks_unlike_a_stable_one_and_says_so():
    crossings = (Crossed(0.2, 1600.0, stable=True), Crossed(0.5, 1000.0, stable=False))
    svg = diagram(DrawnState("s", ((0.0, 1.0), (1.0, 1.0)), crossings))
    on_curve = [fill for x, y, fill in circles(svg) if y < 500.0][:2]
    assert len(set(on_curve)) == 2
    assert svg.count(", unstable<") == 1
    assert ">unstable crossing<" in svg
    assert ">unstable crossing<" not in diagram(DrawnState("s", ((0.0, 1.0), (1.0, 1.0)), crossings[:1]))


@pytest.mark.parametrize(("side", "bound"), [("high", "at least"), ("low", "at most")])
def test_a_system_beyond_the_curve_gets_no_crossing(side, bound):
    end = 1.0 if side == "high" else 0.0
    svg = diagram(DrawnState("s", ((0.0, 0.0), (1.4, 10.0)), (), Crossed(end, 5.0), side))
    assert circles(svg) == []
    assert f"beyond the fan's curve: {bound}" in svg.replace("</text>", "")


def test_nothing_of_the_fan_is_drawn_past_its_points_and_the_rest_is_hatched():
    svg = diagram(DrawnState("s", ((0.0, 0.0), (1.4, 100.0))))
    (line, *_) = courses(svg, stroke_width="2.6")
    (system, *_) = courses(svg, stroke_width="1.9")
    assert max(x for x, _ in system) > max(x for x, _ in line) + 10.0
    hatching = [piece for piece in courses(svg, stroke="#aab2bb") if all(y < 500.0 for _, y in piece)]
    assert len(hatching) > 10
    assert min(x for piece in hatching for x, _ in piece) >= line[-1][0] - 0.01


def test_a_shut_state_says_no_flow():
    svg = diagram(DrawnState("everything shut", ()))
    assert ">no flow<" in svg
    assert circles(svg) == []


@given(st.floats(1e-4, 1e5))
def test_ticks_are_round_and_hold_the_most(most):
    one = axis.axis("flow", most / 3600.0, "metric", 90.0, 650.0, 10)
    assert one.most >= most * (1 - 1e-9)
    assert one.count <= 11
    assert f"{one.step:e}"[0] in "125"
    figures = [figure for _, figure in one.ticks()]
    assert len(set(figures)) == len(figures)
    assert [float(figure) for figure in figures] == pytest.approx([i * one.step for i in range(one.count + 1)])


@given(st.lists(st.tuples(st.floats(0.0, 400.0), st.floats(15.0, 60.0)), max_size=12))
def test_spread_blocks_keep_order_and_distance(blocks):
    blocks.sort()
    middles, heights = [m for m, _ in blocks], [h for _, h in blocks]
    tops = axis.spread(middles, heights, 0.0, 400.0, 9.0)
    for index in range(1, len(tops)):
        assert tops[index] >= tops[index - 1] + heights[index - 1] + 9.0 - 1e-9
    if sum(heights) + 9.0 * len(heights) <= 400.0 and tops:
        assert tops[0] >= 0.0
        assert tops[-1] + heights[-1] <= 400.0 + 1e-9


def test_a_system_far_above_the_curve_leaves_the_curve_readable():
    steep = DrawnState("s", ((0.0, 0.0), (0.1, 1e6), (1.4, 1e8)), (), Crossed(0.0, 1e6), "low")
    svg = diagram(steep)
    (line, *_) = courses(svg, stroke_width="2.6")
    assert line[-1][1] - line[0][1] > 200.0
    for piece in courses(svg, stroke_width="1.9") + courses(svg, stroke="#4d5761"):
        assert min(y for _, y in piece) > 50.0


def test_suction_below_none_is_not_drawn_as_none():
    points = ((0.0, 500.0), (0.5, 100.0), (1.0, -400.0))
    picture = FanPicture("t", (), "metric", points, points[:2], ())
    svg, _, _ = fan_svg.draw(picture).render("t", "d", 24.0)
    (line, *_) = courses(svg, stroke_width="2.6")
    assert len(line) == 2
