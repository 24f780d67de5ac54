import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator

from airbough_service.core.errors import OutsideTableError
from airbough_service.core.laws.table import (
    Axis,
    table,
)

X = (0.0, 1.0, 3.0)
Y = (10.0, 20.0, 40.0, 50.0)
Z = (-1.0, 0.5)


def _values(*shape):
    return np.random.default_rng(3).uniform(0.1, 5.0, shape)


@pytest.mark.parametrize("axes", [(X,), (X, Y), (X, Y, Z)])
def test_linear_reading_agrees_with_scipy(axes):
    values = _values(*(len(axis) for axis in axes))
    ours = table([Axis(f"a{k}", axis) for k, axis in enumerate(axes)], values.tolist())
    theirs = RegularGridInterpolator(axes, values)
    rng = np.random.default_rng(5)
    for _ in range(200):
        point = [rng.uniform(axis[0], axis[-1]) for axis in axes]
        assert ours.at(*point) == pytest.approx(float(theirs(point)[0]), rel=1e-12)


def test_printed_points_are_answered_as_printed():
    values = _values(3, 4)
    ours = table([Axis("x", X), Axis("y", Y)], values.tolist())
    for i, x in enumerate(X):
        for j, y in enumerate(Y):
            assert ours.at(x, y) == pytest.approx(values[i, j], rel=1e-15)


def test_logarithmic_reading_is_straight_in_logarithms():
    power_law = table([Axis("x", (1.0, 2.0, 8.0))], [3.0, 12.0, 192.0], logarithmic=True)  # 3 x^2
    for x in np.linspace(1.0, 8.0, 30):
        assert power_law.at(x) == pytest.approx(3.0 * x * x, rel=1e-12)


def test_a_single_value_needs_no_axis():
    assert table([], 0.93).at() == 0.93


def test_outside_is_refused_unless_held():
    refusing = table([Axis("x", X)], [1.0, 2.0, 3.0])
    with pytest.raises(OutsideTableError) as error:
        refusing.at(3.1)
    assert (error.value.name, error.value.low, error.value.high) == ("x", 0.0, 3.0)
    held = table([Axis("x", X, held=True)], [1.0, 2.0, 3.0])
    assert (held.at(-9.0), held.at(9.0)) == (1.0, 3.0)
    with pytest.raises(OutsideTableError):
        held.at(float("nan"))


@pytest.mark.parametrize(
    ("axes", "values", "logarithmic"),
    [
        ([Axis("x", (1.0, 1.0))], [1.0, 2.0], False),
        ([Axis("x", (1.0, 2.0))], [1.0], False),
        ([Axis("x", (1.0, 2.0))], [[1.0], [2.0]], False),
        ([Axis("x", (1.0, 2.0))], [1.0, float("nan")], False),
        ([Axis("x", (1.0, 2.0))], [0.0, 1.0], True),
        ([], [1.0], False),
    ],
)
def test_a_table_that_is_wrong_is_not_made(axes, values, logarithmic):
    with pytest.raises(ValueError, match=r"axis|value|logarithms"):
        table(axes, values, logarithmic)
