"""The published exhaust system of `cases/example-industrial-exhaust.toml` under our own junction law.

ASHRAE Handbook Fundamentals 2021 (SI), chapter 21, Example 9, Tables 19 and 20, p. 21.33-34, prints these coefficients
(read): wye of 30 degrees ED5-1 at Qb/Qc 0.40, As/Ac 0.510, Ab/Ac 0.413: 0.12 of the straight run's own velocity
pressure and 0.21 of the branch's own; symmetrical wye of 60 degrees ED5-9 at Qb/Qc 0.5, Ab/Ac 0.482: 0.32 of the
branch's own.
"""

from __future__ import annotations

import copy
from dataclasses import dataclass
from functools import cache

import airbough
from handbook.examples import DOCUMENTS

PRINTED = {"s1": 0.12, "s4": 0.21, "s2": 0.32, "s3": 0.32}
"""Junction coefficients on each arriving run's own velocity pressure."""

TOTAL = 1992.0
"""Printed pressure of the fan, Pa."""


@dataclass(frozen=True, slots=True)
class Join:
    """A run that arrives at a junction: `apart` is how far laws may differ, in velocity pressures of the common run."""

    run: str
    into: str
    what: str
    apart: float
    why: str


JOINS = (
    Join("s1", "s5", "straight run of the 30 degree wye", 0.17,
         "laws for the straight run of a wye differ by 0.17 of the common velocity pressure from their middle"),
    Join("s4", "s5", "branch of the 30 degree wye", 0.40,
         "laws disagree most here: the plain momentum balance gives -0.145 of the common velocity pressure, the book "
         "+0.197, our fit to measured wyes of 45 degrees +0.56"),
    Join("s2", "s4", "leg of the symmetrical wye", 0.10,
         "the momentum balance gives 0.26 of the leg's own velocity pressure, the handbook 0.32"),
)  # fmt: skip


@cache
def under_our_law() -> airbough.BalanceAnswer:
    """Return the balance with the printed junction coefficients taken out of the sections and our law put in."""
    tree = copy.deepcopy(DOCUMENTS["example-industrial-exhaust"]["tree"])
    del tree["model"]["junctions"]
    for run in tree["runs"]:
        run.setdefault("into", None)
        run["fittings"][0]["coefficient"] -= PRINTED.get(run["id"], 0.0)
    return airbough.local().balance(tree)


def pressures(join: Join) -> tuple[float, float, float]:
    """Return the junction's loss as printed, as ours, and how far both may differ, Pa."""
    told = {item.id: item for item in under_our_law().runs}
    own, common = told[join.run], told[join.into]
    return PRINTED[join.run] * own.velocity_pressure, own.join_loss, join.apart * common.velocity_pressure
