"""Posterior by a moved population and by independent chains, against a known normal law."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import DisagreementError
from cakewright.quantities import FloatArray
from cakewright.statistics.bayes import Laplace
from cakewright.statistics.population import chains_about, moved_population

SIZE = 10
SPREAD = np.linspace(0.5, 2.0, SIZE)
CENTRE = np.linspace(-1.0, 1.0, SIZE)
ABOUT = Laplace(np.zeros(SIZE), np.eye(SIZE), 0.0)


def _density(points: FloatArray) -> FloatArray:
    return np.asarray(-0.5 * np.sum(((points - CENTRE) / SPREAD) ** 2, axis=1))


def test_population_finds_a_law_it_was_not_started_at() -> None:
    """Means within 4 standard errors and spreads within a fifth, from a wrong normal law."""
    found = moved_population(_density, ABOUT)
    error = 4.0 * SPREAD / np.sqrt(len(found.draws))
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
        moved_population(lambda x: np.full(len(x), -np.inf), ABOUT)
