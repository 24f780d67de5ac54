"""Random duct trees for the solver's tests, made by a compiled generator so that a million are affordable.

Bores are trade sizes; branch angles 30 to 90 degrees; junctions are of either edition of the flow-ratio law, with the
numbers of the catalogue for a table of area ratios, or of the entry-angle law.
"""

import math

import numpy as np
from numba import njit

from airbough_service import catalogue
from airbough_service.core.laws.fan import fan_pressure
from airbough_service.core.network import columns as c
from airbough_service.core.network.junction import junction_losses
from airbough_service.core.network.own_loss import straight_losses
from airbough_service.core.network.solver import solve_states
from airbough_service.core.network.status import BEYOND_HIGH, NO_FLOW, NOT_CONVERGED, OK

BORES = np.array([2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0]) * 0.0254
ROUGHNESSES = np.array([1.0e-6, 9.0e-5, 1.5e-4, 9.0e-4, 5.0e-3])
ANGLES = np.array([30.0, 45.0, 60.0, 90.0])
FACTORS = np.array([0.18, 0.28, 0.44, 1.0])
RATIOS = np.linspace(0.001, 10.0, 10_000)  # of areas, past the widest bore of a branch


def _laws() -> np.ndarray:
    """Return low, slope, high, step, join, lift, linear, drag by edition, angle and area ratio."""
    laws = np.empty((len(catalogue.EDITIONS), ANGLES.size, RATIOS.size, 8))
    for place, _ in np.ndenumerate(laws[..., 0]):
        law = branch_law(float(ANGLES[place[1]]), float(RATIOS[place[2]]), "wye", catalogue.EDITIONS[place[0]])
        laws[place] = *law.factor, law.constants.join, law.lift, law.linear, law.drag
    return laws


branch_law = catalogue.branch_law.__wrapped__  # type: ignore[attr-defined]  # eighty thousand laws need no cache
LAWS = _laws()


