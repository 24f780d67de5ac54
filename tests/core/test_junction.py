"""Junction laws: continuous over every flow ratio, the solver's compiled form, and sums that cannot be negative."""

import math
from itertools import pairwise

import numpy as np
import pytest

from airbough_service import catalogue
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.laws.junction import (
    JOIN_HALF_WIDTH,
    Arm,
    BranchFactor,
    entry_angle_losses,
    flow_ratio_coefficients,
    resultant_velocity_pressure,
)
from airbough_service.core.network import columns as c
from airbough_service.core.network import kernel

ANGLES = [5.0, 15.0, 30.0, 45.0, 60.0, 75.0, 90.0]
RATIOS = [0.05, 0.2, 0.33, 0.345, 0.35, 0.36, 0.37, 0.5, 0.8, 1.0]


def factor_of(law):
    return BranchFactor(law.factor_low, law.factor_slope, law.factor_high, law.factor_step)


def wye(angle, ratio, share):
    law = catalogue.branch_law(angle, ratio, "wye")
    branch = Arm(share, 1.0 / ratio, law.cosine, factor_of(law))
    return flow_ratio_coefficients([branch, Arm(1.0 - share, 1.0, 1.0)], law.tee)


def pair(angle, ratio, share):
    law = catalogue.branch_law(angle, ratio, "symmetrical")
    arms = [Arm(q, 1.0 / ratio, law.cosine, factor_of(law)) for q in (share, 1.0 - share)]
    return flow_ratio_coefficients(arms)


def double(angle, ratio, share):
    law = catalogue.branch_law(angle, ratio, "double")
    arms = [Arm(q, 1.0 / ratio, law.cosine, factor_of(law)) for q in (0.3 * share, 0.7 * share)]
    return flow_ratio_coefficients([*arms, Arm(1.0 - share, 1.0, 1.0)])


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
        values = [law.at(q) for q in np.linspace(0.0, 1.0, 10001)]
        assert max(abs(b - a) for a, b in pairwise(values)) < 2.0e-3
    for share in (0.0, 0.2, 0.4, 0.7, 1.0):
        values = [factor_of(catalogue.branch_law(angle, r, "wye")).at(share) for r in np.linspace(0.3, 0.4, 2001)]
        assert max(abs(b - a) for a, b in pairwise(values)) < 2.0e-3


def test_the_factor_holds_the_printed_table_outside_the_joins():
    # Idelchik, 3rd ed., Table 7-1, p. 417, as carried by open texts: 1 to area ratio 0.35, else 0.9 (1 - q), 0.55.
    small = factor_of(catalogue.branch_law(45.0, 0.3, "wye"))
    large = factor_of(catalogue.branch_law(45.0, 0.6, "wye"))
    for share in (0.0, 0.1, 0.3, 0.38):
        assert small.at(share) == 1.0
        assert large.at(share) == pytest.approx(0.9 * (1.0 - share), rel=1e-14)
    for share in (0.42, 0.7, 1.0):
        assert small.at(share) == 1.0
        assert large.at(share) == pytest.approx(0.55, rel=1e-14)


def test_the_square_tee_grows_out_of_the_wye():
    for share in (0.1, 0.5, 0.9):
        values = [wye(angle, 0.5, share)[1] for angle in np.linspace(30.0, 90.0, 601)]
        assert max(abs(b - a) for a, b in pairwise(values)) < 0.03
        assert values[-1] == pytest.approx(1.55 * share - share**2, rel=1e-12)


def test_the_tees_constants_are_the_catalogues():
    from airbough_service.catalogue.reading import read

    block = read("junctions")["flow-ratio"]
    assert (block["tee_straight"]["linear"], block["tee_straight"]["quadratic"]) == (1.55, -1.0)
    assert block["correction"]["join_half_width"] == JOIN_HALF_WIDTH


@pytest.mark.parametrize("angle", [0.0, *ANGLES])
@pytest.mark.parametrize("ratio", RATIOS)
def test_the_solver_computes_the_same_wye(angle, ratio):
    law = catalogue.branch_law(angle, ratio, "wye")
    for share in (0.0, 0.1, 0.39, 0.5, 0.99, 1.0):
        q = np.array([0.0, share, 1.0 - share])
        table, links = np.zeros((3, c.FLOAT_COLUMNS)), np.zeros((3, c.LINK_COLUMNS), dtype=np.int32)
        table[0, c.VP_START] = 1.0
        table[1, c.AREA_RATIO], table[1, c.COSINE], links[1, c.IS_BRANCH] = 1.0 / ratio, law.cosine, 1
        table[2, c.AREA_RATIO], table[2, c.COSINE] = 1.0, 1.0
        columns = (c.FACTOR_LOW, c.FACTOR_SLOPE, c.FACTOR_HIGH, c.FACTOR_STEP)
        table[1, columns] = law.factor_low, law.factor_slope, law.factor_high, law.factor_step
        table[2, c.FACTOR_LOW] = law.tee  # of a straight run this column holds the share of the tee's law
        solved = kernel.pair_pressures(table, links, c.TEE, 0, 1, 2, q[1], q[2])
        assert solved[:2] == pytest.approx(wye(angle, ratio, share), rel=1e-12, abs=1e-12)


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


def test_the_entry_angle_law_never_gives_energy_back():
    rng = np.random.default_rng(11)
    for _ in range(5000):
        count = int(rng.integers(1, 4))
        flows = rng.uniform(0.0, 1.0, count) + 1e-6
        pressures = rng.uniform(0.0, 900.0, count)
        factors = [catalogue.entry_factor(float(a)).coefficient for a in rng.uniform(0.0, 90.0, count)]
        into = float(rng.uniform(0.0, 900.0))
        losses = entry_angle_losses(list(flows), list(pressures), factors, into)
        dissipated = float(np.dot(flows, losses))
        assert dissipated >= -1e-9 * float(np.dot(flows, pressures + into))


def test_the_entry_angle_law_charges_acceleration_once():
    # By hand: one arm, VP 100 Pa into 150 Pa, no angle: the static pressure falls by 50 Pa, the total by nothing.
    assert entry_angle_losses([1.0], [100.0], [0.0], 150.0) == pytest.approx([0.0], abs=1e-12)
    # Slowing down, 150 into 100 Pa: no regain is credited, 50 Pa of total pressure is lost.
    assert entry_angle_losses([1.0], [150.0], [0.0], 100.0) == pytest.approx([50.0])
    assert resultant_velocity_pressure([1.0, 3.0], [100.0, 200.0]) == 175.0
