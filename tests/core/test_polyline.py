"""A polyline's length and corners against elementary geometry: right triangles, a cube's diagonals."""

import math

import pytest

from airbough_service.core.laws import polyline


def test_a_right_triangle_of_three_four_five_and_a_rise_of_twelve_measures_thirteen():
    assert polyline.length([(0.0, 0.0, 0.0), (3.0, 4.0, 12.0)]) == pytest.approx(13.0)


@pytest.mark.parametrize(
    ("after", "angle"),
    [((2.0, 0.0, 0.0), 0.0), ((1.0, 1.0, 0.0), 90.0), ((2.0, 0.0, 1.0), 45.0), ((0.0, 0.0, 0.0), 180.0),
     # from the diagonal of a square to an edge of its cube: acos(1 / sqrt 2) in the plane
     ((2.0, 1.0, 0.0), 45.0)],
)  # fmt: skip
def test_a_corner_turns_by_the_change_of_direction(after, angle):
    assert polyline.angle((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), after) == pytest.approx(angle, abs=1e-9)


def test_the_diagonal_of_a_cube_leaves_its_edge_by_acos_of_one_over_root_three():
    angle = polyline.angle((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (2.0, 1.0, 1.0))
    assert angle == pytest.approx(math.degrees(math.acos(1.0 / math.sqrt(3.0))))


def test_corners_are_told_with_the_length_before_them_and_points_on_a_straight_line_are_none():
    line = [(0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (3.0, 0.0, 0.0), (3.0, 2.0, 0.0)]
    assert [(turn.at, turn.angle) for turn in polyline.turns(line, 1.0)] == [(3.0, pytest.approx(90.0))]
