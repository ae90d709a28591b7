"""Filtration formulas: identities, limits, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from cakewright.errors import OutOfRangeError
from cakewright.physics.filtration import drainage_time_gravity, filtration_time_ruth
from cakewright.physics.filtration_resistance import (
    solids_per_filtrate,
    specific_resistance_average,
)
from cakewright.quantities.constants import GRAVITY

CASE = (0.01, 5e4, 1e-3, 20.0, 1e12, 5e10)


def test_time_solves_the_rate_equation() -> None:
    """The closed form equals a numerical integration of Ruth's rate."""
    area, drop, mu, c, alpha, medium = CASE

    def rate(_: float, v: np.ndarray) -> np.ndarray:
        return np.asarray(area * drop / (mu * (alpha * c * v / area + medium)))

    end = float(filtration_time_ruth(5e-4, *CASE))
    found = solve_ivp(rate, (0, end), [0.0], rtol=1e-9, atol=1e-14)
    assert found.y[0, -1] == pytest.approx(5e-4, rel=1e-6)


def test_drainage_solves_the_falling_head() -> None:
    """The closed form equals a numerical integration with the falling head."""
    head, mu, rho, c, alpha, medium = 0.1, 1e-3, 998.0, 20.0, 1e10, 2e8

    def slowness(v: float) -> float:
        return mu * (alpha * c * v + medium) / (rho * GRAVITY * (head - v))

    expected = quad(slowness, 0, 0.06)[0]
    assert drainage_time_gravity(0.06, head, mu, rho, c, alpha, medium) == pytest.approx(expected)


@pytest.mark.parametrize("m", [0.0, 0.4, 0.999999, 1.0, 1.3])
def test_average_resistance_is_the_integral(m: float) -> None:
    """The closed form equals the integral, through m = 1."""
    # With p = 300 (e^u - 1) the integrand is smooth over the whole range.
    end = np.log1p(2e5 / 300.0)
    integral = quad(lambda u: 300.0 * np.exp((1 - m) * u) / 1e10, 0, end)[0]
    average = specific_resistance_average(2e5, 1e10, m, 300.0)
    assert average == pytest.approx(2e5 / integral, rel=1e-7)


def test_average_resistance_is_smooth_at_one() -> None:
    """No jump where the power law turns logarithmic."""
    values = [float(specific_resistance_average(1e5, 1.0, 1 + d, 300.0))
              for d in (-1e-7, -1e-9, 0.0, 1e-9, 1e-7)]  # fmt: skip
    assert np.ptp(values) / values[2] < 1e-5


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: filtration_time_ruth(-1e-6, *CASE), "filtrate volume"),
        (lambda: solids_per_filtrate(998.0, 0.3, 4.0), "leaves as filtrate"),
        (lambda: drainage_time_gravity(0.2, 0.1, 1e-3, 998.0, 1.0, 1.0, 1.0), "head left"),
        (lambda: filtration_time_ruth(1e-6, 0.0, *CASE[1:]), "filter area"),
    ],
)
def test_impossible_inputs_are_named(call, words: str) -> None:  # type: ignore[no-untyped-def]
    """Numbers outside the formula's meaning raise with their name."""
    with pytest.raises(OutOfRangeError, match=words):
        call()
