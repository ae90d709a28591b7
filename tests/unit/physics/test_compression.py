"""Sludge-law functions."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.physics.compression import (
    compressive_diffusivity,
    local_resistance_power,
    permeability_darcy,
    solidosity_equilibrium,
    total_solids_cake,
    void_ratio,
    yield_stress_power,
)

LAW = (0.02, 150.0, 3.1)


def test_yield_stress_and_solidosity_are_inverse() -> None:
    """Reading the law forwards and backwards gives the stress again, for arrays."""
    stress = np.geomspace(10.0, 1e6, 30)
    there = solidosity_equilibrium(stress, *LAW)
    assert np.allclose(yield_stress_power(there, *LAW), stress, rtol=1e-12)


def test_suspension_carries_no_stress() -> None:
    """Below the gel point stress and diffusivity vanish."""
    assert yield_stress_power(0.015, *LAW) == 0.0
    assert compressive_diffusivity(0.015, *LAW, 1e11, 1400.0, 1e-3) == 0.0


def test_diffusivity_is_stress_slope_over_drag() -> None:
    """D equals the numerical slope of the yield stress over viscosity, density and resistance."""
    step = 1e-6
    slope = (yield_stress_power(0.1 + step, *LAW) - yield_stress_power(0.1 - step, *LAW)) / 2 / step
    ours = compressive_diffusivity(0.1, *LAW, 1e12, 1400.0, 1e-3)
    assert np.isclose(ours, slope / (1e-3 * 1400.0 * 1e12), rtol=1e-8)


def test_permeability_and_resistance_say_the_same() -> None:
    """Hydraulic conductivity of 1e-10 m/s at 0.3 is 1.92e14 m/kg (geotechnical data)."""
    conductivity = permeability_darcy(0.3, 1.92e14, 1700.0) * 1000.0 * 9.80665 / 1e-3
    assert np.isclose(conductivity, 1e-10, rtol=0.01)


def test_total_solids_from_void_ratio() -> None:
    """4 volumes of water per volume of solids of 1500 kg/m3 are 27.3 % total solids."""
    assert np.isclose(total_solids_cake(void_ratio(0.2), 1500.0, 1000.0), 1.5 / 5.5)


def test_local_resistance_grows_with_stress() -> None:
    """At nine times the scale, an exponent of 1 makes the resistance ten times."""
    assert np.isclose(local_resistance_power(1350.0, 1e10, 150.0, 1.0), 1e11)


@pytest.mark.parametrize("law", [(0.02, 150.0, 0.0), (0.02, -1.0, 3.0), (0.0, 150.0, 3.0)])
def test_impossible_laws_are_refused(law: tuple[float, float, float]) -> None:
    """n <= 0, a negative stress scale and a gel point of 0 are named."""
    with pytest.raises(OutOfRangeError, match=r"yield|gel"):
        yield_stress_power(0.1, *law)
