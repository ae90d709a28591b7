"""Posteriors with known shape, and the refusals that protect a report."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cakewright.errors import DisagreementError, InfeasibleError, OutOfRangeError
from cakewright.statistics import bayes as b

COV = np.array([[1.0, 0.6], [0.6, 4.0]])
INVERSE = np.linalg.inv(COV)
MEAN = np.array([3.0, -2.0])


def normal(x: Any) -> Any:
    """Correlated normal."""
    d = x - MEAN
    return -0.5 * np.einsum("ij,jk,ik->i", d, INVERSE, d)


def gamma(x: Any) -> Any:
    """Gamma of shape 3: skewed, bounded at zero."""
    inside = x[:, 0] > 0
    return np.where(inside, 2 * np.log(np.where(inside, x[:, 0], 1.0)) - x[:, 0], -np.inf)


def banana(x: Any) -> Any:
    """Curved ridge whose normal approximation is far off."""
    return -0.5 * (x[:, 0] ** 2 + ((x[:, 1] - 3 * x[:, 0] ** 2) / 0.3) ** 2)


@pytest.mark.parametrize("gradient", [None, lambda x: -INVERSE @ (x - MEAN)])
def test_laplace_is_exact_for_a_normal(gradient: Any) -> None:
    """Mode and covariance of a normal come back, with or without its gradient."""
    got = b.laplace(normal, np.array([0.0, 0.0]), np.array([5.0, 0.5]), gradient)
    np.testing.assert_allclose(got.mode, MEAN, atol=1e-5)
    np.testing.assert_allclose(got.covariance, COV, rtol=1e-4)
    assert got.standard_errors[1] == pytest.approx(2.0, rel=1e-4)


def test_hessian_of_a_polynomial() -> None:
    """Second derivatives of x^2 y at (1, 2) are 4, 2 and 0."""
    got = b.hessian(lambda x: x[:, 0] ** 2 * x[:, 1], np.array([1.0, 2.0]), np.full(2, 0.01))
    np.testing.assert_allclose(got, [[4, 2], [2, 0]], atol=1e-8)


def test_importance_sampling_corrects_the_approximation() -> None:
    """Mean 3 and variance 3 of a gamma, where its normal approximation says 2 and 2."""
    approximation = b.laplace(gamma, np.array([1.0]), np.array([1.0]))
    assert approximation.mode[0] == pytest.approx(2.0, abs=1e-4)
    got = b.importance_sampled(gamma, approximation, 8192)
    assert got.mean[0] == pytest.approx(3.0, rel=0.02)
    assert got.deviation[0] == pytest.approx(np.sqrt(3), rel=0.03)
    assert 0.3 * 8192 < got.effective < 0.95 * 8192


def test_effective_number_falls_on_a_curved_ridge() -> None:
    """A poor approximation confesses through few effective draws."""
    approximation = b.laplace(banana, np.array([0.1, 0.1]), np.array([1.0, 1.0]))
    assert b.importance_sampled(banana, approximation).effective < 0.1 * 4096


def test_sampler_agrees_with_exact_moments_and_repeats() -> None:
    """Walkers find mean and covariance of the normal, and the seed repeats them."""
    approximation = b.laplace(normal, np.zeros(2), np.ones(2))
    got = b.sample_posterior(normal, approximation, draws=4000)
    again = b.sample_posterior(normal, approximation, draws=4000)
    assert np.array_equal(got.draws, again.draws)
    np.testing.assert_allclose(got.mean, MEAN, atol=0.25)
    np.testing.assert_allclose(np.cov(got.draws, rowvar=False), COV, rtol=0.25)
    assert got.r_hat < 1.01
    weighted = b.importance_sampled(normal, approximation)
    b.check_agreement(got, weighted, ["a", "b"])


def test_disagreement_is_refused_by_name() -> None:
    """A shifted mean and a wrong spread are each named; small noise is let through."""
    draws = np.random.default_rng(1).normal(size=(3000, 3))
    one = b.Posterior(draws, 3000, 1.0, "first way")
    other = b.Posterior(draws * [1.0, 1.0, 1.6] + [0.05, 0.5, 0.0], 3000, 1.0, "second way")
    with pytest.raises(DisagreementError, match="shifted") as error:
        b.check_agreement(one, other, ["fine", "shifted", "spread"])
    assert "spread:" in str(error.value)
    assert "fine:" not in str(error.value)


def test_chains_that_do_not_settle_are_refused() -> None:
    """Two far modes that walkers cannot leave raise instead of giving an average."""

    def two(x: Any) -> Any:
        return np.logaddexp(-0.5 * (x[:, 0] / 0.01) ** 2, -0.5 * ((x[:, 0] - 9) / 0.01) ** 2)

    wide = b.Laplace(np.array([4.5]), np.array([[20.0]]), 0.0)
    with pytest.raises(DisagreementError, match="still disagree"):
        b.sample_posterior(two, wide, longest=1000)


def test_effective_size_of_correlated_chains() -> None:
    """Chains of correlation 0.8 are worth a ninth of their draws."""
    generator = np.random.default_rng(3)
    x = np.zeros((4, 20000, 1))
    for i in range(1, 20000):
        x[:, i] = 0.8 * x[:, i - 1] + 0.6 * generator.standard_normal((4, 1))
    assert b.effective_size(x) == pytest.approx(80000 / 9, rel=0.15)
    assert b.r_hat(x) < 1.02
    assert b.r_hat(x + np.arange(4)[:, None, None]) > 1.3


@pytest.mark.parametrize(
    ("call", "error", "text"),
    [
        (lambda: b.laplace(normal, np.zeros(2), np.zeros(2)), OutOfRangeError, "scale > 0"),
        (lambda: b.laplace(gamma, np.array([-1.0]), np.ones(1)), OutOfRangeError, "inside the"),
        (
            lambda: b.laplace(lambda x: -0.5 * x[:, 0] ** 2, np.ones(2), np.ones(2)),
            InfeasibleError,
            "leave a direction free",
        ),
        (lambda: b.r_hat(np.ones((4, 50, 1))), OutOfRangeError, "stuck"),
        (lambda: b.r_hat(np.ones((4, 3, 1))), OutOfRangeError, "at least 8"),
        (
            lambda: b.importance_sampled(
                lambda x: np.full(len(x), -np.inf), b.Laplace(np.zeros(1), np.eye(1), 0.0)
            ),
            InfeasibleError,
            "no draw has any weight",
        ),
    ],
)
def test_unfit_posteriors_are_refused(call: Any, error: type[Exception], text: str) -> None:
    """Zero density, free directions and dead chains are named."""
    with pytest.raises(error, match=text):
        call()
