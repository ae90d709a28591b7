"""Yielding power-law friction: ends, profile integral, smooth-pipe limit."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from cakewright.physics.pipes import friction_factor_newtonian
from cakewright.physics.pipes_bingham import wall_stress_buckingham_reiner
from cakewright.physics.pipes_herschel_bulkley import (
    bulk_shear_rate_herschel_bulkley,
    friction_factor_dodge_metzner,
    friction_factor_herschel_bulkley,
    wall_stress_herschel_bulkley,
)


@pytest.mark.parametrize("n", [0.35, 0.6, 1.0])
def test_flow_curve_meets_the_integrated_profile(n: float) -> None:
    """8V/D equals the integral of the shear rate over the section."""
    wall, tau0, k = 12.0, 4.0, 0.8

    def rate(x: float) -> float:
        return float(4 * x**2 * (max(wall * x - tau0, 0.0) / k) ** (1 / n))

    expected, _ = quad(rate, tau0 / wall, 1.0, epsrel=1e-11)
    found = bulk_shear_rate_herschel_bulkley(wall, tau0, k, n)
    assert found == pytest.approx(expected, rel=1e-8)


def test_index_one_is_buckingham_reiner() -> None:
    """At index 1 the wall stress is Buckingham and Reiner's."""
    expected = float(wall_stress_buckingham_reiner(0.4, 0.1, 5.0, 0.02))
    assert wall_stress_herschel_bulkley(0.4, 0.1, 5.0, 0.02, 1.0) == pytest.approx(expected)


def test_no_yield_stress_is_the_power_law() -> None:
    """Without yield stress the wall stress is K (8V/D (3n+1)/4n)^n."""
    n, k, v, d = 0.5, 0.7, 0.4, 0.05
    expected = k * (8 * v / d * (3 * n + 1) / (4 * n)) ** n
    assert wall_stress_herschel_bulkley(v, d, 0.0, k, n) == pytest.approx(expected)


def test_below_the_yield_stress_nothing_flows() -> None:
    """A wall stress under the yield stress carries no flow."""
    assert bulk_shear_rate_herschel_bulkley(3.0, 4.0, 0.5, 0.6) == 0.0


def test_turbulent_index_one_is_the_smooth_pipe() -> None:
    """At index 1 the turbulent law lies within 2 % of Colebrook's smooth pipe."""
    for re in (1e4, 1e5, 1e6):
        smooth = float(friction_factor_newtonian(re)) / 4
        assert friction_factor_dodge_metzner(re, 1.0) == pytest.approx(smooth, rel=0.02)


@pytest.mark.parametrize("n", [0.4, 0.7, 1.0])
def test_turbulent_law_solves_its_equation(n: float) -> None:
    """The factor put back into Dodge and Metzner's equation closes; index 1 is von Karman's."""
    re = 5e4
    f = float(friction_factor_dodge_metzner(re, n))
    right = 4 / n**0.75 * np.log10(re * f ** (1 - n / 2)) - 0.4 / n**1.2
    assert 1 / np.sqrt(f) == pytest.approx(right, rel=1e-9)


def test_regimes_join_over_velocities() -> None:
    """Pressure loss rises with velocity through the change of regime."""
    v = np.linspace(0.1, 4.0, 60)
    f = np.asarray(friction_factor_herschel_bulkley(v, 0.1, 1010.0, 2.0, 0.2, 0.7))
    assert np.all(np.diff(f * v**2) > 0)
