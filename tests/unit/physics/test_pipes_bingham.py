"""Bingham friction: exact laminar law, limits of the all-regime law, critical Reynolds number."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from cakewright.errors import OutOfRangeError
from cakewright.physics.pipes import friction_factor_newtonian
from cakewright.physics.pipes_bingham import (
    bingham_friction_laminar,
    critical_reynolds_hanks_pratt,
    friction_factor_darby_melson,
    wall_stress_buckingham_reiner,
)


@pytest.mark.parametrize("tau0", [0.01, 1.0, 5.0, 200.0])
def test_wall_stress_meets_the_integrated_profile(tau0: float) -> None:
    """The flow integrated over the velocity profile at the answer is the flow asked for."""
    d, mu, v = 0.08, 0.03, 0.6
    wall = float(wall_stress_buckingham_reiner(v, d, tau0, mu))
    radius, plug = d / 2, d / 2 * tau0 / wall

    def shear(r: float) -> float:
        return max(wall * r / radius - tau0, 0.0) / mu * np.pi * r**2

    flow, _ = quad(shear, plug, radius, epsabs=0, epsrel=1e-11)
    assert flow / (np.pi * radius**2) == pytest.approx(v, rel=1e-9)


def test_wall_stress_meets_a_library_root_finder() -> None:
    """A general bracketing solver finds the same root."""
    v, d, tau0, mu = 0.3, 0.1, 5.0, 0.02

    def miss(tau: float) -> float:
        a = tau0 / tau
        return tau / mu * (1 - 4 * a / 3 + a**4 / 3) - 8 * v / d

    expected = brentq(miss, tau0, 100.0, xtol=1e-13)
    assert wall_stress_buckingham_reiner(v, d, tau0, mu) == pytest.approx(expected, rel=1e-12)


def test_no_yield_stress_is_newtonian() -> None:
    """Without yield stress the laminar factor is 16/Re."""
    assert bingham_friction_laminar(500.0, 0.0) == pytest.approx(16 / 500.0)


def test_cautious_constant_meets_the_smooth_pipe() -> None:
    """At large Hedstrom number and Re 1e5 the default lies within 2 % of smooth-pipe water."""
    water = float(friction_factor_newtonian(1e5)) / 4
    turbulent = 10**-1.378 / 1e5**0.193
    assert turbulent == pytest.approx(water, rel=0.02)
    # a Hedstrom number large enough to kill the correction, small against Re for the laminar part
    assert friction_factor_darby_melson(1e5, 3e5) == pytest.approx(turbulent, rel=0.01)


def test_without_yield_stress_the_turbulent_constant_is_larger() -> None:
    """At Hedstrom 0 the exponent is 1.146 times the constant, in between it fades."""
    expected = 10 ** (-1.378 * 1.146) / 1e6**0.193
    assert friction_factor_darby_melson(1e6, 0.0) == pytest.approx(expected, rel=2e-3)
    half = -1.378 * (1 + 0.146 * np.exp(-2.9e-5 * 2e4))
    expected = 10**half / 1e6**0.193
    assert friction_factor_darby_melson(1e6, 2e4) == pytest.approx(expected, rel=2e-3)


def test_other_constant_is_a_fifth_lower() -> None:
    """The constant of the published example lies about 20 % below the default."""
    low = float(friction_factor_darby_melson(1e5, 3e5, -1.47))
    assert low / float(friction_factor_darby_melson(1e5, 3e5)) == pytest.approx(0.81, abs=0.01)


def test_all_regime_law_is_laminar_at_low_reynolds() -> None:
    """Well below the critical Reynolds number the all-regime factor is the laminar one."""
    laminar = float(bingham_friction_laminar(300.0, 1e5))
    assert friction_factor_darby_melson(300.0, 1e5) == pytest.approx(laminar, rel=1e-9)


def test_critical_reynolds_without_yield_is_newtonian() -> None:
    """Hanks and Pratt tend to 2100 and rise with the yield stress."""
    assert critical_reynolds_hanks_pratt(0.0) == pytest.approx(2100.0, rel=1e-6)
    found = np.asarray(critical_reynolds_hanks_pratt(np.array([1e2, 1e4, 1e6, 1e8])))
    assert np.all(np.diff(found) > 0)


def test_constant_outside_reason_is_refused() -> None:
    """A constant that is no Darby-Melson constant is refused."""
    with pytest.raises(OutOfRangeError, match="Darby-Melson constant"):
        friction_factor_darby_melson(1e4, 1e4, -3.0)
