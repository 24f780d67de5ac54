"""The search for a diameter: how it ends, and that its length does not hang on how far there is to go."""

import math

import pytest

from airbough_service.solving.resizing import NARROWEST, STEPS, crossing


class Branch:
    """A branch that needs a fixed part and one that goes with a power of its bore, of what its junction needs."""

    def __init__(self, needed, power=5.0, fixed=0.0, narrowest=0.0):
        self.needed, self.power, self.fixed, self.narrowest, self.asked = needed, power, fixed, narrowest, 0

    def short(self, bore):
        self.asked += 1
        if bore < self.narrowest:
            return None
        return 1.0 - (self.fixed + (1.0 - self.fixed) * bore**-self.power) / self.needed

    @property
    def bore(self):
        """In which it needs what its junction needs, of a bore of 1 in which it needs 1."""
        return ((self.needed - self.fixed) / (1.0 - self.fixed)) ** (-1.0 / self.power)


@pytest.mark.parametrize("needed", [1.06, 2.0, 30.0, 1.0e3, 1.0e5])
@pytest.mark.parametrize("power", [2.0, 4.0, 5.0, 6.0])
def test_a_branch_that_needs_far_too_little_is_found_in_as_few_steps_as_one_that_needs_nearly_enough(needed, power):
    branch = Branch(needed, power, fixed=0.3)
    found = crossing(branch.short, 1.0)
    if branch.bore > NARROWEST:
        assert found == pytest.approx(branch.bore, rel=1e-11)
    else:
        assert found is None
    assert branch.asked <= 14


def test_the_narrowest_bore_looked_at_is_a_share_of_the_branch_s_own():
    assert crossing(Branch(NARROWEST**-5.0 * 0.99).short, 1.0) == pytest.approx(NARROWEST * 0.99**-0.2, rel=1e-11)
    assert crossing(Branch(NARROWEST**-5.0 * 1.01).short, 1.0) is None


def test_where_no_law_answers_the_bore_none_is_found():
    assert crossing(Branch(30.0, narrowest=0.6).short, 1.0) is None
    assert crossing(Branch(30.0, narrowest=1.1).short, 1.0) is None


def test_a_branch_that_needs_no_pressure_at_first_is_found():
    """By the momentum law air may be drawn into a branch; then there is no ratio to go by."""
    asked = []

    def short(bore):
        asked.append(bore)
        return 1.0 - (bore**-5.0 - 1.5) / 100.0

    assert short(1.0) > 1.0
    assert crossing(short, 1.0) == pytest.approx(101.5**-0.2, rel=1e-11)
    assert len(asked) < STEPS / 2


def test_a_branch_whose_need_jumps_is_ended_with():
    bore = crossing(lambda bore: -0.5 if bore < 0.7 else 0.5, 1.0)
    assert bore == pytest.approx(0.7, rel=1e-9)
    assert math.isfinite(bore)
