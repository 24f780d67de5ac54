from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from airbough_service.core.day.chips import (
    Journey,
    Moving,
    carried_on,
    clearing_time,
    full_at,
    journey,
    least_whole,
)


def states(*rows):
    """Rows of (end, fan, times through each run), and shut and sure by run; the first begins at 0."""
    out, start = [], 0.0
    for end, fan, through, *more in rows:
        out.append(Moving(start, end, fan, through, *more))
        start = end
    return lambda number: out[number] if 0 <= number < len(out) else None


def test_clearing_time_is_the_sum_of_length_over_velocity():
    # By hand: 6 ft at 60 ft/s and 14 ft at 70 ft/s take 0.1 s and 0.2 s.
    assert clearing_time([6.0 / 60.0, 14.0 / 70.0]) == pytest.approx(0.3)
    assert clearing_time([0.1, math.inf]) == math.inf


def test_chips_clear_when_the_air_goes_on_long_enough():
    day = states((10.0, True, (2.0, 3.0)), (20.0, True, (2.0, 3.0)), (30.0, False, (math.inf,) * 2))
    assert journey(10.0, 2, 1, day) == Journey("cleared", 15.0, 2)


def test_a_delay_just_as_long_as_the_path_takes_holds():
    day = states((10.0, True, (2.0, 3.0)), (15.0, True, (2.0, 3.0)), (30.0, False, (math.inf,) * 2))
    assert journey(10.0, 2, 1, day).outcome == "cleared"


def test_the_fan_stops_while_the_chips_are_in_the_second_run():
    day = states((10.0, True, (2.0, 3.0)), (13.0, True, (2.0, 3.0)), (30.0, False, (math.inf,) * 2))
    assert journey(10.0, 2, 1, day) == Journey("left", 13.0, 1, "fan-stop", pytest.approx(5.0))


def test_the_gate_shuts_at_once_and_the_time_needed_is_that_of_the_state_before():
    day = states((10.0, True, (2.0, 3.0)), (30.0, True, (math.inf, 4.0)))
    assert journey(10.0, 2, 1, day) == Journey("left", 10.0, 0, "gate-shut", pytest.approx(5.0))


def test_chips_past_the_shut_gate_go_on_with_the_air_of_the_others():
    day = states((10.0, True, (2.0, 3.0)), (12.0, True, (2.0, 3.0)), (30.0, True, (math.inf, 4.0)))
    assert journey(10.0, 2, 1, day) == Journey("cleared", pytest.approx(16.0), 2)


def test_half_a_run_at_one_speed_and_half_at_another():
    day = states((10.0, True, (4.0,)), (12.0, True, (4.0,)), (30.0, True, (10.0,)))
    assert journey(10.0, 1, 1, day).time == pytest.approx(17.0)


def test_chips_in_the_duct_when_the_last_state_ends_are_left():
    day = states((10.0, True, (4.0,)))
    assert journey(10.0, 1, 1, day) == Journey("left", 10.0, 0, "fan-stop", pytest.approx(4.0))


def test_a_state_without_known_flow_tells_nothing():
    day = states((10.0, True, (4.0,)), (20.0, True, None))
    assert journey(10.0, 1, 1, day).outcome == "unknown"


OPEN = (False, False)


def test_air_too_slow_leaves_chips_and_no_time_would_have_been_enough():
    day = states((10.0, True, (2.0, math.inf), OPEN), (30.0, True, (2.0, math.inf), OPEN))
    assert journey(10.0, 2, 1, day) == Journey("left", 12.0, 1, "too-slow", 0.0)
    later = states((10.0, True, (2.0, 3.0), OPEN), (30.0, True, (2.0, math.inf), OPEN))
    assert journey(10.0, 2, 1, later) == Journey("left", 12.0, 1, "too-slow", 0.0)
    shut = states((10.0, True, (math.inf, 2.0), OPEN), (30.0, True, (math.inf, 2.0), (True, False)))
    assert journey(10.0, 2, 1, shut).cause == "too-slow"  # the gate shuts on chips that had not moved anyway
    before = states((10.0, True, (2.0, math.inf), OPEN), (30.0, True, (math.inf, math.inf), (True, True)))
    assert journey(10.0, 2, 1, before) == Journey("left", 10.0, 0, "gate-shut", 0.0)


