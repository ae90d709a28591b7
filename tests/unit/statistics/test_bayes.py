"""Posteriors with known shape, and the refusals that protect a report."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cakewright.errors import DisagreementError, OutOfRangeError
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


def test_disagreement_is_refused_by_name() -> None:
    """A shifted mean and a wrong spread are each named; small noise is let through."""
    draws = np.random.default_rng(1).normal(size=(3000, 3))
    one = b.Posterior(draws, 3000, 1.0, "first way")
    other = b.Posterior(draws * [1.0, 1.0, 1.6] + [0.05, 0.5, 0.0], 3000, 1.0, "second way")
    with pytest.raises(DisagreementError, match="shifted") as error:
        b.check_agreement(one, other, ["fine", "shifted", "spread"])
    assert "spread:" in str(error.value)
    assert "fine:" not in str(error.value)


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
        (lambda: b.r_hat(np.ones((4, 50, 1))), OutOfRangeError, "stuck"),
        (lambda: b.r_hat(np.ones((4, 3, 1))), OutOfRangeError, "at least 8"),
    ],
)
def test_unfit_posteriors_are_refused(call: Any, error: type[Exception], text: str) -> None:
    """Zero density, free directions and dead chains are named."""
    with pytest.raises(error, match=text):
        call()
