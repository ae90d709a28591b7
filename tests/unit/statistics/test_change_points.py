"""Change points in series whose step is known, and in series without one."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.statistics.change_points import change_point


def test_interval_holds_the_true_place() -> None:
    """Over 200 series with a step of one deviation the 95 % interval holds it in most."""
    generator = np.random.default_rng(8)
    inside = 0
    for _ in range(200):
        x = generator.standard_normal(120) + np.where(np.arange(120) < 70, 0, 1.0)
        got = change_point(x)
        inside += got.lower <= 70 <= got.upper
    assert inside >= 174


@pytest.mark.parametrize("r", [0.0, 0.6])
def test_false_steps_are_as_rare_as_stated(r: float) -> None:
    """Without a step a chance under 5 % comes up in about 5 % of series, correlated or not."""
    generator = np.random.default_rng(9)
    low = 0
    for _ in range(300):
        noise = generator.standard_normal(200)
        for i in range(1, 200):
            noise[i] = r * noise[i - 1] + np.sqrt(1 - r * r) * noise[i]
        low += change_point(noise).chance < 0.05
    assert 3 <= low <= 33


def test_levels_before_and_after() -> None:
    """The two levels are the means of the two parts."""
    x = np.random.default_rng(1).normal(size=60)
    x[40:] += 6
    got = change_point(x)
    assert got.index == 40
    assert got.before == pytest.approx(x[:40].mean())
    assert got.after == pytest.approx(x[40:].mean())
    assert got.chance < 0.001


def test_exact_step_without_noise() -> None:
    """A noise-free step is found instead of dividing by its zero spread."""
    got = change_point(np.r_[np.zeros(20), np.ones(20)])
    assert (got.index, got.lower, got.upper) == (20, 20, 20)


@pytest.mark.parametrize("x", [np.ones(30), np.arange(5.0), np.full(20, np.nan)])
def test_unfit_series_are_refused(x: np.ndarray) -> None:
    """Constant, short and broken series are named."""
    with pytest.raises(OutOfRangeError, match=r"stuck|at least 12"):
        change_point(x)
