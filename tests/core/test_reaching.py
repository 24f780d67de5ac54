"""Which hoods are open and which runs they serve, on trees small enough to see it."""

import numpy as np

from airbough_service.core.network import reaching


def reached(parents, hoods, gates):
    """Return which hoods are open and which runs active, one state, runs told from the collector to the hoods."""
    count = len(parents)
    is_open, active = np.zeros((1, count), bool), np.zeros((1, count), bool)
    order = np.arange(count)
    reaching.reach(np.array(parents), order, np.array(hoods), np.array([gates]), is_open, active)
    return is_open[0].tolist(), active[0].tolist()


def test_a_main_with_one_hood_is_served():
    assert reached([-1, 0], [False, True], [True, True]) == ([False, True], [True, True])
    assert reached([-1, 0], [False, True], [True, False]) == ([False, False], [False, False])
    assert reached([-1, 0], [False, True], [False, True]) == ([False, False], [False, False])


def test_a_shut_gate_shuts_all_behind_it_and_nothing_else():
    parents, hoods = [-1, 0, 0, 1, 1], [False, False, True, True, True]
    gates = [True, False, True, True, True]
    assert reached(parents, hoods, gates) == ([False, False, True, False, False], [True, False, True, False, False])


def test_the_greatest_value_upstream_is_that_of_open_hoods():
    parents, order = np.array([-1, 0, 0, 1, 1]), np.arange(5)
    is_open = np.array([[False, False, True, True, False], [False, False, False, False, True]])
    out = np.zeros((2, 5))
    reaching.greatest_upstream(parents, order, np.array([0.0, 0.0, 5.0, 3.0, 9.0]), is_open, out)
    assert out.tolist() == [[5.0, 3.0, 5.0, 3.0, 0.0], [9.0, 9.0, 0.0, 0.0, 9.0]]
