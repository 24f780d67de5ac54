"""How far elbows and wyes reach: right triangles worked by hand."""

import math

import pytest

from airbough_service.core.laws.fitting_room import of_branch, of_elbow, straight_way


def test_a_square_elbow_reaches_as_far_as_its_radius():
    # Common practice: centre to end of a 90 degree elbow is its centreline radius; 6 in. with R = 1.5 D: 9 in.
    told = of_elbow(6.0, 90.0, 1.5)
    assert (told.corner_to_end, told.reach) == (pytest.approx(9.0), pytest.approx(9.0))


def test_a_half_elbow_by_its_tangent():
    told = of_elbow(6.0, 45.0, 1.5)
    assert told.corner_to_end == pytest.approx(9.0 * (math.sqrt(2.0) - 1.0))
    assert told.reach == pytest.approx((told.corner_to_end + 3.0) / math.sqrt(2.0))


def test_a_tee_stands_off_by_half_the_main_and_its_collar():
    told = of_branch(6.0, 4.0, 90.0, 2.0)
    assert (told.corner_to_end, told.reach) == (pytest.approx(5.0), pytest.approx(5.0))
    assert straight_way(4.0, 90.0, 2.0) == pytest.approx(8.0)


def test_a_wyes_throat_just_clears_the_mains_wall():
    # The inner edge of a 45 degree branch's end, before its collar, lies on the main's wall: 3 from the axis.
    told = of_branch(6.0, 4.0, 45.0, 0.0)
    inner = told.corner_to_end * math.sin(math.radians(45.0)) - 2.0 * math.cos(math.radians(45.0))
    assert inner == pytest.approx(3.0)
