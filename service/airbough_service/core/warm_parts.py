"""What is compiled before any request, in parts: every law and every entry point is run on a tiny tree."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from airbough_service.core.choosing import sizing
from airbough_service.core.choosing.junctions import join_losses
from airbough_service.core.choosing.placing import labels, lattice, outside, program, relaxed
from airbough_service.core.choosing.sites import Site
from airbough_service.core.distinct_keys import surely_distinct
from airbough_service.core.laws.curve import curve_values
from airbough_service.core.laws.fan import (
    Fan,
    curve_pieces,
)
from airbough_service.core.laws.friction import darcy, friction_factor
from airbough_service.core.laws.junction import FlowRatioConstants, branch_factor
from airbough_service.core.laws.power import EfficiencyShape, best_point, power_of_efficiency
from airbough_service.core.network import (
    columns,
    judged_states,
    reaching,
    sampling,
    solver,
    states,
    trials,
    trying,
    variants,
)
from airbough_service.core.network.coefficients import flow_ratio_coefficients
from airbough_service.core.network.governing import (
    Limits,
    Way,
    balance,
    short_of,
)
from airbough_service.core.network.losses import losses, run_lines
from airbough_service.core.network.operating import (
    fan_pressures,
    flows_at,
    operate,
)
from airbough_service.core.network.own_loss import straight_losses
from airbough_service.core.network.sampling import (
    Uses,
    needed,
    solved,
)
from airbough_service.core.network.tree import (
    Arm,
    Run,
    Tree,
    arm_lines,
    given,
    pack,
    sums,
)

# Any law will do to compile it: these numbers answer nobody.
CONSTANTS = FlowRatioConstants(momentum=2.0, join=0.1)
STRAIGHT = Arm(constants=CONSTANTS)
BRANCH = Arm(
    is_branch=True,
    cosine=0.7,
    area_ratio=2.25,
    entry_factor=0.3,
    factor=(1.0, -1.0, 0.5, 0.5),
    linear=1.0,
    drag=1.0,
    constants=CONSTANTS,
)


@dataclass(frozen=True, slots=True)
class Part:
    """Loops that are compiled together.

    Attributes:
        seconds: of one processor, measured on 2026-11-26 (tests/bench/README.md), for saying how long it is to wait.
        compiled: compiles them, or loads them where they are compiled.
        after: the parts that compile most loops which it calls: begun beside them it would compile these as well. Of
            one that is nearly done only the last are missing, so that nothing is gained by waiting for it.
    """

    seconds: float
    compiled: Callable[[], None]
    after: tuple[str, ...] = ()


def _falling() -> Fan:
    return Fan(curve_pieces([0.0, 0.3, 0.6], [2000.0, 1500.0, 0.0], linear=False), np.array([[900.0, 2.0]]), 0.0)


def _solving() -> None:
    """Compile what solves one state: of a tree whose one run is shut, for nothing else need be compiled before."""
    table, links = np.zeros((1, columns.FLOAT_COLUMNS)), np.zeros((1, columns.LINK_COLUMNS), np.int32)
    solver.solve_state(table, links, np.full(1, np.inf), np.zeros((1, 6)), np.zeros((0, 2)), 0.0, 0.0, np.empty(1))


def _apart() -> None:
    """Compile what solves nothing: packing, fans, judging, reading, and the laws that are asked alone.

    The laws last: what solves has compiled them by then.
    """
    flags = np.ones(4, np.bool_)
    _judging(np.ones((1, flags.size)), flags)
    surely_distinct(b"{}")
    _reaching()
    tree, fan = _tiny(columns.ENTRY, 3), _falling()
    shape = EfficiencyShape(0.3, 0.6, 0.8, 0.7, 0.3, 0.5)
    power_of_efficiency(np.array([0.2]), np.array([500.0]), 0.5, best_point(fan.pieces, 0.0), shape)
    curve_values(fan.pieces, np.array([0.2]))
    friction_factor(1.0e5, 1.0e-4)
    darcy(1.0e-4, 1.0e5, 7.0)
    branch_factor(*BRANCH.factor, CONSTANTS.join, 0.5)
    straight_losses(tree.table, np.full(tree.gate.size, 0.1))
    sums(b"", 1.2)
    fan_pressures(fan.pieces, fan.terms, fan.net_quadratic, np.array([0.1]))


def _telling() -> None:
    """Compile what tells the losses of flows that are known, and what balances them."""
    tree = _tiny(columns.ENTRY, 3)
    losses(tree, tree.gate, np.full(tree.gate.size, 0.1), 0.0)
    flow_ratio_coefficients([BRANCH, STRAIGHT], [0.5, 0.5])
    for by, correction in (("gates", "exact"), ("flow", "square-root"), ("flow", "exact")):
        design = np.where(tree.links[:, columns.CHILDREN] == 0, 0.1, 0.0)
        balance(tree, tree.gate, design, Way(by, correction, Limits(1.05, 1.2)))  # type: ignore[arg-type]  # the wire's words
    short_of(tree, tree.gate, np.full(tree.gate.size, 0.1), np.ones(tree.gate.size), 0, 1)


def _operating() -> None:
    """Compile what searches a fan's curve, and run all that solves one state and tells its losses."""
    dipping = Fan(curve_pieces([0.0, 0.3, 0.4, 0.6], [1500.0, 200.0, 1400.0, 0.0], linear=True), np.zeros((0, 2)), 9.0)
    for law in (columns.MEET, columns.FLOW_RATIO, columns.ENTRY):
        for arms in (2, 3):
            tree = _tiny(law, arms)
            for fan in (_falling(), dipping):
                operating = operate(tree, fan, tree.gate)
                found = losses(tree, tree.gate, operating.flow, fan.left_for_tree(float(operating.flow[0])))
                run_lines(tree, found, operating.flow, tree.place, tree.place, [0.1] * tree.place.size)
    flows_at(tree, tree.gate, 0.2)


