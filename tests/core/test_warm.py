"""What warming leaves uncompiled: nothing that solving, searching, drawing, balancing or one junction reaches."""

import json
import subprocess
import sys
from pathlib import Path

import packing

PROGRAM = """
import json
import numpy as np
from numba.core import event
from airbough_service.core.warm import warm

warm()
compiled = []

class Listener(event.Listener):
    def on_start(self, event):
        compiled.append(event.data["dispatcher"].py_func.__qualname__)
    def on_end(self, event):
        pass

event.register("numba:compile", Listener())
import packing
from airbough_service import catalogue
from airbough_service.core.laws.fan import Fan, curve_pieces
from airbough_service.core.network import columns, losses, operating, sampling, states
from airbough_service.core.network.governing import Limits, Way, balance
from airbough_service.core.network.coefficients import flow_ratio_coefficients
from airbough_service.core.network.tree import Arm

tree = packing.packed(packing.document("tree-020-00"))
several = Fan(curve_pieces([0.0, 0.2, 0.5, 2.0], [900.0, 60.0, 2500.0, 0.0], False), np.array([[50.0, 1.4]]), 2.0, 1.0)
plain = Fan(curve_pieces([0.0, 1.0, 2.0], [2500.0, 2000.0, 0.0], False), np.zeros((0, 2)), 0.0)
assert plain.crosses_once and not several.crosses_once
for fan in (plain, several):
    found = operating.operate(tree, fan, tree.gate)
    losses.losses(tree, tree.gate, found.flow, fan.left_for_tree(float(found.flow[0])))
    states.solve(tree, fan, np.repeat(tree.gate[None, :], 3, axis=0))
    operating.curve_samples(fan, np.linspace(0.0, 2.0, 5))
searched = len(operating.operate(tree, several, tree.gate).crossings)
operating.flows_at(tree, tree.gate, 0.3)
design = np.where((tree.links[:, columns.CHILDREN] == 0) & np.isfinite(tree.gate), 0.05, 0.0)
for by, correction in (("gates", "exact"), ("flow", "square-root"), ("flow", "exact")):
    balance(tree, tree.gate, design, Way(by, correction, Limits(1.05, 1.2)))
law = catalogue.branch_law(45.0, 0.5, "wye")
flow_ratio_coefficients([Arm(True, 0.7, 2.0, constants=law.constants), Arm(constants=law.constants)], [0.4, 0.6])
print(json.dumps({"compiled": compiled, "searched": searched}))
"""


def test_nothing_is_left_to_compile():
    environment = {"PYTHONPATH": str(Path(packing.__file__).parent)}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], capture_output=True, text=True, timeout=300, check=True, env=environment
    )
    found = json.loads(done.stdout.splitlines()[-1])
    assert found["compiled"] == []
    assert found["searched"] >= 1


def test_what_compiles_beside_the_workers_ends_by_itself_and_with_them():
    """It waits for the end of its input in a thread; the interpreter must not stumble over that when it ends."""
    command = [sys.executable, "-m", "airbough_service.core.warm"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stderr=subprocess.PIPE) as beside:
        said = beside.stderr.read()
        assert (beside.wait(300), said) == (0, b"")
    with subprocess.Popen(command, stdin=subprocess.DEVNULL) as left:
        assert left.wait(60) == 0
