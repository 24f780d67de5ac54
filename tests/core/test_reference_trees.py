"""Whole trees against flows computed for this project with scipy (tests/data/reference_trees/README.md)."""

import numpy as np
import pytest

import packing
from airbough_service.core.network.losses import losses
from airbough_service.core.network.operating import operate


@pytest.mark.parametrize("name", packing.NAMES)
def test_flows_of_a_reference_tree(name: str) -> None:
    """Every run's flow agrees with the independent solution to 1e-9."""
    reference = packing.document(name)
    tree, fan = packing.packed(reference), packing.fan_of(reference)
    found = operate(tree, fan, tree.gate)
    assert found.outcome == "operating-point"
    expected = np.array([edge["reference"]["flow_m3_s"] for edge in reference["edges"]])
    assert found.flow[tree.place] == pytest.approx(expected, rel=1.0e-9, abs=1.0e-13)


@pytest.mark.parametrize("name", packing.NAMES)
def test_pressures_of_a_reference_tree(name: str) -> None:
    """Total pressure at every downstream end agrees, shut hoods and dead legs included."""
    reference = packing.document(name)
    tree, fan = packing.packed(reference), packing.fan_of(reference)
    found = operate(tree, fan, tree.gate)
    at_fan = fan.left_for_tree(float(found.flow[0]))
    told = losses(tree, tree.gate, found.flow, at_fan)
    expected = [edge["reference"]["total_pressure_downstream_end_pa_gauge"] for edge in reference["edges"]]
    assert told.total_pressure[tree.place] == pytest.approx(expected, rel=1.0e-8, abs=1.0e-6)
    assert told.mass_residual < 1.0e-9
    assert told.energy_residual < 1.0e-9