def _placing() -> None:
    """Compile where ducts run."""
    room = [(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)]
    where = lattice.lattice(room, [(1.0, 1.0)], [], [])
    rows, ones = program.rows_of(np.ones((4, 1), np.bool_)), np.ones((3, 1))
    aside = np.ones((3, 1, 1))
    prices = program.Prices(ones[:, 0], ones, ones[:2], ones[:2], np.ones((1, 1, 1)), ones, aside, np.ones(1))
    machines = np.array([where.at(2.0, 0.0), where.at(2.0, 2.0)])
    solved, inlet = program.solve(where, machines, rows, prices), program.Inlet(where.at(0.0, 1.0), 2)
    still = outside.still(where, machines, solved, prices, inlet)
    least = np.zeros((3, 1, 1))
    needs = labels.Needs(least[:, 0], least, least, least[..., None], least[:2], least[:2], least[:1, 0], np.ones(1))
    starts = labels.Starts(ones[:2], ones[:2], ones[:1])
    labels.cheapest(where, machines, labels.Asked(rows, prices, prices, starts, needs, still, np.inf, 99), inlet, 1)
    bound = relaxed.solve(where, machines, rows, prices)
    relaxed.least_by_point(where, machines, rows, prices, inlet, bound, np.inf)


def _reaching() -> None:
    """Compile who is open and active."""
    parents, order, hoods = np.array([-1, 0]), np.array([0, 1]), np.array([False, True])
    gates, is_open, active = np.ones((1, 2), np.bool_), np.empty((1, 2), np.bool_), np.empty((1, 2), np.bool_)
    reaching.reach(parents, order, hoods, gates, is_open, active)
    reaching.greatest_upstream(parents, order, np.ones(2), is_open, np.empty((1, 2)))


def _draws() -> None:
    """Compile the loops over draws of the coefficients."""
    tree, fan = _tiny(columns.ENTRY, 3), _falling()
    none, some = np.full(tree.gate.size, -1, np.int32), np.zeros(1, np.int32)
    uses = Uses(
        row=some, term=some, amount=np.ones(1), rough=none, friction=none, power=none, inside=none, junction=none,
        beside=none, gate=none, fan=0, losses=some,
    )  # fmt: skip
    flow = solved(tree, fan, tree.gate, uses, np.ones((2, 1))).flow[0]
    needed(tree, tree.gate, flow, uses, np.ones((2, 1)))
    sampling.apply(tree.table, np.ones(1), uses, tree.table.copy())


