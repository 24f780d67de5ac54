import fluids
import pytest

from airbough_service import catalogue
from airbough_service.core.laws import transport


def test_bore_and_flow_turn_back_into_the_velocity():
    bore = transport.largest_bore(0.35, 20.0)
    assert transport.velocity_in(0.35, bore) == pytest.approx(20.0, rel=1e-14)
    assert transport.flow_at(20.0, bore) == pytest.approx(0.35, rel=1e-14)


@pytest.mark.parametrize("particle", [3.0e-5, 1.0e-4, 1.9e-4])
def test_saltation_agrees_with_rizk_in_fluids(particle):
    # fluids.saltation.Rizk takes the dust's mass flow; ours its mass per mass of air. Same law, same velocity.
    law, bore, density, loading = catalogue.saltation(), 0.15, 1.2, 0.05
    delta = law.delta_slope * particle + law.delta_base
    chi = law.chi_slope * particle + law.chi_base
    velocity = transport.saltation_velocity(loading, bore, delta, chi)
    mass_flow = loading * density * transport.flow_at(velocity, bore)
    assert fluids.saltation.Rizk(mp=mass_flow, dp=particle, rhog=density, D=bore) == pytest.approx(velocity, rel=1e-4)
