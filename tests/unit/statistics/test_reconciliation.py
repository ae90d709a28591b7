"""Reconciliation against the closed form, against simulation, and with planted faults."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cakewright.errors import DataError, InfeasibleError, OutOfRangeError
from cakewright.statistics import reconciliation as r

# Feed splits in three; one balance over the whole, one over two of them.
A = np.array([[1.0, -1.0, -1.0, 0.0, 0.0], [0.0, 1.0, 0.0, -1.0, -1.0]])
TRUE = np.array([10.0, 6.0, 4.0, 2.5, 3.5])
S = np.diag([0.4, 0.2, 0.3, 0.1, 0.2]) ** 2
S[0, 1] = S[1, 0] = 0.02


def bilinear(x: Any) -> Any:
    """Flow and concentration of feed, cake and filtrate: mass and solids close."""
    feed, cake, water, c_f, c_c, c_w = np.moveaxis(x, -1, 0)
    return np.stack([feed - cake - water, feed * c_f - cake * c_c - water * c_w], axis=-1)


LINE = np.array([100.0, 9.5477387, 90.4522613, 0.02, 0.2, 0.001])
LINE_S = np.diag([2.0, 0.5, 3.0, 0.0005, 0.004, 0.0002]) ** 2


def _linear(y: Any, covariance: Any, matrix: Any, unmeasured: Any = ()) -> r.Reconciled:
    return r.reconcile(y, covariance, lambda x: x @ matrix.T, unmeasured)


def test_linear_case_is_the_closed_form() -> None:
    """Values, covariance and misfit equal the matrix formula, correlation included."""
    y = TRUE + np.array([0.3, -0.1, 0.2, 0.05, -0.3])
    got = _linear(y, S, A)
    inverse = np.linalg.inv(A @ S @ A.T)
    np.testing.assert_allclose(got.values, y - S @ A.T @ inverse @ A @ y, rtol=1e-10)
    np.testing.assert_allclose(got.covariance, S - S @ A.T @ inverse @ A @ S, atol=1e-12)
    np.testing.assert_allclose(got.misfit, A @ y @ inverse @ A @ y, rtol=1e-9)
    np.testing.assert_allclose(A @ got.values, 0, atol=1e-12)
    assert got.freedom == 2


def test_misfit_and_tests_have_their_distribution() -> None:
    """Over many faultless sets the misfit fails 5 % and each test passes 1.96 in 5 %."""
    y = np.random.default_rng(2).multivariate_normal(TRUE, S, size=4000)
    got = _linear(y, S, A)
    assert got.agrees().mean() == pytest.approx(0.95, abs=0.012)
    np.testing.assert_allclose((got.tests > 1.96).mean(axis=0), 0.05, atol=0.013)
    np.testing.assert_allclose(got.values.std(axis=0, ddof=1), got.standard_errors[0], rtol=0.05)


def test_many_sets_equal_one_by_one() -> None:
    """A stack of readings gives what each gives alone, curved balances included."""
    y = np.random.default_rng(3).multivariate_normal(LINE, LINE_S, size=5)
    stack = r.reconcile(y, LINE_S, bilinear)
    for row, values, misfit in zip(y, stack.values, stack.misfit, strict=True):
        alone = r.reconcile(row, LINE_S, bilinear)
        np.testing.assert_allclose(alone.values, values, rtol=1e-7)
        np.testing.assert_allclose(alone.misfit, misfit, rtol=1e-6)
        np.testing.assert_allclose(bilinear(alone.values), 0, atol=1e-8)


def test_curved_case_is_the_constrained_minimum() -> None:
    """The result is what a general constrained minimiser finds."""
    from scipy.optimize import NonlinearConstraint, minimize

    y = LINE + np.array([3.0, 0.4, -2.0, 0.0004, -0.005, 0.0003])
    scale = np.sqrt(np.diag(LINE_S))
    find: Any = minimize
    found = find(
        lambda u: float(u @ u),
        np.zeros(6),
        constraints=NonlinearConstraint(lambda u: bilinear(y + u * scale), 0.0, 0.0),
        method="SLSQP",
        options={"ftol": 1e-14, "maxiter": 500},
    )
    got = r.reconcile(y, LINE_S, bilinear)
    np.testing.assert_allclose(got.values, y + found.x * scale, rtol=1e-5)
    assert float(got.misfit) == pytest.approx(found.fun, rel=1e-6)


def test_unmeasured_value_is_found_with_its_spread() -> None:
    """A missing stream equals the limit of a reading with a huge uncertainty."""
    y = TRUE + np.array([0.3, -0.1, 0.0, 0.05, -0.3])
    wide = S.copy()
    wide[2, 2] = 1e8
    limit = _linear(y, wide, A)
    y[2] = 999.0
    got = _linear(y, S, A, unmeasured=[2])
    np.testing.assert_allclose(got.values, limit.values, rtol=1e-5)
    np.testing.assert_allclose(got.standard_errors, limit.standard_errors, rtol=1e-4)
    assert got.freedom == 1
    assert not got.checked[2]
    assert got.adjustments[2] == 0.0


def test_unmeasured_flow_in_a_curved_balance() -> None:
    """A cake flow that nobody weighs follows from the solids balance."""
    y = LINE.copy()
    y[1] = 5.0
    got = r.reconcile(y, LINE_S, bilinear, unmeasured=[1])
    np.testing.assert_allclose(got.values, LINE, rtol=1e-5)


def test_reading_outside_every_balance_is_not_judged() -> None:
    """A reading that no balance holds keeps its value and spread and has no test."""
    got = _linear(np.array([1.0, 1.2, 7.0]), np.eye(3), np.array([[1.0, -1.0, 0.0]]))
    assert got.values[2] == 7.0
    assert got.checked.tolist() == [True, True, False]
    assert got.tests[2] == 0.0


@pytest.mark.parametrize(
    ("call", "error", "text"),
    [
        (lambda: _linear(TRUE, S, np.vstack([A, A[:1]])), DataError, "repeat"),
        (lambda: _linear(TRUE, S * 0, A), OutOfRangeError, "variance > 0"),
        (lambda: _linear(TRUE, S[:3, :3], A), OutOfRangeError, "square covariance"),
        (lambda: _linear(TRUE * np.nan, S, A), OutOfRangeError, "mark gaps"),
        (lambda: _linear(TRUE, S, A, unmeasured=[3, 4]), DataError, "unmeasured"),
        (lambda: _linear(TRUE, S, A, unmeasured=[0, 1]), DataError, "unmeasured"),
        (
            lambda: r.reconcile(np.array([1.0, 1.0]), np.eye(2), lambda x: x[..., :1] ** 2 + 5.0),
            InfeasibleError,
            "did not settle",
        ),
        (lambda: r.measurement_test_limit(0), OutOfRangeError, "at least one reading"),
    ],
)
def test_unfit_balances_are_refused(call: Any, error: type[Exception], text: str) -> None:
    """Balances that repeat, readings without spread and hopeless gaps are named."""
    with pytest.raises(error, match=text):
        call()


def test_limit_for_many_readings_is_wider() -> None:
    """The limit for ten readings is the one that all ten keep with 95 %."""
    from scipy.stats import norm

    limit = r.measurement_test_limit(10)
    assert (1 - 2 * norm.sf(limit)) ** 10 == pytest.approx(0.95)