def _trials() -> None:
    """Compile what tries changes of a tree."""
    tree, fan = _tiny(columns.ENTRY, 3), _falling()
    flow = np.full(tree.gate.size, 0.1)
    trials.tried(tree, fan, tree.gate, flow, [[]], [[0]], trials.Needs(np.zeros(1, np.int64), np.ones(1)))
    trying.tried_rows(tree, fan, tree.gate, flow, trying.ChangedRows([0.0] * trying.LINE, [], {}, [0.0, 1.0]))


def _states() -> None:
    """Compile what solves many states of the gates, and many variants of a tree."""
    tree, fan = _tiny(columns.ENTRY, 3), _falling()
    gates = tree.gate[None, :].copy()
    solved = states.solve(tree, fan, gates, with_roots=True)
    at_fan = fan_pressures(fan.pieces, fan.terms, fan.net_quadratic, solved.flow[:, 0].copy())
    states.deepest_suctions(tree, tree.change, np.ones(tree.gate.size, np.bool_), gates, solved, at_fan)
    numbers = [(0, given(Run(parent=-1, start=0.15, end=0.15, length=2.0, roughness=9.0e-5)))]
    variants.solve(tree, fan, 1.8e-5, variants.rows_of([numbers], len(numbers[0][1])), gates)


def _judging(flow: np.ndarray, flags: np.ndarray) -> None:
    """Compile what judges states, each row of the tree a run of its own."""
    numbers, ones, one = np.arange(flags.size), np.ones(flags.size), np.ones(1, np.bool_)
    runs = judged_states.Judging(numbers - 1, numbers, numbers, numbers, ones, ones, ones, ones, ones, ones)
    here = judged_states.States(flow, one, flags[None], flags[None], flags[:0])
    judged_states.judge(runs, here, 0, judged_states.worst_of(1), judged_states.nothing_noted(flags.size))


def _sizing() -> None:
    """Compile what chooses bores: two hoods, each of one bore, and the inlet."""
    tree = _tiny(columns.ENTRY, 3)
    one, zero, begins = np.ones(1), np.zeros(1), np.array([0, 1])
    none, two = np.empty((1, 0, 1)), np.zeros((1, 2, 1))
    hood = Site((), np.ones((1, 1)), one, zero, begins, np.empty((1, 0), np.int64), none, none, zero, zero)
    inlet = Site((0, 1), np.zeros((1, 1)), zero, zero, begins, np.zeros((1, 2), np.int64), two, two.copy(), zero, zero)
    sizing.solve([hood, hood, inlet], sizing.Aim("cost", np.full(1, np.inf), np.full((1, 1), np.inf)), 10, 1000)
    arm_lines([STRAIGHT, BRANCH])
    join_losses(tree.table, np.arange(tree.gate.size)[None], tree.links, np.ones((1, tree.gate.size)))


def _tiny(law: int, arms: int) -> Tree:
    """Return a main with two or three arms, one of them a leaking gate in laminar flow."""
    main = Run(parent=-1, start=0.15, end=0.15, length=2.0, roughness=9.0e-5, fittings=2000.0)
    straight = Run(parent=0, start=0.15, end=0.15, length=2.0, roughness=9.0e-5, entry=1000.0, arm=STRAIGHT)
    leaking = Run(parent=0, start=0.1, end=0.1, length=1.0, roughness=0.0, entry=5000.0, gate=1.0e12, arm=BRANCH)
    plain = Run(
        parent=0, start=0.1, end=0.1, length=1.0, roughness=0.0, entry=5000.0, arm=BRANCH,
        power_law=(4000.0, 1.9), resistance=(3000.0, 1.5),
    )  # fmt: skip
    return pack([main, straight, leaking, plain][: arms + 1], 1.2, 1.82e-5, law)


LIGHT: Final = {
    "solving": Part(6.0, _solving),
    "apart": Part(5.5, _apart),
    "telling": Part(2.0, _telling),
    "trials": Part(2.5, _trials, ("solving",)),
    "operating": Part(1.5, _operating, ("solving",)),
    "states": Part(1.5, _states, ("solving",)),
}
"""What the light questions need; of those who share it out none begins what stands below before all of it is begun."""

FURTHER: Final = {
    "placing": Part(15.0, _placing),
    "choosing": Part(11.0, _sizing),
    "draws": Part(4.5, _draws),
}
"""What only sizing, layouts and uncertainty need, and quotes and price advice by them; the long ones first."""

PARTS: Final = LIGHT | FURTHER
