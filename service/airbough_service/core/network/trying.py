"""Changes of a tree in which each run is one row, tried one by one in one state; rows are filled compiled."""

from __future__ import annotations

from array import array
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.compiled import compiled, whole
from airbough_service.core.laws.fan import Fan
from airbough_service.core.network.columns import LOCAL
from airbough_service.core.network.into_columns import G_PARENT, add_terms, fill_arm
from airbough_service.core.network.tree import Arm, Tree, given_arms, term_lines
from airbough_service.core.network.trials import try_each
from airbough_service.core.network.work import copy_row

Floats = NDArray[np.float64]


class ChangedRows(NamedTuple):
    """The rows that T changes change, as numbers.

    Attributes:
        lines: of each changed row, one after the other: number of its change, row of the run that this is told of, its
            own row, how many terms it has, and what is added to its change, Pa per (m3/s)^2.
        terms: of each changed row, as of `tree.Run`.
        arms: number of a changed row -> how it then enters its junction, where otherwise than it does.
        needs: of each open hood its row, and the least flow that holds, m3/s.
    """

    lines: list[float]
    terms: list[bytes]
    arms: dict[int, Arm]
    needs: list[float]


CHANGE, TOLD_OF, OF_ROW, TERMS, MORE = range(5)  # columns of `lines`
LINE: Final = MORE + 1  # of these columns
_NO_ARMS: Final = given_arms([])


@compiled
def try_rows(
    tree: tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray],
    fan: tuple[np.ndarray, np.ndarray, float],
    changes: tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray],
    density: float,
    before: np.ndarray,
    out: np.ndarray,
) -> None:
    """Fill what each change brings: out[T, 4], its columns status, flow, lost and starved, as ``trials.Tried``.

    Args:
        tree: as of `try_each`.
        fan: as of `try_each`.
        changes: of `ChangedRows` the lines, their terms, what is given of arms with the number of their line for a
            parent, and needs.
        density: kg/m3.
        before: as of `try_each`.
        out: filled.
    """
    lines, terms, arms, needs = changes
    count, rows = out.shape[0], lines[:, OF_ROW].astype(np.int64)
    about = np.empty(count, np.int64)
    begins, columns = np.zeros(count + 1, np.int64), np.empty((rows.size, tree[0].shape[1]))
    parts, begin = np.zeros((rows.size, 4)), whole(0)
    for k in range(rows.size):
        begins[int(lines[k, CHANGE]) + 1] = k + 1
        about[int(lines[k, CHANGE])] = int(lines[k, TOLD_OF])
        copy_row(tree[0][rows[k]], columns[k])
        own = parts[k]
        own[3] = lines[k, MORE]
        add_terms(terms, begin, int(lines[k, TERMS]), density, own, whole(0))
        begin += int(lines[k, TERMS])
        columns[k, LOCAL] = own[0] + own[1] + own[2] + own[3]
    for k in range(arms.shape[0]):
        fill_arm(arms[k], columns[int(arms[k, G_PARENT])])
    status, starved = np.empty(count, np.int64), np.empty(count, np.int64)
    told = (status, np.empty(count), np.empty(count), starved)
    both, at_end = (begins, np.arange(count + 1)), parts[:, 3].copy()
    hoods = (needs[:, 0].astype(np.int64), needs[:, 1].copy())
    try_each(tree, fan, both, (rows, about), columns, at_end, hoods, before, told)
    for k in range(count):
        out[k, 0], out[k, 1], out[k, 2], out[k, 3] = status[k], told[1][k], told[2][k], starved[k]


def tried_rows(
    tree: Tree, fan: Fan, gate: Floats, before: Floats, changed: ChangedRows
) -> list[tuple[int, float, float, int]]:
    """Return of each change, tried alone, status, flow, what is lost, and the hood that starves, as ``trials.Tried``.

    Args:
        tree: as of `trials.tried`.
        fan: as of `trials.tried`.
        gate: as of `trials.tried`.
        before: as of `trials.tried`.
        changed: the changes, each of one row at least.
    """
    deadline.check()
    arms = _NO_ARMS
    if changed.arms:
        arms = given_arms(list(changed.arms.values()))
        arms[:, G_PARENT] = list(changed.arms)
    out = np.empty((int(changed.lines[-LINE]) + 1, 4))
    try_rows(
        (tree.table, tree.links, tree.change, gate),
        (fan.pieces, fan.terms, fan.net_quadratic),
        (
            _table(changed.lines, LINE),
            term_lines(b"".join(changed.terms)),
            arms,
            _table(changed.needs, 2),
        ),
        tree.density,
        before,
        out,
    )
    return [(int(status), flow, lost, int(starved)) for status, flow, lost, starved in out.tolist()]


def _table(numbers: list[float], columns: int) -> Floats:
    """Return numbers as lines of an array; numpy itself takes long over a list."""
    return np.frombuffer(array("d", numbers)).reshape(-1, columns)
