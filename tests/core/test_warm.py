"""What warming leaves uncompiled: nothing that solving, searching, drawing, balancing or one junction reaches."""

import contextlib
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

import packing
from airbough_service.core import compiling, warm
from airbough_service.core.warm_parts import FURTHER, LIGHT, Part
from serving import have_all_compiled

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
    have_all_compiled()
    environment = os.environ | {"PYTHONPATH": str(Path(packing.__file__).parent)}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], capture_output=True, text=True, timeout=300, check=True, env=environment
    )
    found = json.loads(done.stdout.splitlines()[-1])
    assert found["compiled"] == []
    assert found["searched"] >= 1


def test_what_compiles_beside_the_workers_ends_by_itself_and_with_them():
    """It waits for the end of its input in a thread; the interpreter must not stumble over that when it ends."""
    command = [sys.executable, "-m", "airbough_service.core.warm"]
    have_all_compiled()  # else it would compile for long, or wait for its turn
    with subprocess.Popen(command, stdin=subprocess.PIPE, stderr=subprocess.PIPE) as beside:
        said = beside.stderr.read()
        assert (beside.wait(300), said) == (0, b"")
    with subprocess.Popen(command, stdin=subprocess.DEVNULL) as left:
        assert left.wait(300) == 0


@pytest.fixture
def compiled(monkeypatch):
    """The names of parts in the order in which `warm` compiles them, with all of them and the folder invented."""
    order, kept = [], set()
    parts = {"one": (), "two": ("one",), "three": ()}
    made = {name: Part(1.0, lambda name=name: order.append(name), after) for name, after in parts.items()}
    monkeypatch.setattr(warm, "PARTS", made)
    monkeypatch.setattr(compiling, "noted", kept.__contains__)
    monkeypatch.setattr(compiling, "note", kept.add)
    return order


def test_parts_are_compiled_in_their_order_and_none_is_passed_over_that_is_still_to_begin(compiled, monkeypatch):
    taken, looks = {"one", "place-0"}, []

    @contextlib.contextmanager
    def turn(name, *, wait):
        yield name not in taken

    def look(seconds):
        looks.append(list(compiled))
        compiling.note("one")  # the other has compiled it

    monkeypatch.setattr(warm, "turn", turn)
    monkeypatch.setattr(warm.time, "sleep", look)
    monkeypatch.setattr(warm, "all_noted", lambda: False)
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    warm.share()
    assert looks == [[]], "three was begun before two"
    assert compiled == ["two", "three"]


def test_one_more_than_may_compile_waits_until_all_is_compiled(compiled, monkeypatch):
    @contextlib.contextmanager
    def turn(name, *, wait):
        yield not name.startswith("place")

    looks = iter([False, False, True])
    monkeypatch.setattr(warm, "turn", turn)
    monkeypatch.setattr(warm.time, "sleep", lambda _: None)
    monkeypatch.setattr(warm, "all_noted", lambda: next(looks))
    warm.share()
    assert compiled == []


def test_where_nothing_can_be_kept_one_process_compiles_all(compiled, monkeypatch):
    monkeypatch.setattr(compiling, "note", lambda _: None)
    monkeypatch.setattr(warm, "turn", lambda *_, **__: contextlib.nullcontext(True))
    warm.share()
    assert compiled == ["one", "two", "three"]


def test_each_part_stands_after_those_whose_loops_it_calls():
    known = set()
    for name, part in (LIGHT | FURTHER).items():
        assert known.issuperset(part.after), name
        known.add(name)
    assert not LIGHT.keys() & FURTHER.keys()
