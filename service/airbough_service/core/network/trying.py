"""Changes of a tree in which each run is one row, tried one by one in one state; rows are filled compiled."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.compiled import compiled
from airbough_service.core.laws.fan import Fan
from airbough_service.core.network.columns import LOCAL
from airbough_service.core.network.into_columns import fill_arm
from airbough_service.core.network.tree import Arm, Tree, given_arms
from airbough_service.core.network.trials import try_each

Floats = NDArray[np.float64]


class ChangedRows(NamedTuple):
    """The rows that T changes change, one after the other.

    Attributes:
        begins: of each change the number of the first of its rows, and where the last one's end.
        rows: of the packed tree.
        lost: of each, entry, port, fittings and change, Pa per (m3/s)^2.
        arms: number of a changed row -> how it then enters its junction, where otherwise than it does.
        about: row of the run that each change is told of.
    """

    begins: list[int]
    rows: list[int]
    lost: list[Sequence[float]]
    arms: dict[int, Arm]
    about: list[int]


@compiled
def try_rows(
    tree: tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray],
    fan: tuple[np.ndarray, np.ndarray, float],
    changes: tuple[np.ndarray, np.ndarray, np.ndarray],
    lost: np.ndarray,
    arms: tuple[np.ndarray, np.ndarray],
    needs: tuple[np.ndarray, np.ndarray],
    before: np.ndarray,
    out: np.ndarray,
) -> None:
    """Fill what each change brings: out[T, 4], its columns status, flow, lost and starved, as ``trials.Tried``.

    Args:
        tree: as of `try_each`.
        fan: as of `try_each`.
        changes: begins, rows and about, as of `ChangedRows`.
        lost: shape (rows, 4).
        arms: numbers of rows, and what is given of their arms.
        needs: as of `try_each`.
        before: as of `try_each`.
        out: filled.
    """
    begins, rows, about = changes
    columns = np.empty((rows.size, tree[0].shape[1]))
    for k in range(rows.size):
        columns[k] = tree[0][rows[k]]
        columns[k, LOCAL] = lost[k, 0] + lost[k, 1] + lost[k, 2] + lost[k, 3]
    for k in range(arms[0].size):
        fill_arm(arms[1][k], columns[arms[0][k]])
    count = about.size
    status, starved = np.empty(count, np.int64), np.empty(count, np.int64)
    told = (status, np.empty(count), np.empty(count), starved)
    try_each(tree, fan, (begins, np.arange(count + 1)), (rows, about), columns, lost[:, 3].copy(), needs, before, told)
    for k in range(count):
        out[k, 0], out[k, 1], out[k, 2], out[k, 3] = status[k], told[1][k], told[2][k], starved[k]


def tried_rows(
    tree: Tree, fan: Fan, gate: Floats, before: Floats, changed: ChangedRows, needs: Sequence[tuple[int, float]]
) -> list[tuple[int, float, float, int]]:
    """Return of each change, tried alone, status, flow, what is lost, and the hood that starves, as ``trials.Tried``.

    Args:
        tree: as of `trials.tried`.
        fan: as of `trials.tried`.
        gate: as of `trials.tried`.
        before: as of `trials.tried`.
        changed: the changes.
        needs: of each open hood its row, and the least flow that holds, m3/s.
    """
    deadline.check()
    begins, rows, about, arms, hoods = _parts(
        changed.begins, changed.rows, changed.about, list(changed.arms), [row for row, _ in needs]
    )
    out = np.empty((len(changed.about), 4))
    try_rows(
        (tree.table, tree.links, tree.change, gate),
        (fan.pieces, fan.terms, fan.net_quadratic),
        (begins, rows, about),
        np.array(changed.lost).reshape(-1, 4),
        (arms, given_arms(list(changed.arms.values()))),
        (hoods, np.array([least for _, least in needs])),
        before,
        out,
    )
    return [(int(status), flow, lost, int(starved)) for status, flow, lost, starved in out.tolist()]


def _parts(*lists: list[int]) -> list[NDArray[np.int64]]:
    """Return lists of whole numbers as parts of one array, made at once."""
    whole, parts, begun = np.array([number for numbers in lists for number in numbers], np.int64), [], 0
    for numbers in lists:
        parts.append(whole[begun : begun + len(numbers)])
        begun += len(numbers)
    return parts
