"""Plan and side view: true to scale, head-room by arithmetic, no text on another, refused where there is no path."""

from __future__ import annotations

import copy
import dataclasses
import itertools
import json
import math
import random
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from airbough_service.questions.drawing.placed import plan_svg, side_svg
from airbough_service.questions.drawing.placed.hoses import hangs, sagged
from airbough_service.questions.drawing.placed.picture import PlacedPicture, PlacedRun, Wye
from airbough_service.terms.refusal import Refusal
from asking import ask

SHOP = json.loads((Path(__file__).parents[2] / "deploy" / "shop.json").read_text("utf-8"))
WALLS = [[0, 0], [16, 0], [16, 28], [0, 28]]


def drawn(of, **more):
    return ask("drawing", copy.deepcopy(SHOP) | {"of": of} | more)


def lines(svg, width):
    """Return the courses of paths of this stroke width."""
    found = re.findall(rf'<path d="M([^"Z]*)Z?" [^>]*stroke-width="{width}"', svg)
    return [[tuple(map(float, point.split())) for point in course.split("L")] for course in found]


def texts(svg):
    return re.findall(r">([^<>\n]+)</text>", svg)


def bar(svg):
    """Return the px of the scale bar's two pieces."""
    return [float(wide) for wide in re.findall(r'width="([\d.]+)" height="4.5"', svg)]


def test_lengths_on_the_plan_are_to_the_scale_bar():
    svg = drawn("plan", walls=WALLS).svg
    one, two = bar(svg)
    assert one == two
    foot = one / 5.0  # the bar's first piece is told as 5 ft
    assert "10 ft" in texts(svg)
    walls = [course for course in lines(svg, "3.2") if len(course) == 2]
    sides = sorted(abs(ax - bx) + abs(ay - by) for (ax, ay), (bx, by) in walls)
    assert sides == pytest.approx([16 * foot, 16 * foot, 28 * foot, 28 * foot], rel=1e-3)


def test_ducts_are_as_wide_as_their_diameter():
    svg = drawn("plan").svg
    foot = bar(svg)[0] / 5.0
    assert f'stroke-width="{round(0.5 * foot, 2):g}"' in svg  # the main's 6 in.


def test_the_side_tells_the_head_room_under_the_main():
    # the main's centreline lies 8 ft up and is 6 in. wide: 7 ft 9 in. are free
    shown = texts(drawn("side").svg)
    assert "7 ft 9 in." in shown
    assert "under main" in shown


def test_the_side_tells_what_rises_with_the_air():
    description = drawn("side").description
    assert "planer rises 4 ft to 8 ft." in description
    assert "main falls 3 ft to 5 ft." in description


def test_the_wall_nearest_to_the_collector_is_marked_and_wyes_are_listed():
    shown = texts(drawn("plan", walls=WALLS).svg)
    assert "collector&#39;s wall" in shown or "collector's wall" in shown
    assert "Wyes and tees" in shown


def test_a_hole_in_a_wall_is_an_inch_wider_all_round_and_told_by_place():
    # UFGS 15940A, Duct Sleeves and Framed Openings: 1 inch between duct and opening.
    walls = [[0, 4], [16, 4], [16, 28], [0, 28]]  # the collector stands outdoors, at y = 2
    answer = drawn("plan", walls=walls)
    assert "hole 8 in." in texts(answer.svg)
    assert "main goes through a wall 8 ft up: a hole of 8 in., 1 in. all round." in answer.description.lower()
    table = texts(answer.svg)[texts(answer.svg).index("Holes in walls") :]
    assert {"main", "8", "8 ft", "2 ft"} <= set(table[1:10])
    assert "hole" not in drawn("plan", walls=WALLS).description


def test_runs_without_a_path_are_named():
    shop = copy.deepcopy(SHOP)
    shop["runs"][-1] |= {"path": None, "length": 2}
    svg = ask("drawing", shop | {"of": "plan"}).svg
    assert "Not drawn, for they have no path: drum-sander-hose" in svg


