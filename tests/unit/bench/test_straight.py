"""Straight lines and the robust choice of the straight part."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import linregress

from cakewright.bench.straight import fit_line, straight_part
from cakewright.errors import OutOfRangeError

X = np.linspace(1.0, 12.0, 12)


def test_line_agrees_with_a_library() -> None:
    """Slope, intercept, their errors and R2 equal those of an independent regression."""
    rng = np.random.default_rng(3)
    y = 2.0 + 0.7 * X + rng.normal(0, 0.3, 12)
    ours, theirs = fit_line(X, y), linregress(X, y)
    assert ours.slope == pytest.approx(theirs.slope, rel=1e-12)
    assert ours.intercept == pytest.approx(theirs.intercept, rel=1e-12)
    assert ours.slope_sd == pytest.approx(theirs.stderr, rel=1e-10)
    assert ours.intercept_sd == pytest.approx(theirs.intercept_stderr, rel=1e-10)
    assert ours.r_squared == pytest.approx(theirs.rvalue**2, rel=1e-12)


def test_weights_follow_the_standard_deviations() -> None:
    """A reading a thousand times less sure hardly moves the line."""
    y = 1.0 + 2.0 * X
    y[3] += 50.0
    sd = np.ones(12)
    sd[3] = 1000.0
    assert fit_line(X, y, sd).slope == pytest.approx(2.0, abs=1e-4)


def test_early_and_late_readings_are_left_out() -> None:
    """Curved ends are left out and named; the straight middle gives the true line."""
    rng = np.random.default_rng(5)
    y = 5.0 + 1.0 * X + rng.normal(0, 0.01, 12)
    y[0] -= 2.0
    y[-1] += 4.0
    fit = straight_part(X, y, np.full(12, 0.01))
    assert list(np.flatnonzero(~fit.used)) == [0, 11]
    assert fit.reasons[0] == "before the straight part"
    assert fit.reasons[-1] == "after the straight part"
    assert fit.slope == pytest.approx(1.0, abs=0.01)


def test_single_misreading_inside_is_left_out() -> None:
    """One wrong digit in the middle does not break the line into two."""
    rng = np.random.default_rng(7)
    y = 5.0 + 1.0 * X + rng.normal(0, 0.02, 12)
    y[6] += 3.0
    fit = straight_part(X, y, np.full(12, 0.02))
    assert fit.slope == pytest.approx(1.0, abs=0.02)
    assert not fit.used[6]


def test_straight_readings_are_all_kept() -> None:
    """Over 200 clean data sets fewer than one reading in fifty is thrown away."""
    rng = np.random.default_rng(11)
    left = 0
    for _ in range(200):
        y = 5.0 + X + rng.normal(0, 0.2, 12)
        left += int((~straight_part(X, y, np.full(12, 0.2)).used).sum())
    assert left < 200 * 12 / 50


def test_too_few_readings_are_refused() -> None:
    """Two readings draw a line but carry no judgement."""
    with pytest.raises(OutOfRangeError, match=r"got 2 usable readings; allowed: at least 3"):
        fit_line(X[:2], X[:2])
