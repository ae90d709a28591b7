"""Water properties against an open implementation of the international standard."""

from __future__ import annotations

import numpy as np
import pytest
from chemicals import iapws, viscosity

from cakewright.errors import OutOfRangeError
from cakewright.physics.water import (
    vapour_pressure_wagner,
    water_density_kell,
    water_viscosity_iapws,
)

TEMPERATURES = np.array([273.5, 278.15, 288.15, 293.15, 313.15, 333.15, 363.15])


def _density(t: float) -> float:
    """Density by the full equation of state, at one atmosphere."""
    return float(iapws.iapws95_rho(t, 101325.0))  # type: ignore[no-untyped-call]


@pytest.mark.parametrize("t", TEMPERATURES)
def test_density_meets_the_standard(t: float) -> None:
    """Density within 2e-5 of the full equation of state."""
    assert water_density_kell(t) == pytest.approx(_density(t), rel=2e-5)


@pytest.mark.parametrize("t", TEMPERATURES)
def test_viscosity_meets_the_standard(t: float) -> None:
    """Viscosity within 1e-4 of the full correlation."""
    expected = viscosity.mu_IAPWS(t, _density(t))
    assert water_viscosity_iapws(t) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("t", TEMPERATURES)
def test_vapour_pressure_meets_the_standard(t: float) -> None:
    """Saturation pressure within 2e-4 of the standard."""
    expected = float(iapws.iapws95_Psat(t))  # type: ignore[no-untyped-call]
    assert vapour_pressure_wagner(t) == pytest.approx(expected, rel=2e-4)


def test_arrays_give_the_same_numbers() -> None:
    """An array of temperatures gives what each one gives alone."""
    found = np.asarray(water_density_kell(TEMPERATURES))
    assert found.tolist() == [water_density_kell(float(t)) for t in TEMPERATURES]


@pytest.mark.parametrize("t", [250.0, 400.0, float("nan")])
def test_ice_steam_and_nan_are_refused(t: float) -> None:
    """Outside the liquid the message names quantity, value, unit and range."""
    with pytest.raises(OutOfRangeError, match=r"water temperature: got .* K; allowed: >= 273.15"):
        water_viscosity_iapws(t)
