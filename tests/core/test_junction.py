"""Junction laws: continuous over every flow ratio, the printed formulas, their slopes, and sums never negative."""

import math
from itertools import pairwise

import numpy as np
import pytest

from airbough_service import catalogue
from airbough_service.core.errors import NotATreeError, OutsideTableError
from airbough_service.core.laws.junction import branch_factor
from airbough_service.core.network import columns as c
from airbough_service.core.network import joining, junction, work
from airbough_service.core.network.coefficients import flow_ratio_coefficients
from airbough_service.core.network.tree import Arm, Run, fill_arm, pack

ANGLES = [5.0, 15.0, 30.0, 45.0, 60.0, 75.0, 90.0]
RATIOS = [0.05, 0.2, 0.33, 0.345, 0.35, 0.36, 0.37, 0.5, 0.8, 1.0]


def factor_of(law):
    def at(share):
        pieces = (law.factor_low, law.factor_slope, law.factor_high, law.factor_step)
        return branch_factor(*pieces, law.constants.join, share)[0]

    return at


def branch_of(law, ratio):
    pieces = (law.factor_low, law.factor_slope, law.factor_high, law.factor_step)
    return Arm(True, law.cosine, 1.0 / ratio, factor=pieces, constants=law.constants)


def straight_of(law):
    return Arm(tee=law.tee, constants=law.constants)


def wye(angle, ratio, share):
    law = catalogue.branch_law(angle, ratio, "wye")
    return flow_ratio_coefficients([branch_of(law, ratio), straight_of(law)], [share, 1.0 - share])


def pair(angle, ratio, share):
    law = catalogue.branch_law(angle, ratio, "symmetrical")
    return flow_ratio_coefficients([branch_of(law, ratio)] * 2, [share, 1.0 - share])


def double(angle, ratio, share):
    law = catalogue.branch_law(angle, ratio, "double")
    arms = [branch_of(law, ratio), branch_of(law, ratio), straight_of(law)]
    return flow_ratio_coefficients(arms, [0.3 * share, 0.7 * share, 1.0 - share])


@pytest.mark.parametrize("angle", ANGLES)
@pytest.mark.parametrize("ratio", RATIOS)
@pytest.mark.parametrize("law", [wye, pair, double])
def test_laws_are_continuous_in_the_flow_ratio(law, angle, ratio):
    values = np.array([law(angle, ratio, share) for share in np.linspace(0.0, 1.0, 4001)])
    assert np.all(np.isfinite(values))
    # The steepest printed piece: the join over 0.04 of a step of 0.36 at most, times the base, and 2 q / n^2 itself.
    steepest = 40.0 * (1.0 + 1.0 / ratio**2)
    assert np.max(np.abs(np.diff(values, axis=0))) < steepest / 4000.0


@pytest.mark.parametrize("angle", ANGLES)
def test_the_factor_has_no_step_in_flow_or_in_area(angle):
    for ratio in RATIOS:
        law = factor_of(catalogue.branch_law(angle, ratio, "wye"))
        values = [law(q) for q in np.linspace(0.0, 1.0, 10001)]
        assert max(abs(b - a) for a, b in pairwise(values)) < 2.0e-3
    for share in (0.0, 0.2, 0.4, 0.7, 1.0):
        values = [factor_of(catalogue.branch_law(angle, r, "wye"))(share) for r in np.linspace(0.3, 0.4, 2001)]
        assert max(abs(b - a) for a, b in pairwise(values)) < 2.0e-3


def test_the_factor_holds_the_printed_table_outside_the_joins():
    # Idelchik, 3rd ed., Table 7-1, p. 417, as carried by open texts: 1 to area ratio 0.35, else 0.9 (1 - q), 0.55.
    small = factor_of(catalogue.branch_law(45.0, 0.3, "wye"))
    large = factor_of(catalogue.branch_law(45.0, 0.6, "wye"))
    for share in (0.0, 0.1, 0.3, 0.38):
        assert small(share) == 1.0
        assert large(share) == pytest.approx(0.9 * (1.0 - share), rel=1e-14)
    for share in (0.42, 0.7, 1.0):
        assert small(share) == 1.0
        assert large(share) == pytest.approx(0.55, rel=1e-14)