@pytest.mark.parametrize(
    ("changes", "path", "code"),
    [
        ({"of": "plan", "runs": None}, "runs", "no-path"),
        ({"of": "tree", "walls": WALLS}, "walls", "not-for-this-picture"),
        ({"of": "plan", "ceiling": 9}, "ceiling", "not-for-this-picture"),
        ({"of": "side", "states": [{"name": "a"}, {"name": "b"}]}, "states", "one-state-a-drawing"),
    ],
)
def test_what_a_picture_cannot_show_is_refused(changes, path, code):
    shop = copy.deepcopy(SHOP) | {name: value for name, value in changes.items() if value is not None}
    if "runs" in changes:
        shop["runs"] = [run | {"path": None, "length": 3} for run in shop["runs"]]
    with pytest.raises(Refusal) as refused:
        ask("drawing", shop)
    assert [(fault.path, fault.code) for fault in refused.value.faults] == [(path, code)]


def invented(seed, preset):
    """Return a picture of random runs, named at length."""
    chance = random.Random(seed)
    runs = []
    for index in range(chance.randint(1, 14)):
        place, line = [chance.uniform(0, 9), chance.uniform(0, 7), chance.uniform(0.3, 3)], []
        for _ in range(chance.randint(2, 5)):
            line.append(tuple(place))
            axis = chance.randrange(3)
            place[axis] += chance.choice((-1, 1)) * chance.uniform(0.1, 4)
        name = chance.choice(("main", "a run with a name that goes on and on", "鋸と鉋", "W" * 40)) + str(index)
        opening = chance.choice((None, 0.0, 0.4, 1.0))
        runs.append(PlacedRun(name, tuple(line), chance.choice((0.05, 0.15, 0.4)), 0.15, 3.0, (90.0, 45.0), name,
                              chance.random() < 0.5, chance.random() < 0.3, opening))  # fmt: skip
    wyes = tuple(Wye(n + 1, run.line[0], 0.15, None, ((0.1, 45.0),)) for n, run in enumerate(runs[:3]))
    walls = ((-1.0, -1.0), (12.0, -1.0), (12.0, 10.0)) if chance.random() < 0.5 else ()
    return PlacedPicture("a shop", ("line",), preset, tuple(runs), wyes, (runs[0].line[0],), walls, 3.2)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**6), preset=st.sampled_from(("us", "metric")))
@pytest.mark.parametrize("view", [plan_svg, side_svg])
def test_no_text_lies_on_another(view, seed, preset):
    sheet = view.draw(invented(seed, preset))
    boxes = sheet.boxes
    for index, box in enumerate(boxes):
        assert box.right <= sheet.right + 1e-6
        for other in boxes[:index]:
            assert not box.meets(other), (box, other)


@given(
    st.tuples(*[st.floats(0.0, 3.0)] * 3),
    st.tuples(*[st.floats(0.0, 3.0)] * 3),
    st.floats(1.1, 6.0),
)
def test_a_slack_hose_is_drawn_between_its_ends_and_never_below_the_floor(start, end, times):
    """As long as it is, measured along the drawn pieces, but where it lies on the floor."""
    length = times * math.dist(start, end) + 0.3
    assert hangs((start, end), length)
    line = sagged((start, end), length, 0.1)
    assert line[0] == pytest.approx(start)
    assert line[-1] == pytest.approx(end)
    assert min(z for _, _, z in line) >= min(0.05, start[2], end[2])
    drawn = sum(math.dist(one, other) for one, other in itertools.pairwise(line))
    assert drawn <= length * (1.0 + 1.0e-6)
    if min(z for _, _, z in line) > 0.05:
        assert drawn == pytest.approx(length, rel=1.0e-6)


def test_a_hose_as_long_as_its_path_is_drawn_straight():
    """Within 5 % and 10 cm, what a tape misses."""
    assert not hangs(((0.0, 0.0, 2.0), (0.0, 1.0, 2.0)), 1.1)
    assert hangs(((0.0, 0.0, 2.0), (0.0, 1.0, 2.0)), 1.2)


