"""Air of the book against other programs' air: values they gave, stored here so that no test needs them installed."""

from __future__ import annotations

import pytest

from knowngood.handbook.heat import air_properties

REFERENCE = [
    (-20.0, 0.0228117, 1.160842e-5, 0.714147),
    (0.0, 0.0243605, 1.331596e-5, 0.710835),
    (40.0, 0.0273543, 1.699875e-5, 0.705479),
    (80.0, 0.0302253, 2.101912e-5, 0.701652),
    (150.0, 0.0350000, 2.880941e-5, 0.698228),
]
"""degC, W/m/K, m^2/s, Prandtl number of dry air at 101 325 Pa: CoolProp 8.0.0, PropsSI(..., 'Air'), asked once."""


@pytest.mark.parametrize(("film", "conductivity", "viscosity", "prandtl"), REFERENCE)
def test_air_is_near_a_reference_equation_of_state(
    film: float, conductivity: float, viscosity: float, prandtl: float
) -> None:
    air = air_properties(film)
    assert air.air_conductivity == pytest.approx(conductivity, rel=0.013), "CoolProp 8.0.0"
    assert air.air_viscosity == pytest.approx(viscosity, rel=0.013), "CoolProp 8.0.0"
    assert air.prandtl == pytest.approx(prandtl, rel=0.03), "CoolProp 8.0.0"


def test_air_at_sea_level_is_that_of_the_standard_atmosphere() -> None:
    """As fluids 1.3.1 computes it: ATMOSPHERE_1976(0) has mu 1.789380e-5, rho 1.2249992 and k 0.02532588."""
    air = air_properties(15.0)
    assert air.air_conductivity == pytest.approx(0.02532588, rel=5e-4)
    assert air.air_viscosity == pytest.approx(1.789380e-5 / 1.2249992, rel=5e-4)