def test_the_square_tee_grows_out_of_the_wye():
    for share in (0.1, 0.5, 0.9):
        values = [wye(angle, 0.5, share)[1] for angle in np.linspace(30.0, 90.0, 601)]
        assert max(abs(b - a) for a, b in pairwise(values)) < 0.03
        assert values[-1] == pytest.approx(1.55 * share - share**2, rel=1e-12)


def printed(arms, shares):
    """The printed law: A_i (1 + (v_i/v_c)^2 - 2 sum_k (q_k/q_c)(v_k/v_c) cos a_k); straight of a tee: 1.55 q - q^2.

    Idelchik, 3rd ed., section 15, eq. 7-1 and 7-2, p. 416-417, Table 7-1 and p. 432, as carried by open texts; the
    pieces of A are joined over 0.02 either side of their step.
    """
    momentum = sum(q * q * arm.area_ratio * arm.cosine for arm, q in zip(arms, shares, strict=True))
    out = []
    for arm, q in zip(arms, shares, strict=True):
        base = 1.0 + (arm.area_ratio * q) ** 2 - 2.0 * momentum
        if arm.is_branch:
            low, slope, high, step = arm.factor
            before = low + slope * min(q, step - 0.02)
            out.append(base * np.interp(q, [step - 0.02, step + 0.02], [before, high]))
        else:
            out.append((1.0 - arm.tee) * base + arm.tee * (1.55 * (1.0 - q) - (1.0 - q) ** 2))
    return out


SHARES = (0.0, 0.1, 0.39, 0.4, 0.5, 0.99, 1.0)


@pytest.mark.parametrize("angle", [0.0, *ANGLES])
@pytest.mark.parametrize("ratio", RATIOS)
def test_the_law_is_the_printed_one(angle, ratio):
    for arrangement in ("wye", "symmetrical", "double"):
        law = catalogue.branch_law(angle, ratio, arrangement)
        branch, straight = branch_of(law, ratio), straight_of(law)
        arms = {"wye": [branch, straight], "symmetrical": [branch] * 2, "double": [branch, branch, straight]}
        for share in SHARES:
            shares = [0.4 * share, 0.6 * share] if arrangement == "double" else [share]
            shares.append(1.0 - sum(shares))
            found = flow_ratio_coefficients(arms[arrangement], shares)
            assert found == pytest.approx(printed(arms[arrangement], shares), rel=1e-12, abs=1e-12)


def packed(angle, ratio, arrangement, into=700.0):
    """Return table and links of one junction."""
    law = catalogue.branch_law(angle, ratio, arrangement)
    branch, straight = branch_of(law, ratio), straight_of(law)
    arms = {"wye": [branch, straight], "symmetrical": [branch] * 2, "double": [branch, branch, straight]}[arrangement]
    table, links = np.zeros((len(arms) + 1, c.FLOAT_COLUMNS)), np.zeros((len(arms) + 1, c.LINK_COLUMNS), np.int32)
    table[0, c.VP_START] = into
    links[0, c.FIRST_CHILD], links[0, c.CHILDREN], links[0, c.LAW] = 1, len(arms), c.FLOW_RATIO
    for row, arm in enumerate(arms, 1):
        fill_arm(table[row], arm)
        links[row, c.IS_BRANCH] = arm.is_branch
    return table, links


def slopes_by_differences(table, links, flows):
    """Return the arms' losses and their slopes in each arm's flow, from the losses alone."""

    def at(own):
        return junction.junction_losses(table, links, np.array([sum(own), *own]))[1:]

    columns = []
    for k in range(len(flows)):
        step = np.zeros(len(flows))
        step[k] = 1.0e-6
        columns.append((at(flows + step) - at(flows - step)) / 2.0e-6)
    return at(flows), np.array(columns).T


@pytest.mark.parametrize("arrangement", ["wye", "symmetrical"])
@pytest.mark.parametrize("angle", [30.0, 75.0, 90.0])
def test_the_pairs_slopes_are_those_of_its_losses(arrangement, angle):
    for ratio in (0.2, 0.36, 0.7):
        table, links = packed(angle, ratio, arrangement)
        for share in (0.1, 0.39, 0.41, 0.8):
            flows = 0.3 * np.array([share, 1.0 - share])
            losses, slopes = slopes_by_differences(table, links, flows)
            found = junction.pair_losses(table, links, 0, 1, 2, *flows)
            assert found[:2] == pytest.approx(losses, rel=1e-12, abs=1e-12)
            assert found[2:] == pytest.approx(slopes.ravel(), rel=1e-7, abs=1e-5)


