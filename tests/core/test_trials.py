"""Changes tried one by one: what they bring, by hand, on a run under a fan of one pressure."""

import numpy as np
import pytest

from airbough_service.core.laws.fan import Fan, curve_pieces
from airbough_service.core.network import columns as c
from airbough_service.core.network import trials
from airbough_service.core.network.status import OK
from airbough_service.core.network.tree import Run, pack

SHAPE = {"start": 0.1, "end": 0.1, "length": 0.0, "roughness": 0.0}
FAN = Fan(curve_pieces([0.0, 5.0], [3600.0, 3600.0], True), np.zeros((0, 2)), 0.0)


def packed(*losses):
    """Return runs one after the other that lose so much, Pa per (m3/s)^2."""
    return pack([Run(parent=k - 1, fittings=loss, **SHAPE) for k, loss in enumerate(losses)], 1.2, 1.82e-5, c.MEET)


def test_each_change_is_tried_from_the_tree_without_any():
    tree = packed(1000.0, 8000.0)
    changed = [
        [trials.Row(0, packed(500.0, 8000.0).table[0], 0.0)],
        [trials.Row(1, packed(1000.0, 3000.0).table[1], 0.0)],
    ]
    needs = trials.Needs(np.array([1], np.int64), np.array([0.0]))
    before = np.full(2, (3600.0 / 9000.0) ** 0.5)
    told = trials.tried(tree, FAN, tree.gate, before, changed, [[0], [1]], needs)
    # by hand: 3600 = R q^2, with R = 8500 and 4000
    flows = np.array([(3600.0 / 8500.0) ** 0.5, (3600.0 / 4000.0) ** 0.5])
    assert (told.status == OK).all()
    assert told.flow == pytest.approx(flows, rel=1e-9)
    assert told.lost == pytest.approx([500.0 * flows[0] ** 2, 3000.0 * flows[1] ** 2], rel=1e-9)
    assert told.starved.tolist() == [-1, -1]


def test_a_hood_that_a_change_takes_below_its_need_is_named():
    tree = packed(1000.0, 8000.0)
    before = np.full(2, (3600.0 / 9000.0) ** 0.5)  # 0.632 m3/s
    changed = [[trials.Row(0, packed(loss, 8000.0).table[0], 0.0)] for loss in (1000.0, 4000.0)]  # .632 and .548 m3/s
    for need, starved in (
        (0.5, [-1, -1]),
        (0.6, [-1, 0]),
        (0.7, [-1, -1]),
    ):  # what was short before is not the change's
        needs = trials.Needs(np.array([1], np.int64), np.array([need]))
        assert trials.tried(tree, FAN, tree.gate, before, changed, [[1], [1]], needs).starved.tolist() == starved