def crowded(machines, long):
    """Return a long shop: a main along its middle, machines on both sides, wyes in pairs a foot apart."""
    runs, wyes = [PlacedRun("main", ((0.0, 3.0, 2.5), (long, 3.0, 2.5)), 0.15, 0.18, long)], []
    for number in range(machines):
        x = long * (number // 2 + 1) / (machines / 2 + 1) + 0.3 * (number % 2)
        y = 0.8 if number % 2 else 5.2
        line = ((x, 3.0, 2.5), (x, y, 2.5), (x, y, 1.0))
        runs.append(
            PlacedRun(f"drop {number}", line, 0.1, 0.1, 3.7, (90.0,), f"machine {number}", has_hood=True, opening=1.0)
        )
        wyes.append(Wye(number + 1, line[0], 0.18, 0.15 if number == 0 else 0.18, ((0.1, 45.0),)))
    walls = ((-1.0, 0.0), (long + 1.0, 0.0), (long + 1.0, 6.0), (-1.0, 6.0))
    return PlacedPicture("a shop", (), "us", tuple(runs), tuple(wyes), ((0.0, 3.0, 2.5),), walls, 2.8)


@pytest.mark.parametrize(("machines", "long"), [(8, 24.0), (16, 24.0), (24, 30.0), (40, 40.0)])
def test_every_machine_of_a_long_shop_is_named_on_its_plan(machines, long):
    names = [box.words for box in plan_svg.draw(crowded(machines, long)).boxes]
    assert {f"machine {number}" for number in range(machines)} <= set(names)


def test_machines_of_one_kind_close_to_one_another_are_each_named():
    """Two sanders 5 ft apart in a long shop are two machines; the ports of one machine are not, but for their gates."""

    def named(machine_id, other_gate):
        picture = crowded(6, 40.0)
        main, one, other, *_ = picture.runs
        one = dataclasses.replace(one, machine="drum sander", machine_id=machine_id)
        line = tuple((x + 1.5, y, z) for x, y, z in one.line)
        other = dataclasses.replace(one, id=other.id, line=line, opening=other_gate)
        words = [box.words for box in plan_svg.draw(dataclasses.replace(picture, runs=(main, one, other))).boxes]
        return words.count("drum sander")

    assert named(None, 1.0) == 2
    assert named("sander", 1.0) == 1
    assert named("sander", 0.0) == 2


def test_a_wyes_number_stands_on_its_wye_or_a_line_leads_there():
    picture = crowded(16, 24.0)
    svg = plan_svg.draw(picture).render("", "", 10.0)[0]
    numbers = re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="[\d.]+"[^>]*/>\s*<text[^>]*>(\d+)</text>', svg)
    at = {int(number): (float(x), float(y)) for x, y, number in numbers[:16]}  # the last stands in the key
    one, last = at[1], at[15]  # wyes that nothing crowds out of their place
    foot = (last[0] - one[0]) / (picture.wyes[14].place[0] - picture.wyes[0].place[0])
    led = lines(svg, "0.9")
    for wye in picture.wyes:
        true = (one[0] + (wye.place[0] - picture.wyes[0].place[0]) * foot, one[1])
        if math.dist(at[wye.number], true) > 0.1:
            assert any(math.dist(start, true) < 0.1 and math.dist(end, at[wye.number]) < 0.1 for start, end in led)
    assert all(math.dist(a, b) >= 16.9 for a, b in itertools.combinations(at.values(), 2))


def test_a_wye_tells_the_change_of_size_on_its_straight_side():
    shown = texts(plan_svg.draw(crowded(8, 24.0)).render("", "", 10.0)[0])
    table = shown[shown.index("Wyes and tees") :]
    assert "5 7/8 to 7 1/16" in table  # 150 mm to 180 mm
