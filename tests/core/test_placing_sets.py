"""Which diameters a set of machines may have: every state looked at, run by run."""

import math

import numpy as np
import pytest

from airbough_service.core.choosing.placing import sets

AREA = np.array([0.006, 0.008, 0.011, 0.015, 0.02, 0.027])


def drawn(seed, machines=4, states=3):
    """Flows at random: each state opens some machines, each machine runs in some state."""
    draw = np.random.default_rng(seed)
    alone = draw.uniform(0.1, 0.3, machines)
    opened = draw.random((states, machines)) < 0.5
    opened[draw.integers(0, states, machines), np.arange(machines)] = True
    least = draw.uniform(10.0, 20.0, machines)
    return sets.Flows(opened * alone, least, least * draw.uniform(1.5, 3.0, machines), alone)


def moves(flows, group, area):
    """Whether a set's dust keeps moving in a duct in every state in which some of it runs."""
    for flow in flows.flow:
        running = [at for at in range(flow.size) if group >> at & 1 and flow[at] > 0.0]
        if running and sum(flow[running]) / area < max(flows.least_velocity[running]):
            return False
    return True


def fast(flows, group, area):
    """Whether it is faster than anything in it asks for, in some state."""
    for flow in flows.flow:
        running = [at for at in range(flow.size) if group >> at & 1 and flow[at] > 0.0]
        if running and sum(flow[running]) / area > max(flows.most_velocity[running]):
            return True
    return False


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("seed", range(20))
def test_a_diameter_is_allowed_where_the_dust_moves_in_every_state(seed, narrow):
    """Where no run may narrow, none is wider than what all flow into may be; its own dust must move all the same."""
    flows = drawn(seed)
    allowed = sets.allowed(flows, AREA, narrow=narrow)
    every = len(allowed) - 1
    for group in range(1, every + 1):
        for at, area in enumerate(AREA):
            wide = not narrow and not moves(flows, every, area)
            expected = moves(flows, group, area) and not fast(flows, group, area) and not wide
            assert allowed[group, at] == expected, (group, area)


@pytest.mark.parametrize("seed", range(20))
def test_a_set_without_a_diameter_takes_the_least_fast_that_moves_its_dust(seed):
    flows = drawn(seed)
    strict, lax = sets.allowed(flows, AREA), sets.allowed(flows, AREA, too_fast=True)
    for group in range(1, len(strict)):
        if strict[group].any():
            assert (lax[group] == strict[group]).all()
            continue
        moving = [at for at, area in enumerate(AREA) if moves(flows, group, area)]
        assert all(at in moving for at in np.flatnonzero(lax[group]))
        assert lax[group].any() == bool(moving)
        assert math.isclose(AREA[lax[group]].max(initial=0.0), AREA[moving].max(initial=0.0))
