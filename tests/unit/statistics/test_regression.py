"""Fits against general libraries and against data made with known parameters."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cakewright.errors import DataError, OutOfRangeError
from cakewright.statistics import regression as r

RNG = np.random.default_rng(12)
X = np.column_stack([np.ones(40), np.linspace(1, 9, 40), RNG.normal(size=40)])
SPREAD = RNG.uniform(0.2, 2.0, 40)
Y = X @ np.array([3.0, -0.5, 1.2]) + SPREAD * RNG.normal(size=40)
T = np.linspace(0.2, 6, 25)
CURVE = 4 * np.exp(-0.7 * T) + 0.05 * RNG.normal(size=25)


def decay(p: Any) -> Any:
    """Two-parameter decay on the fixed times."""
    return p[0] * np.exp(-p[1] * T)


def test_weighted_fit_agrees_with_general_library() -> None:
    """Parameters and covariance equal statsmodels' weighted fit."""
    from statsmodels.api import WLS

    theirs = WLS(Y, X, weights=1 / SPREAD**2).fit()
    ours = r.fit_linear(X, Y, SPREAD)
    np.testing.assert_allclose(ours.parameters, theirs.params, rtol=1e-9)
    np.testing.assert_allclose(ours.covariance, theirs.cov_params(), rtol=1e-9)
    assert ours.freedom == 37


def test_known_deviations_are_not_rescaled() -> None:
    """Stated deviations taken at their word give the covariance of theory."""
    ours = r.fit_linear(X, Y, SPREAD, deviations_known=True)
    theory = np.linalg.inv(X.T @ np.diag(SPREAD**-2) @ X)
    np.testing.assert_allclose(ours.covariance, theory, rtol=1e-9)
    assert ours.scale == 1.0


def _refuse(rows: Any) -> Any:
    raise DataError("x", [])


@pytest.mark.parametrize(
    ("call", "error", "text"),
    [
        (lambda: r.fit_linear(X[:3], Y[:3]), DataError, "more readings than parameters"),
        (lambda: r.fit_linear(X[:, [0, 1, 1]], Y), DataError, r"parameters \[1, 2\]"),
        (lambda: r.fit_linear(X, Y, 0.0), OutOfRangeError, "must be > 0"),
        (lambda: r.fit_linear(X, Y[:-1]), OutOfRangeError, "does not fit"),
        (lambda: r.fit_linear(X, np.full(40, np.nan)), OutOfRangeError, "drop gaps"),
    ],
)
def test_unfit_readings_are_refused(call: Any, error: type[Exception], text: str) -> None:
    """Too few, degenerate or impossible readings are named with a way out."""
    with pytest.raises(error, match=text):
        call()
