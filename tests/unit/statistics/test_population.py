"""Posterior by a moved population and by independent chains, against a known normal law."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import DisagreementError
from cakewright.quantities import FloatArray
from cakewright.statistics.bayes import Laplace
from cakewright.statistics.population import chains_about, tempered_population

SIZE = 10
SPREAD = np.linspace(0.5, 2.0, SIZE)
CENTRE = np.linspace(-1.0, 1.0, SIZE)
ABOUT = Laplace(np.zeros(SIZE), np.eye(SIZE), 0.0)


def _density(points: FloatArray) -> FloatArray:
    return np.asarray(-0.5 * np.sum(((points - CENTRE) / SPREAD) ** 2, axis=1))


def test_population_finds_a_law_it_was_not_started_at() -> None:
    """Means within 4 standard errors and spreads within a fifth, from a wrong normal law."""
    found = tempered_population(_density, ABOUT)
    error = 4.0 * SPREAD / np.sqrt(found.effective)
    assert np.all(np.abs(found.mean - CENTRE) < error)
    assert found.deviation == pytest.approx(SPREAD, rel=0.2)


def test_chains_find_the_same_law() -> None:
    """Independent chains from dispersed starts: the same means and spreads."""
    wide = Laplace(ABOUT.mode, 4.0 * ABOUT.covariance, 0.0)  # as wide as the widest: none sticks
    found = chains_about(_density, wide, longest=800)
    error = 4.0 * SPREAD / np.sqrt(found.effective)
    assert np.all(np.abs(found.mean - CENTRE) < error)
    assert found.deviation == pytest.approx(SPREAD, rel=0.2)


def test_a_density_nowhere_near_the_start_is_refused() -> None:
    """A law a hundred spreads away: nothing is reported."""
    with pytest.raises(DisagreementError):
        tempered_population(lambda x: np.full(len(x), -np.inf), ABOUT)


def test_two_modes_are_found_with_their_shares() -> None:
    """Three quarters at +2, one quarter at -2, six spreads apart: as the density says, +- 0.08."""
    narrow = 1.0 / 3.0

    def two(points: FloatArray) -> FloatArray:
        rest = np.sum(points[:, 1:] ** 2, axis=1)
        right = np.log(0.75) - 0.5 * (((points[:, 0] - 2.0) / narrow) ** 2)
        left = np.log(0.25) - 0.5 * (((points[:, 0] + 2.0) / narrow) ** 2)
        return np.asarray(np.logaddexp(right, left) - 0.5 * rest)

    shares = [
        float(np.mean(tempered_population(two, ABOUT, seed=seed).draws[:, 0] > 0.0))
        for seed in range(8)
    ]
    assert np.mean(shares) == pytest.approx(0.75, abs=0.08)


def test_effective_number_tells_the_error_of_the_mean() -> None:
    """Means of 40 populations scatter about the truth as the effective number says."""
    narrow = 0.3
    scatter, told = [], []
    for seed in range(40):
        found = tempered_population(
            lambda x: np.asarray(-0.5 * np.sum(((x - 1.0) / narrow) ** 2, axis=1)), ABOUT, seed=seed
        )
        scatter.append(found.mean - 1.0)
        told.append(narrow**2 / found.effective)
    assert 0.4 < np.mean(np.square(scatter)) / np.mean(told) < 2.5