@pytest.mark.parametrize("arrangement", ["wye", "double"])
def test_a_junction_is_eliminated_as_its_equations_say(arrangement):
    """Arm k needs alpha_k + beta_k q_k and loses its join; all meet at p, and their flows sum to the run's."""
    rng = np.random.default_rng(4)
    for angle in (30.0, 60.0, 90.0):
        table, links = packed(angle, 0.5, arrangement, 60.0)
        count = len(table) - 1
        flows = rng.uniform(0.1, 0.4, count)
        losses, slopes = slopes_by_differences(table, links, flows)
        order, _, scratch = work.scratch(count + 1)
        order[work.ROW] = np.arange(count + 1)
        alpha, beta = rng.uniform(-50.0, 0.0, count), rng.uniform(300.0, 900.0, count)
        scratch[1:, work.FLOW], scratch[1:, work.ALPHA], scratch[1:, work.BETA] = flows, alpha, beta
        below, slope = joining.join(table, links, c.FLOW_RATIO, order, 0, 1, count, scratch)
        for total in (0.5, 1.0):
            matrix = np.zeros((count + 1, count + 1))
            matrix[:count, :count], matrix[:count, count] = slopes + np.diag(beta), -1.0
            matrix[count, :count] = 1.0
            *shares, pressure = np.linalg.solve(matrix, [*(slopes @ flows - losses - alpha), total])
            assert below + slope * total == pytest.approx(pressure, rel=1e-6)
            told = scratch[1:, work.CONSTANT] + scratch[1:, work.PROPORTION] * total
            assert told == pytest.approx(shares, rel=1e-6, abs=1e-8)


def test_what_the_catalogue_prints_is_what_is_computed(monkeypatch):
    """Editing a constant of the junctions moves the coefficients: none of them is repeated in the code."""
    import copy

    from airbough_service.catalogue import junctions, reading

    plain = reading.read("junctions")
    places = {
        "tee_linear": (("flow-ratio", "tee_straight", "linear"), lambda: wye(90.0, 0.5, 0.4)[1]),
        "tee_quadratic": (("flow-ratio", "tee_straight", "quadratic"), lambda: wye(90.0, 0.5, 0.4)[1]),
        "join": (("flow-ratio", "correction", "join_half_width"), lambda: wye(45.0, 0.5, 0.41)[0]),
        "wye": (("flow-ratio", "momentum", "constant"), lambda: wye(45.0, 0.5, 0.4)[0]),
        "pair": (("symmetrical-wye", "momentum", "constant"), lambda: pair(45.0, 0.5, 0.4)[0]),
        "double": (("double-wye", "momentum", "constant"), lambda: double(45.0, 0.5, 0.4)[2]),
    }
    for (first, second, third), computed in places.values():
        before = computed()
        edited = copy.deepcopy(plain)
        edited[first][second][third] *= 1.5
        monkeypatch.setattr(reading, "read", lambda name, edited=edited: edited if name == "junctions" else None)
        junctions.branch_law.cache_clear()
        after = computed()
        monkeypatch.undo()
        junctions.branch_law.cache_clear()
        assert abs(after - before) > 1.0e-3, third


def test_a_flow_ratio_junction_needs_constants_and_two_or_three_arms():
    main = Run(-1, 0.2, 0.2, 1.0, 1.0e-4)
    arm = Run(0, 0.1, 0.1, 1.0, 1.0e-4, arm=straight_of(catalogue.branch_law(45.0, 0.5, "wye")))
    with pytest.raises(NotATreeError):
        pack([main, *[Run(0, 0.1, 0.1, 1.0, 1.0e-4)] * 2], 1.2, 1.8e-5, c.FLOW_RATIO)
    with pytest.raises(NotATreeError):
        pack([main, *[arm] * 4], 1.2, 1.8e-5, c.FLOW_RATIO)
    assert pack([main, *[arm] * 3], 1.2, 1.8e-5, c.FLOW_RATIO).links[0, c.LAW] == c.FLOW_RATIO


