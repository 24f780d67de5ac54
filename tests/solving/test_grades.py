"""One rule tells what starves and what settles, of one hood or run and of many states at once."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest

import airbough_service
from airbough_service.solving import grades

SHARES = (0.5, 0.89, 0.9, 0.95, 1.0 - 1.1e-6, 1.0 - 0.9e-6, 1.0, 1.3)
SERVICE = Path(airbough_service.__file__).parent


@pytest.mark.parametrize("share", SHARES)
def test_grade_and_verdict_of_a_hood_and_of_a_run_are_of_one_rule(share):
    """`short` and `starved` are the two grades of a hood that starves; `short` and `settles` those of a slow run."""
    assert grades.starves(share) == (share < 1.0 - 1.0e-6) == (grades.serving(share) in ("short", "starved"))
    assert grades.settles(share) == (share < 1.0 - 1.0e-6) == (grades.carrying(share) in ("short", "settles"))
    assert (grades.serving(share) == "starved") == (share < 0.9)  # a tenth: common practice, no source


def test_many_states_are_judged_as_one_is():
    shares = np.array(SHARES)
    assert grades.starves(shares).tolist() == [grades.starves(share) for share in SHARES]
    assert grades.settles(shares).tolist() == [grades.settles(share) for share in SHARES]
    assert grades.needlessly_fast(shares + 0.1).tolist() == [grades.needlessly_fast(share + 0.1) for share in SHARES]


def test_the_share_by_which_a_limit_may_be_missed_stands_in_one_place():
    """No file but the core's on limits compares with a limit and a share of its own."""
    found = [
        (path.name, node.lineno)
        for path in SERVICE.rglob("*.py")
        if path.name != "limits.py" or path.parent.name != "core"
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.BinOp)
        and isinstance(node.op, ast.Add | ast.Sub)
        and isinstance(node.left, ast.Constant)
        and node.left.value == 1.0
        and (
            (isinstance(node.right, ast.Name) and node.right.id == "HOLDS")
            or (isinstance(node.right, ast.Constant) and node.right.value == 1.0e-6)
        )
    ]
    assert [name for name, _ in found] == ["merging.py"], "compiled code takes the constant"
