"""The same loop, uncompiled, is the slow reference of the compiled one."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

import packing
from airbough_service.core.network.operating import operate

NAMES = ("tree-005-00", "tree-005-01", "fan-points-00", "hand-no-friction")
PROGRAM = """
import json, sys
import packing
from airbough_service.core.network.operating import operate

out = {}
for name in sys.argv[1:]:
    reference = packing.document(name)
    tree = packing.packed(reference)
    out[name] = operate(tree, packing.fan_of(reference), tree.gate).flow.tolist()
print(json.dumps(out))
"""


def test_compiled_equals_uncompiled() -> None:
    """Without numba's compiler the flows are the same to rounding."""
    environment = {**os.environ, "NUMBA_DISABLE_JIT": "1", "PYTHONPATH": str(Path(packing.__file__).parent)}
    command = [sys.executable, "-c", PROGRAM, *NAMES]
    done = subprocess.run(command, capture_output=True, text=True, timeout=600, check=True, env=environment)
    slow = json.loads(done.stdout)
    for name in NAMES:
        reference = packing.document(name)
        tree = packing.packed(reference)
        fast = operate(tree, packing.fan_of(reference), tree.gate).flow
        assert fast == pytest.approx(slow[name], rel=1.0e-11, abs=1.0e-15)