def test_an_even_head_on_tee_is_idelchiks():
    # Idelchik, 3rd ed., diagram 7-29 with Table 7-1: 0.55 (1 + 1 + 3 (0.25 - 0.5)), as carried by open texts.
    assert pair(90.0, 1.0, 0.5) == pytest.approx([0.6875, 0.6875], abs=1e-9)


def test_an_even_symmetrical_wye_has_one_coefficient():
    one, two = pair(45.0, 0.5, 0.5)
    assert one == pytest.approx(two, rel=1e-14)
    # Momentum balance by hand: 1 + (0.5/0.5)^2 - 2 * 2 * (0.5 * 1 * cos 45).
    assert one == pytest.approx(2.0 - 2.0 * math.cos(math.radians(45.0)), rel=1e-14)


def test_what_no_law_answers_is_refused():
    for angle, ratio in ((91.0, 0.5), (-1.0, 0.5), (45.0, 11.0)):
        with pytest.raises(OutsideTableError):
            catalogue.branch_law(angle, ratio, "wye")
    with pytest.raises(OutsideTableError):
        catalogue.entry_factor(91.0)


def test_angles_between_the_wye_and_the_tee_are_said_to_be_unpublished():
    assert [o.parameter for o in catalogue.branch_law(75.0, 0.5, "wye").outside] == ["angle"]
    assert catalogue.branch_law(90.0, 0.5, "wye").outside == ()
    assert catalogue.branch_law(45.0, 0.5, "wye").outside == ()


def test_entry_factors_rise_with_the_angle():
    values = [catalogue.entry_factor(angle).coefficient for angle in np.linspace(0.0, 90.0, 901)]
    assert values[0] == 0.0
    assert all(b >= a for a, b in pairwise(values))
    assert max(b - a for a, b in pairwise(values)) < 0.01


def entry_losses(flows, pressures, factors, into):
    """Return the arms' losses by the entry-angle law, from their velocity pressures and that of the run below, Pa."""
    count, total = len(flows), sum(flows)
    table, links = np.zeros((count + 1, c.FLOAT_COLUMNS)), np.zeros((count + 1, c.LINK_COLUMNS), np.int32)
    links[0, c.FIRST_CHILD], links[0, c.CHILDREN], links[0, c.LAW] = 1, count, c.ENTRY
    table[0, c.VP_START] = into / total**2
    table[1:, c.VP_END] = np.array(pressures) / np.array(flows) ** 2
    table[1:, c.ENTRY_FACTOR] = factors
    return junction.junction_losses(table, links, np.array([total, *flows]))[1:]


def test_the_entry_angle_law_never_gives_energy_back():
    rng = np.random.default_rng(11)
    for _ in range(5000):
        count = int(rng.integers(2, 4))
        flows = rng.uniform(0.0, 1.0, count) + 1e-6
        pressures = rng.uniform(0.0, 900.0, count)
        factors = [catalogue.entry_factor(float(a)).coefficient for a in rng.uniform(0.0, 90.0, count)]
        into = float(rng.uniform(0.0, 900.0))
        losses = entry_losses(flows, pressures, factors, into)
        assert float(np.dot(flows, losses)) >= -1e-9 * float(np.dot(flows, pressures + into))


def test_the_entry_angle_law_charges_acceleration_once():
    # By hand: equal arms of VP 100 Pa into 150 Pa, no angle: static pressure falls by 50 Pa, the total by nothing.
    assert entry_losses([1.0, 1.0], [100.0, 100.0], [0.0, 0.0], 150.0) == pytest.approx([0.0, 0.0], abs=1e-12)
    # Slowing down, 150 into 100 Pa: no regain is credited, 50 Pa of total pressure is lost.
    assert entry_losses([1.0, 1.0], [150.0, 150.0], [0.0, 0.0], 100.0) == pytest.approx([50.0, 50.0])
    # Resultant of 1 at 100 Pa and 3 at 200 Pa is 175 Pa: the arms lose 100 - 175 and 200 - 175 of total pressure.
    assert entry_losses([1.0, 3.0], [100.0, 200.0], [0.0, 0.0], 300.0) == pytest.approx([-75.0, 25.0])
