"""Whole trees against EPANET 2.2 (through wntr's toolkit), a general pipe-network solver, run here.

Tolerance: EPANET's friction factor is that of Swamee and Jain (1976), within 1 % of Colebrook for fully turbulent flow
and up to 3 % at low Reynolds numbers, which is at most half of that in flow.
"""

from pathlib import Path

import pytest

import packing
import pipe_network
from airbough_service.core.network.operating import operate


@pytest.mark.parametrize("name", ["tree-005-00", "tree-005-02", "tree-020-00", "tree-020-03", "tree-100-00"])
def test_flows_agree_with_a_pipe_network_solver(name: str, tmp_path: Path) -> None:
    """With the fan's suction as a fixed head, EPANET spreads the air over the runs as the engine does."""
    reference = packing.document(name)
    tree, fan = packing.packed(reference), packing.fan_of(reference)
    flow = operate(tree, fan, tree.gate).flow[tree.place]
    path = tmp_path / "tree.inp"
    pipe_network.write_input(reference, fan.left_for_tree(float(flow.max())), path)
    network = pipe_network.Network(path)
    network.solve()
    compared = 0
    for index, edge in enumerate(reference["edges"]):
        if pipe_network.reynolds(reference, edge, flow[index]) > 4000.0:
            assert abs(network.flow(edge["id"])) == pytest.approx(flow[index], rel=1.5e-2)
            compared += 1
    network.close()
    assert compared > 4