def test_places_passed_in_doubtful_air_are_noted_once_with_their_state():
    day = states(
        (10.0, True, (4.0, 4.0), OPEN, (True, True)),
        (12.0, True, (4.0, 4.0), OPEN, (True, True)),
        (15.0, True, (4.0, 4.0), OPEN, (False, True)),
        (30.0, True, (4.0, 4.0), OPEN, (True, False)),
    )
    found = journey(10.0, 2, 1, day)
    assert found.outcome == "cleared"
    assert found.doubtful == ((0, 2), (1, 3))


def test_what_lies_is_carried_out_bit_by_bit_by_air_of_the_transport_velocity():
    surely, hardly = (True, True), (False, False)
    day = states(
        (10.0, True, (4.0, 4.0), OPEN, surely),
        (20.0, True, (4.0, 4.0), OPEN, hardly),  # it would carry moving chips; those that lie need more
        (22.0, True, (4.0, 4.0), OPEN, surely),
        (30.0, False, (math.inf, math.inf)),
        (40.0, True, None),
        (60.0, True, (4.0, 4.0), OPEN, surely),
    )
    # By hand: a quarter of the first run is 1 s, then 1 s of the second's 4 by 22 s, its other 3 s from 40 s on.
    assert carried_on(0, 0.25, 2, 1, day) == (pytest.approx(43.0), 5)
    assert carried_on(0, 0.25, 2, 6, day) is None
    assert carried_on(1, 1.0, 2, 2, states((1.0, True, (1.0, 1.0)))) is None


@settings(max_examples=200, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(1, 20), st.tuples(st.integers(1, 30), st.integers(1, 30), st.integers(1, 30))),
        min_size=1,
        max_size=8,
    )
)
def test_chips_agree_with_small_steps(rows):
    """The same journey in steps of 1/1,000 s, one share of a run at a time."""
    end, day = 0.0, []
    for length, through in rows:
        end += length
        day.append((end, True, tuple(map(float, through))))
    told = journey(0.0, 3, 0, states(*day))
    step, place, share, time = 1.0e-3, 0, 0.0, 0.0
    while place < 3 and time < end:
        through = next(times for stop, _, times in day if time < stop)
        share += step / through[place]
        time += step
        if share >= 1.0:
            place, share = place + 1, share - 1.0
    if told.outcome == "cleared":
        assert told.time == pytest.approx(time, abs=0.1) or time >= end - 0.1
    else:
        assert told.place == pytest.approx(place, abs=1)
        assert time >= end - 0.1


@given(st.integers(0, 500), st.integers(0, 500), st.integers(1, 500), st.integers(1, 500))
def test_the_least_number_that_holds_is_found_whatever_is_tried_first(threshold, above, guess, most):
    tried = []

    def holds(number):
        tried.append(number)
        return number >= threshold

    found = least_whole(holds, above, guess, most)
    wanted = max(threshold, above + 1)
    assert found == (wanted if wanted <= most else None)
    assert len(tried) < 25


def test_the_bin_fills_as_the_machines_work():
    # By hand: 0.5 a second from 0, with another 1.5 a second from 4: 2 at 4 s, then 2 a second, 7 at 6.5 s.
    spells = [[(0.0, 10.0)], [(4.0, 8.0)]]
    assert full_at([0.5, 1.5], spells, 7.0) == pytest.approx(6.5)
    assert full_at([0.5, 1.5], spells, 11.0) == pytest.approx(10.0)
    assert full_at([0.5, 1.5], spells, 11.1) is None
    assert full_at([0.5, 1.5], spells, 0.0) == 0.0
    assert full_at([0.0], [[(0.0, 10.0)]], 1.0) is None
