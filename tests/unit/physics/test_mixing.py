"""Mixing: power and speed are inverse, regimes, eddies."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.physics.mixing import (
    impeller_speed_for_power,
    kolmogorov_length,
    mixing_power_for_gradient,
    velocity_gradient,
)


def test_gradient_and_power_are_inverse() -> None:
    """The power of a gradient gives the gradient back."""
    power = mixing_power_for_gradient(np.array([50.0, 500.0]), 0.02, 1.3)
    assert np.asarray(velocity_gradient(power, 0.02, 1.3)) == pytest.approx([50.0, 500.0])


@pytest.mark.parametrize("viscosity", [1e-3, 0.1, 50.0])
def test_speed_gives_its_power_back(viscosity: float) -> None:
    """Speed, Reynolds number, power number and power close the loop in every regime."""
    n = float(impeller_speed_for_power(300.0, 1.3, 1010.0, 0.4, viscosity))
    number = 1.3 + 60.0 * viscosity / (1010.0 * n * 0.4**2)
    assert number * 1010.0 * n**3 * 0.4**5 == pytest.approx(300.0, rel=1e-9)


def test_thick_liquid_turns_slower_at_equal_power() -> None:
    """The laminar part takes power away from speed."""
    thin = float(impeller_speed_for_power(100.0, 1.3, 1000.0, 0.4, 0.001))
    assert float(impeller_speed_for_power(100.0, 1.3, 1000.0, 0.4, 50.0)) < thin


def test_eddies_shrink_with_power() -> None:
    """Sixteen times the power halves the smallest eddy."""
    big = float(kolmogorov_length(0.1, 1e-6))
    assert kolmogorov_length(1.6, 1e-6) == pytest.approx(big / 2)


def test_empty_tank_is_refused() -> None:
    """A volume of zero is refused by name."""
    with pytest.raises(OutOfRangeError, match="volume: got 0 m3"):
        velocity_gradient(1.0, 0.001, 0.0)
