"""Charts against plain loops and against simulated series of known autocorrelation."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.statistics import charts as c


def ar1(r: float, runs: int, length: int, seed: int = 1) -> Any:
    """Unit-variance first-order autoregressive series, one per row."""
    generator = np.random.default_rng(seed)
    x = np.empty((runs, length))
    x[:, 0] = generator.standard_normal(runs)
    for i in range(1, length):
        x[:, i] = r * x[:, i - 1] + np.sqrt(1 - r * r) * generator.standard_normal(runs)
    return x


X = ar1(0.0, 1, 300)[0] + 20


def test_ewma_equals_its_recursion() -> None:
    """Averages follow z = w x + (1-w) z from the centre on."""
    got = c.ewma_chart(X, 20.0, 1.0, 0.3)
    z, expected = 20.0, []
    for x in X:
        z = 0.3 * x + 0.7 * z
        expected.append(z)
    np.testing.assert_allclose(got.values, expected, rtol=1e-12)


@pytest.mark.parametrize("r", [-0.4, 0.0, 0.7])
def test_ewma_limits_hold_for_autocorrelated_readings(r: float) -> None:
    """Three-sigma limits hold the simulated spread of the average for any autocorrelation."""
    rows = ar1(r, 400, 200)
    half = float(c.ewma_chart(rows[0], 0.0, 1.0, 0.2, autocorrelation=r).upper[-1])
    last = [c.ewma_chart(row, 0.0, 1.0, 0.2).values[-1] for row in rows]
    assert np.std(last) == pytest.approx(half / 3, rel=0.09)


def test_starting_limits_grow_to_the_constant_ones() -> None:
    """The first limit is the weight times the deviation; later ones approach the constant."""
    got = c.ewma_chart(X, 20.0, 2.0, 0.3, starting=True)
    assert got.upper[0] - 20 == pytest.approx(3 * 2 * 0.3)
    assert got.upper[-1] == pytest.approx(c.ewma_chart(X, 20.0, 2.0, 0.3).upper[-1])


def test_cusum_equals_its_recursion() -> None:
    """Both sums follow max(0, ...) step by step."""
    got = c.cusum_chart(X, 20.0, 1.0, 0.4, 3.0)
    high = low = 0.0
    expected = []
    for x in X - 20:
        high, low = max(0.0, high + x - 0.4), max(0.0, low - x - 0.4)
        expected.append((high, low))
    np.testing.assert_allclose(got.values.T, expected, atol=1e-12)
    assert got.signals.tolist() == [i for i, p in enumerate(expected) if max(p) > 3.0]


@pytest.mark.parametrize("r", [-0.5, 0.0, 0.6])
def test_autocorrelation_is_found(r: float) -> None:
    """The estimate finds r."""
    x = 5 + 2 * ar1(r, 1, 5000)[0]
    assert c.autocorrelation_lag1(x) == pytest.approx(r, abs=0.04)


def test_inflation_is_the_spread_of_a_mean() -> None:
    """Means of autocorrelated readings scatter by the stated factor."""
    means = ar1(0.5, 2000, 200).mean(axis=1)
    factor = means.std() * np.sqrt(200)
    assert factor == pytest.approx(c.spread_inflation_ar1(0.5), rel=0.05)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: c.autocorrelation_lag1(np.array([1.0, np.nan])), "leave gaps out"),
        (lambda: c.ewma_chart(X, 0, 1, 1.5), "must not pass 1"),
        (lambda: c.ewma_chart(X, 0, 1, 0.2, autocorrelation=1.0), "trend taken off"),
        (lambda: c.ewma_chart(X, 0, 1, 0.2, autocorrelation=0.3, starting=True), "starting"),
        (lambda: c.cusum_chart(X, 0, -1), "deviation is -1"),
        (lambda: c.cusum_chart(X, 0, 1, -0.5), "must be >= 0"),
        (lambda: c.autocorrelation_lag1(np.ones(20)), "stuck"),
    ],
)
def test_unfit_readings_are_refused(call: Any, text: str) -> None:
    """Gaps, stuck sensors and impossible settings are named."""
    with pytest.raises(OutOfRangeError, match=text):
        call()