@njit(cache=True)
def structure(hoods: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return parents, first children and child counts of a random tree, breadth first."""
    size = 4 * hoods + 4
    parent, first, count, load = (np.full(size, -1), np.zeros(size, np.int64), np.zeros(size, np.int64), np.zeros(size))
    load[0] = hoods
    n, i = 1, 0
    while i < n:
        h = int(load[i])
        parts = np.zeros(3, np.int64)
        k = 0
        if h >= 3 and np.random.random() < 0.1:
            a = np.random.randint(1, h - 1)
            b = np.random.randint(1, h - a)
            parts[0], parts[1], parts[2], k = a, b, h - a - b, 3
        elif h >= 2:
            a = 1 if np.random.random() < 0.6 else np.random.randint(1, h)
            parts[0], parts[1], k = a, h - a, 2
        elif np.random.random() < 0.1 and n < size - 2:
            parts[0], k = 1, 1
        first[i], count[i] = n, k
        for m in range(k):
            parent[n], load[n] = i, parts[m]
            n += 1
        i += 1
    return parent[:n], first[:n], count[:n]


@njit(cache=True)
def random_bores(first: np.ndarray, count: np.ndarray) -> np.ndarray:
    """Return bores from the hoods to the fan, m; a run is usually no narrower than what flows into it."""
    bore = np.zeros(first.size)
    for run in range(first.size - 1, -1, -1):
        bore[run] = BORES[np.random.randint(0, 6)]
        if count[run] > 0:
            square, widest = 0.0, 0.0
            for arm in range(first[run], first[run] + count[run]):
                square += bore[arm] ** 2
                widest = max(widest, bore[arm])
            bore[run] = math.sqrt(square) * (0.6 + 0.9 * np.random.random())
            if np.random.random() < 0.8:
                bore[run] = max(bore[run], widest)
            bore[run] = min(bore[run], 3.0)  # the wire's widest
    return bore


@njit(cache=True)
def fill_losses(row: np.ndarray, bore: float, density: float, leaf: bool) -> None:
    """Fill a run's own losses; one in five has no local loss or no length."""
    viscosity, area = 1.8e-5, math.pi * bore**2 / 4.0
    vp = density / (2.0 * area * area)
    row[c.LOCAL] = vp * 4.0 * np.random.random() if np.random.random() < 0.8 else 0.0
    row[c.FRICTION] = vp * 15.0 * np.random.random() / bore if np.random.random() < 0.8 else 0.0
    row[c.REYNOLDS] = density * bore / (area * viscosity)
    row[c.ROUGH] = ROUGHNESSES[np.random.randint(0, 5)] / (3.7 * bore)
    row[c.START] = -2.0 * math.log10(row[c.ROUGH] + 2.51 * 7.0 / 1.0e5)
    row[c.VP_START], row[c.VP_END] = vp, vp
    row[c.MOMENTUM], row[c.AREA_RATIO] = 2.0, 1.0
    if np.random.random() < 0.05:
        row[c.EXPONENT_B] = 1.0 + np.random.random()
        row[c.POWER_B] = 400.0 / (20.0 * area) ** row[c.EXPONENT_B]
    if leaf:
        row[c.LOCAL] += vp * (0.04 + 1.5 * np.random.random())


@njit(cache=True)
def random_gate(vp: float, leaf: bool) -> float:
    """Return a gate: none, shut, half open or leaking down to an opening of about 1e-4."""
    chance = np.random.random()
    if leaf:
        if chance < 0.25:
            return math.inf
        return vp * (1.0 / (0.6 * 10.0 ** (-3.9 * np.random.random())) - 0.99) ** 2 if chance < 0.45 else 0.0
    if chance < 0.015:
        return math.inf
    return vp * 50.0 * np.random.random() if chance < 0.03 else 0.0


@njit(cache=True)
def fill_straight(row: np.ndarray, law: int, own: float, into: float, density: float) -> float:
    """Fill a straight arm; return its change of size, Pa per (m3/s)^2."""
    if own == into or law == c.ENTRY:
        return 0.0
    small = min(own, into)
    ratio = (small / max(own, into)) ** 2
    change = density / (2.0 * (math.pi * small**2 / 4.0) ** 2) * (1.0 - ratio) * np.random.random()
    row[c.LOCAL] += change
    return change


@njit(cache=True)
def fill_branch(row: np.ndarray, laws: np.ndarray, pick: int, own: float, into: float) -> None:
    """Fill a branch by its angle and the ratio of areas."""
    row[c.AREA_RATIO], row[c.ENTRY_FACTOR] = (into / own) ** 2, FACTORS[pick]
    row[c.MOMENTUM] = 2.0 * row[c.AREA_RATIO] * (0.0 if pick == 3 else math.cos(math.radians(ANGLES[pick])))
    known = laws[pick, min(int((own / into) ** 2 * 1000.0), RATIOS.size - 1)]
    row[c.FACTOR_LOW], row[c.FACTOR_SLOPE], row[c.FACTOR_HIGH], row[c.FACTOR_STEP] = (
        known[0],
        known[1],
        known[2],
        known[3],
    )
    row[c.FACTOR_JOIN], row[c.LIFT], row[c.SIDE_LINEAR] = known[4], known[5], known[6]
    row[c.SIDE_DRAG] = known[7] * row[c.MOMENTUM]


@njit(cache=True)
def fill_junction(
    table: np.ndarray, links: np.ndarray, laws: np.ndarray, change: np.ndarray, bore: np.ndarray, run: int, law: int,
    density: float,
) -> None:  # fmt: skip
    """Choose and fill the junction above a run: wye, symmetrical wye, square tee or double wye."""
    arms, first = links[run, c.CHILDREN], links[run, c.FIRST_CHILD]
    pick = np.random.randint(0, 4)
    symmetrical = arms == 2 and np.random.random() < 0.2
    links[run, c.LAW] = law
    for arm in range(first, first + arms):
        if arm == first + arms - 1 and not symmetrical:
            change[arm] = fill_straight(table[arm], law, bore[arm], bore[run], density)
            continue
        links[arm, c.IS_BRANCH] = 1
        fill_branch(table[arm], laws, pick, bore[arm], bore[run])
        if arms == 3 and np.random.random() < 0.3:
            pick = np.random.randint(0, 4)


@njit(cache=True)
def random_tree(
    seed: int, most: int, laws: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return table, links, gate, fixed change of size, fan pieces and collector terms of one tree."""
    np.random.seed(seed)
    parent, first, count = structure(int(math.exp(np.random.random() * math.log(most + 0.999))))
    n = parent.size
    density = 0.9 + 0.35 * np.random.random()
    table, links = np.zeros((n, c.FLOAT_COLUMNS)), np.zeros((n, c.LINK_COLUMNS), np.int32)
    gate, change, bore = np.zeros(n), np.zeros(n), random_bores(first, count)
    for run in range(n):
        links[run, c.PARENT], links[run, c.FIRST_CHILD], links[run, c.CHILDREN] = parent[run], first[run], count[run]
        fill_losses(table[run], bore[run], density, count[run] == 0)
        gate[run] = random_gate(table[run, c.VP_START], count[run] == 0)
    law_of_tree = np.random.randint(0, 4)
    edition = np.random.randint(0, 2)
    for run in range(n):
        if count[run] > 1:
            law = law_of_tree if law_of_tree < 3 else np.random.randint(0, 3)
            fill_junction(table, links, laws[edition], change, bore, run, law, density)
    pieces, terms = random_fan(math.pi * bore[0] ** 2 / 4.0)
    return table, links, gate, change, pieces, terms


@njit(cache=True)
def random_fan(area: float) -> tuple[np.ndarray, np.ndarray]:
    """Return a falling curve as pieces (a parabola, or straight lines between points) and collector terms."""
    highest, shut_off = (10.0 + 35.0 * np.random.random()) * area, 800.0 + 4200.0 * np.random.random()
    terms = np.zeros((2, 2))
    terms[0, 0], terms[0, 1] = 400.0 * np.random.random() / highest**2, 2.0
    terms[1, 0], terms[1, 1] = 200.0 * np.random.random() / highest, 1.0
    if np.random.random() < 0.5:
        fan = np.zeros((1, 6))
        fan[0, 1], fan[0, 2], fan[0, 4] = highest, shut_off, -shut_off / highest**2
        return fan, terms
    points = np.random.randint(3, 12)
    fan = np.zeros((points, 6))
    pressure, step = shut_off, highest / points
    for k in range(points):
        fall = shut_off / points * (0.1 + 1.7 * np.random.random()) * (k + 1) * 2.0 / (points + 1)
        fan[k, 0], fan[k, 1], fan[k, 2], fan[k, 3] = k * step, (k + 1) * step, pressure, -fall / step
        pressure -= fall
    return fan, terms


@njit(cache=True)
def worst_at_hoods(
    links: np.ndarray, gate: np.ndarray, flow: np.ndarray, own: np.ndarray, join: np.ndarray, at_fan: float
) -> float:
    """Return how far a hood's pressure is from the room's at most, going from the fan to the hoods, Pa."""
    n, worst = own.size, 0.0
    up = np.zeros(n)
    for run in range(n):
        parent = links[run, c.PARENT]
        if not math.isinf(gate[run]):
            up[run] = (-at_fan if parent < 0 else up[parent]) + join[run] + own[run]
            if links[run, c.CHILDREN] == 0 and flow[run] > 0.0:
                worst = max(worst, abs(up[run]))
    return worst


@njit(cache=True, nogil=True)
def trial(seed: int, most: int, laws: np.ndarray) -> tuple[int, int, int, float, float]:
    """Solve one random tree; return status, iterations, hoods and both residuals, worked out independently.

    The residuals do not come from the solver: losses are summed again with Colebrook solved to full precision.
    """
    table, links, gate, change, fan, terms = random_tree(seed, most, laws)
    n = table.shape[0]
    flows, statuses, steps = np.zeros((1, n)), np.zeros(1, np.int64), np.zeros(1, np.int64)
    gates, roots = gate.reshape((1, n)), np.empty((0, n))
    solve_states(table, links, gates, fan, terms, 0.0, 0.0, flows, statuses, steps, roots)
    flow, status, iterations = flows[0], statuses[0], steps[0]
    leaves = 0
    for run in range(n):
        leaves += links[run, c.CHILDREN] == 0
    if status != OK:
        return status, iterations, leaves, 0.0, 0.0
    mass = 0.0
    for run in range(n):
        if links[run, c.CHILDREN] > 0 and flow[run] > 0.0:
            arriving = 0.0
            for arm in range(links[run, c.FIRST_CHILD], links[run, c.FIRST_CHILD] + links[run, c.CHILDREN]):
                arriving += flow[arm]
            mass = max(mass, abs(arriving - flow[run]) / flow[run])
    friction, resistance = straight_losses(table, flow)
    own, join = np.zeros(n), junction_losses(table, links, flow)
    for run in range(n):
        square = flow[run] * flow[run]
        open_gate = 0.0 if math.isinf(gate[run]) else gate[run]
        own[run] = friction[run] + resistance[run] + (table[run, c.LOCAL] - change[run] + open_gate) * square
        join[run] += change[run] * square
    at_fan = fan_pressure(fan, terms, 0.0, flow[0])[0]
    worst = worst_at_hoods(links, gate, flow, own, join, at_fan)
    return status, iterations, leaves, mass, worst / max(at_fan, 1.0)


@njit(cache=True, nogil=True)
def trials(start: int, number: int, most: int, laws: np.ndarray) -> tuple[np.ndarray, np.ndarray, int, np.ndarray]:
    """Return counts by status, worst residuals, most iterations and the seeds that failed (first 100; -1 ends)."""
    counts, worst, longest = np.zeros(5, np.int64), np.zeros(2), 0
    failed = np.full(100, -1)
    failures = 0
    for seed in range(start, start + number):
        status, iterations, _, mass, energy = trial(seed, most, laws)
        counts[status] += 1
        worst[0], worst[1], longest = max(worst[0], mass), max(worst[1], energy), max(longest, iterations)
        bad = status == NOT_CONVERGED or not (mass < 1.0e-9 and energy < 1.0e-9)
        if bad and failures < 100:
            failed[failures] = seed
            failures += 1
    return counts, worst, longest, failed


__all__ = ["BEYOND_HIGH", "LAWS", "NOT_CONVERGED", "NO_FLOW", "OK", "random_tree", "trial", "trials"]
