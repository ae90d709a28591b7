"""Pooling many parameters at once: evidence without its prior, and what a new site starts from."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import DataError
from cakewright.quantities import FloatArray
from cakewright.running.fleet import BETWEEN_SHARE, Evidence, evidence_of, new_site


def _posterior(estimate: FloatArray, error: float) -> tuple[FloatArray, FloatArray]:
    """Posterior of a unit prior and readings of one error."""
    precision = 1 + error**-2
    return estimate * error**-2 / precision, np.eye(estimate.size) / precision


def test_prior_is_taken_out_again() -> None:
    """Prior N(0, 1) and a reading 2 ± 0.5 give back that reading, not the drawn-in posterior."""
    one = evidence_of(*_posterior(np.array([2.0, -1.0]), 0.5))
    assert np.diag(one.information) == pytest.approx([4.0, 4.0])
    assert np.linalg.solve(one.information, one.pull) == pytest.approx([2.0, -1.0])


def test_posterior_as_wide_as_the_prior_says_nothing() -> None:
    """A site whose runs narrowed nothing (or seem to widen it by sampling) has no evidence."""
    one = evidence_of(np.array([0.1]), np.array([[1.02]]))
    assert one.information == pytest.approx(0.0)
    assert one.pull == pytest.approx(0.0)


def test_without_evidence_the_class_prior_comes_back() -> None:
    """Three sites that say nothing leave a new press at the class prior: mean 0, spread 1."""
    found = new_site([Evidence(np.zeros((2, 2)), np.zeros(2))] * 3)
    assert found.mean == pytest.approx([0.0, 0.0], abs=0.1)
    assert np.diag(found.covariance) == pytest.approx([1.0, 1.0], abs=0.1)


def test_alike_sites_narrow_and_unlike_sites_do_not() -> None:
    """Six sharp sites about 1: near 1 and narrow. Six strewn as wide as the class: wide."""

    def sharp(values: list[float]) -> list[Evidence]:
        return [evidence_of(*_posterior(np.array([v]), 0.1)) for v in values]

    alike = new_site(sharp([0.9, 1.0, 1.1, 1.0, 0.95, 1.05]))
    strewn = new_site(sharp([-1.5, 1.2, 0.3, -0.8, 1.9, -1.1]))
    assert alike.mean[0] == pytest.approx(1.0, abs=0.1)
    assert alike.covariance[0, 0] ** 0.5 < 0.4
    assert strewn.covariance[0, 0] ** 0.5 > 0.9


def test_new_site_lies_in_its_band_as_often_as_said() -> None:
    """Fleets drawn from the model itself: 80 % bands hold a new site 80 % of the time.

    Tolerance 7.5 points: three standard errors of that share over 250 fleets.
    """
    rng, within, fleets = np.random.default_rng(7), 0, 250
    for k in range(fleets):
        fleet = rng.standard_normal() * np.sqrt(1 - BETWEEN_SHARE)
        between = abs(rng.standard_normal()) * np.sqrt(BETWEEN_SHARE)
        truths = fleet + between * rng.standard_normal(5)
        read = truths[:4] + 0.3 * rng.standard_normal(4)
        sites = [evidence_of(*_posterior(np.array([r]), 0.3)) for r in read]
        found = new_site(sites, seed=k, draws=40)
        spread = found.covariance[0, 0] ** 0.5
        within += abs(truths[4] - found.mean[0]) < 1.2816 * spread
    assert within / fleets == pytest.approx(0.8, abs=0.075)


def test_no_site_no_fleet() -> None:
    """Nothing to pool is an error."""
    with pytest.raises(DataError, match="none"):
        new_site([])
