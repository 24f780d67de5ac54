"""Which ware serves: of the make asked for, and which way round it may lie."""

import pytest

from airbough.wire.stock import StockFitting
from airbough_service.shop.stock import Make, may_turn, same_make


def fitting(**more):
    """Return an elbow of the stock."""
    return StockFitting(**{"item": "e", "type": "elbow", "diameter": 0.1} | more)


@pytest.mark.parametrize(
    ("told", "asked", "serves"),
    [
        ({}, {"angle": 90.0, "radius_ratio": 1.5, "construction": "smooth", "duct": "spiral-galvanized"}, True),
        ({"angle": 90.0, "radius_ratio": 1.5}, {}, True),
        ({"angle": 90.0}, {"angle": 90.0}, True),
        ({"angle": 90.0}, {"angle": 45.0}, False),
        ({"radius_ratio": 1.5}, {"radius_ratio": 1.0}, False),
        ({"construction": "smooth"}, {"construction": "mitered"}, False),
        ({"duct": "spiral-galvanized"}, {"duct": "smooth-plastic", "angle": 90.0}, False),
    ],
)
def test_what_is_told_of_a_ware_must_be_what_is_asked_and_what_is_not_told_fits(told, asked, serves):
    assert same_make(fitting(**told), Make(**asked)) is serves


@pytest.mark.parametrize(
    ("ends", "may"),
    [
        ({}, True),
        ({"upstream_end": "male"}, False),
        ({"downstream_end": "female"}, False),
        ({"upstream_end": "male", "downstream_end": "female"}, False),
        ({"upstream_end": "male", "downstream_end": "female", "turnable": True}, True),
    ],
)
def test_a_change_of_size_may_lie_either_way_where_it_is_turnable_or_no_end_is_told(ends, may):
    assert may_turn(fitting(type="taper", downstream_diameter=0.15, **ends)) is may
