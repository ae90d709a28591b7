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
    """Parameters, covariance and t intervals equal statsmodels' weighted fit."""
    from statsmodels.api import WLS

    theirs = WLS(Y, X, weights=1 / SPREAD**2).fit()
    ours = r.fit_linear(X, Y, SPREAD)
    np.testing.assert_allclose(ours.parameters, theirs.params, rtol=1e-9)
    np.testing.assert_allclose(ours.covariance, theirs.cov_params(), rtol=1e-9)
    np.testing.assert_allclose(ours.intervals(0.9), theirs.conf_int(0.1), rtol=1e-9)
    assert ours.freedom == 37


def test_known_deviations_are_not_rescaled() -> None:
    """Stated deviations taken at their word give the covariance of theory."""
    ours = r.fit_linear(X, Y, SPREAD, deviations_known=True)
    theory = np.linalg.inv(X.T @ np.diag(SPREAD**-2) @ X)
    np.testing.assert_allclose(ours.covariance, theory, rtol=1e-9)
    assert ours.scale == 1.0


def test_robust_fit_agrees_with_general_library() -> None:
    """Huber fit and its standard errors equal statsmodels' on data with gross outliers."""
    import statsmodels.api as sm

    spoiled = Y.copy()
    spoiled[[3, 17, 30]] += [40, -25, 60]
    theirs = sm.RLM(spoiled, X, M=sm.robust.norms.HuberT()).fit(tol=1e-12, maxiter=500)
    ours = r.fit_robust(X, spoiled)
    np.testing.assert_allclose(ours.parameters, theirs.params, rtol=1e-6)
    np.testing.assert_allclose(ours.standard_errors, theirs.bse, rtol=1e-6)
    assert abs(ours.parameters[1] + 0.5) < 3 * ours.standard_errors[1]


def test_robust_fit_of_exact_line() -> None:
    """A line without scatter is returned with zero spread instead of dividing by it."""
    fit = r.fit_robust(X, X @ np.array([1.0, 2.0, 3.0]))
    np.testing.assert_allclose(fit.parameters, [1, 2, 3], rtol=1e-9)
    assert fit.scale == 0.0


def test_curved_fit_agrees_with_general_library() -> None:
    """Parameters and covariance equal those of the plain curve fitter."""
    from scipy.optimize import curve_fit

    ours = r.fit_curve(decay, CURVE, np.array([1.0, 1.0]))
    best, covariance = curve_fit(lambda t, a, b: a * np.exp(-b * t), T, CURVE, (1, 1))
    np.testing.assert_allclose(ours.parameters, best, rtol=1e-6)
    np.testing.assert_allclose(ours.covariance, covariance, rtol=1e-3)
    assert ours.correlation[0, 0] == pytest.approx(1)


def test_soft_losses_resist_an_outlier() -> None:
    """One wild reading moves the plain fit far and the soft ones little."""
    wild = CURVE.copy()
    wild[10] += 5
    off = {
        loss: abs(r.fit_curve(decay, wild, np.array([1.0, 1.0]), 0.05, loss=loss).parameters[0] - 4)
        for loss in r.Loss
    }
    assert off[r.Loss.PLAIN] > 0.3
    assert max(off[r.Loss.HUBER], off[r.Loss.SOFT], off[r.Loss.CAUCHY]) < 0.1


def test_profile_equals_t_interval_on_a_straight_line() -> None:
    """Where the model is straight the profile interval is the t interval."""
    fit = r.fit_curve(lambda p: X @ p, Y, np.zeros(3), SPREAD)
    for index in range(3):
        interval = r.profile_interval(lambda p: X @ p, Y, fit, index, SPREAD)
        assert interval.lower == pytest.approx(fit.intervals()[index, 0], rel=1e-5)
        assert interval.upper == pytest.approx(fit.intervals()[index, 1], rel=1e-5)


def test_profile_is_open_where_data_set_no_limit() -> None:
    """Readings on the plateau leave the rate without an upper end."""
    t = np.array([4.0, 5.0, 6.0, 7.0, 8.0, 9.0])
    y = np.array([1.0, 0.97, 1.02, 0.99, 1.01, 1.0])

    def rise(p: Any) -> Any:
        return p[0] * (1 - np.exp(-np.exp(p[1]) * t))

    fit = r.fit_curve(rise, y, np.array([1.0, 0.0]))
    assert r.profile_interval(rise, y, fit, 1).upper is None


def test_prediction_interval_agrees_with_general_library() -> None:
    """Mean and single-reading intervals equal statsmodels'."""
    from statsmodels.api import OLS

    frame = OLS(Y, X).fit().get_prediction(X[:5]).summary_frame(alpha=0.05)
    fit = r.fit_linear(X, Y)
    line = r.prediction_intervals(fit, X[:5])
    single = r.prediction_intervals(fit, X[:5], new_reading=True)
    np.testing.assert_allclose(line[:, 0], frame["mean_ci_lower"], rtol=1e-8)
    np.testing.assert_allclose(single[:, 2], frame["obs_ci_upper"], rtol=1e-8)


def test_bootstrap_spread_is_the_standard_error() -> None:
    """Case bootstrap of a mean has the standard error of the mean."""
    values = RNG.normal(5, 2, 200)
    got = r.bootstrap_fits(lambda rows: np.array([values[rows].mean()]), 200, 600)
    assert got.std(ddof=1) == pytest.approx(values.std(ddof=1) / np.sqrt(200), rel=0.1)


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
        (
            lambda: r.fit_curve(decay, CURVE, np.array([1.0, 0.1]), upper=np.array([9, 0.2])),
            DataError,
            "on the bound",
        ),
        (lambda: r.fit_linear(X, Y).intervals(1.5), OutOfRangeError, "level"),
        (lambda: r.bootstrap_fits(_refuse, 10, 20), DataError, "at most one in ten"),
    ],
)
def test_unfit_readings_are_refused(call: Any, error: type[Exception], text: str) -> None:
    """Too few, degenerate or impossible readings are named with a way out."""
    with pytest.raises(error, match=text):
        call()
