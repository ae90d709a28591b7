"""Straight and curved fits with the covariance of what was fitted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy import special

from cakewright.errors import DataError, Fault, InfeasibleError, OutOfRangeError
from cakewright.quantities import FloatArray
from cakewright.statistics.sampling import DEFAULT_SEED

__all__ = [
    "Fit",
    "Interval",
    "Loss",
    "bootstrap_fits",
    "fit_curve",
    "fit_linear",
    "fit_robust",
    "prediction_intervals",
    "profile_interval",
]

Predict = Callable[[FloatArray], FloatArray]
IndexArray = NDArray[np.int64]
# Huber's constant: 95 % efficiency on normal errors; MAD to standard deviation of a normal.
_HUBER, _MAD = 1.345, 0.6744897501960817


class Loss(StrEnum):
    """How a residual counts in a curved fit."""

    PLAIN = "linear"
    SOFT = "soft_l1"
    HUBER = "huber"
    CAUCHY = "cauchy"


@dataclass(frozen=True, slots=True)
class Fit:
    """Fitted parameters and how well they are known.

    ``residuals`` are observed minus fitted, in the unit of the readings; ``scale`` is the
    factor by which the stated deviations were stretched (the standard deviation of a reading
    where none was stated).
    """

    parameters: FloatArray
    covariance: FloatArray
    residuals: FloatArray
    scale: float
    freedom: int

    @property
    def standard_errors(self) -> FloatArray:
        """Standard deviation of each parameter."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def correlation(self) -> FloatArray:
        """Correlation between parameters."""
        spread = self.standard_errors
        return self.covariance / np.outer(spread, spread)

    def intervals(self, level: float = 0.95) -> FloatArray:
        """Two-sided t intervals, one row per parameter."""
        half = _student(level, self.freedom) * self.standard_errors
        return np.column_stack([self.parameters - half, self.parameters + half])


@dataclass(frozen=True, slots=True)
class Interval:
    """Lower and upper end; an end is None where the data set no limit."""

    lower: float | None
    upper: float | None


def _student(level: float, freedom: int) -> float:
    if not 0 < level < 1:
        raise OutOfRangeError(f"level: got {level:g}; must lie strictly between 0 and 1")
    return float(special.stdtrit(freedom, 0.5 + level / 2))


def _fault(subject: str, where: str, got: str, allowed: str, try_this: str) -> DataError:
    return DataError(subject, [Fault(where, got, allowed, try_this)])


def _readings(response: FloatArray, deviations: FloatArray | float | None) -> tuple[
    FloatArray, FloatArray
]:  # fmt: skip
    y = np.asarray(response, dtype=float)
    spread = np.broadcast_to(1.0 if deviations is None else np.asarray(deviations), y.shape)
    if y.ndim != 1 or not np.all(np.isfinite(y)):
        raise OutOfRangeError("regression: readings must be a row of finite numbers; drop gaps")
    if not np.all(np.isfinite(spread)) or np.any(spread <= 0):
        raise OutOfRangeError("regression: every stated deviation must be > 0")
    return y, spread


def _enough(readings: int, parameters: int) -> int:
    if readings <= parameters:
        raise _fault(
            "regression",
            "readings",
            f"{readings} readings for {parameters} parameters",
            "more readings than parameters",
            "add readings or fit a simpler curve",
        )
    return readings - parameters


def _inverse_normal(jacobian: FloatArray) -> FloatArray:
    _, singular, rows = np.linalg.svd(jacobian / (norms := _norms(jacobian)), full_matrices=False)
    if singular[-1] < 1e-10 * singular[0]:
        loud = np.argsort(-np.abs(rows[-1]))[:2]
        raise _fault(
            "regression",
            f"parameters {sorted(int(i) for i in loud)} (counted from 0)",
            f"condition {singular[0] / max(singular[-1], 1e-300):.2g}",
            "readings that tell the parameters apart",
            "fix one of them or spread the settings of the test",
        )
    half = rows.T / singular
    return np.asarray(half @ half.T / np.outer(norms, norms))


def _norms(jacobian: FloatArray) -> FloatArray:
    norms = np.linalg.norm(jacobian, axis=0)
    return np.where(norms > 0, norms, 1.0)


def fit_linear(
    design: FloatArray,
    response: FloatArray,
    deviations: FloatArray | float | None = None,
    *,
    deviations_known: bool = False,
) -> Fit:
    r"""Weighted least squares with covariance.

    .. math:: \hat b = (X^T W X)^{-1} X^T W y, \quad
        \mathrm{cov} = s^2 (X^T W X)^{-1}, \quad W = \mathrm{diag}(1/u_i^2)

    Parameters
    ----------
    design : ndarray, shape (n, p)
        One column per parameter. [1]
    response : ndarray, shape (n,)
        Readings. [1]
    deviations : ndarray, shape (n,), or float, optional
        Standard deviation of each reading, at least in relation to the others. [1]
    deviations_known : bool
        True takes the deviations as they are (s = 1); False judges them by the residuals. [1]

    Returns
    -------
    fit_linear : Fit
        Parameters and covariance. [object]

    Raises
    ------
    DataError
        If readings are too few or cannot tell parameters apart.

    References
    ----------
    .. [1] OWN, Gauss-Markov.

    Examples
    --------
    >>> x = np.array([0.0, 1.0, 2.0, 3.0])
    >>> fit_linear(np.column_stack([np.ones(4), x]), 1 + 2 * x).parameters.round(6).tolist()
    [1.0, 2.0]
    """
    y, spread = _readings(response, deviations)
    x = np.asarray(design, dtype=float)
    if x.ndim != 2 or len(x) != len(y) or not np.all(np.isfinite(x)):
        raise OutOfRangeError(f"regression: design {x.shape} does not fit {len(y)} readings")
    freedom = _enough(*x.shape)
    scaled = x / spread[:, None]
    inverse = _inverse_normal(scaled)
    parameters = np.asarray(np.linalg.lstsq(scaled, y / spread, rcond=None)[0], dtype=float)
    residuals = y - x @ parameters
    scale = 1.0 if deviations_known else float(np.sqrt(np.sum((residuals / spread) ** 2) / freedom))
    return Fit(parameters, scale**2 * inverse, residuals, scale, freedom)


def fit_robust(design: FloatArray, response: FloatArray, iterations: int = 100) -> Fit:
    r"""Least squares that outliers cannot pull: Huber weights, iterated.

    Parameters
    ----------
    design : ndarray, shape (n, p)
        One column per parameter. [1]
    response : ndarray, shape (n,)
        Readings. [1]
    iterations : int
        Most iterations. [1]

    Returns
    -------
    fit_robust : Fit
        ``scale`` is the robust standard deviation (from the median absolute residual). [object]

    Raises
    ------
    DataError
        If readings are too few or cannot tell parameters apart.
    InfeasibleError
        If the weights do not settle.

    References
    ----------
    .. [1] MEM, Huber 1981, covariance in its first form.

    Examples
    --------
    >>> x = np.arange(8.0)
    >>> y = 1 + 2 * x + np.tile([0.1, -0.1], 4)
    >>> y[5] = 90.0
    >>> bool(abs(fit_robust(np.column_stack([np.ones(8), x]), y).parameters[1] - 2) < 0.1)
    True
    """
    x = np.asarray(design, dtype=float)
    fit = fit_linear(x, response)
    y = np.asarray(response, dtype=float)
    for _ in range(iterations):
        scale = float(np.median(np.abs(fit.residuals))) / _MAD
        if scale < 1e-12 * np.max(np.abs(y)):
            return Fit(fit.parameters, 0 * fit.covariance, fit.residuals, 0.0, fit.freedom)
        weights = np.minimum(1, _HUBER / np.maximum(np.abs(fit.residuals / scale), 1e-12))
        new = fit_linear(x, y, 1 / np.sqrt(weights))
        moved = np.max(np.abs(new.parameters - fit.parameters) / (1e-12 + np.abs(new.parameters)))
        fit = new
        if moved < 1e-9:
            return _huber_fit(x, fit)
    raise InfeasibleError(
        "robust fit: weights did not settle; the readings may hold two groups: plot them, "
        "or fit each group by itself"
    )


def _huber_fit(x: FloatArray, fit: Fit) -> Fit:
    scale = float(np.median(np.abs(fit.residuals))) / _MAD
    pull = np.clip(fit.residuals / scale, -_HUBER, _HUBER)
    inside = np.abs(fit.residuals / scale) <= _HUBER
    share = float(inside.mean())
    correction = 1 + x.shape[1] / len(x) * float(inside.var()) / share**2
    variance = correction**2 * scale**2 * float(pull @ pull) / fit.freedom / share**2
    return Fit(fit.parameters, variance * _inverse_normal(x), fit.residuals, scale, fit.freedom)


def fit_curve(
    predict: Predict,
    response: FloatArray,
    start: FloatArray,
    deviations: FloatArray | float | None = None,
    lower: FloatArray | float = -np.inf,
    upper: FloatArray | float = np.inf,
    loss: Loss = Loss.PLAIN,
    *,
    deviations_known: bool = False,
) -> Fit:
    r"""Weighted non-linear least squares with covariance, within bounds.

    Parameters
    ----------
    predict : callable
        Parameters in, one prediction per reading out. [object]
    response : ndarray, shape (n,)
        Readings. [1]
    start : ndarray, shape (p,)
        First guess, inside the bounds. [1]
    deviations : ndarray, shape (n,), or float, optional
        Standard deviation of each reading. [1]
    lower : ndarray, shape (p,), or float
        Smallest parameters allowed. [1]
    upper : ndarray, shape (p,), or float
        Largest parameters allowed. [1]
    loss : Loss
        Plain squares, or one that outliers pull less. [object]
    deviations_known : bool
        True takes the deviations as they are; False judges them by the residuals. [1]

    Returns
    -------
    fit_curve : Fit
        Parameters and linearised covariance. [object]

    Raises
    ------
    DataError
        If readings are too few, cannot tell parameters apart, or push one onto its bound.
    InfeasibleError
        If the search does not settle.

    References
    ----------
    .. [1] OWN, linearised least squares by the general library.

    Examples
    --------
    >>> t = np.linspace(0, 4, 9)
    >>> f = fit_curve(lambda p: p[0] * np.exp(-p[1] * t), 3 * np.exp(-0.5 * t), np.array([1., 1.]))
    >>> f.parameters.round(6).tolist()
    [3.0, 0.5]
    """
    from scipy.optimize import least_squares

    y, spread = _readings(response, deviations)
    first = np.asarray(start, dtype=float)
    freedom = _enough(y.size, first.size)

    def misfit(parameters: FloatArray) -> FloatArray:
        return np.asarray((predict(parameters) - y) / spread)

    found = least_squares(
        misfit,
        first,
        bounds=(lower, upper),
        loss=loss.value,
        x_scale="jac",
        xtol=1e-12,
        ftol=1e-12,
        gtol=1e-12,
    )
    if found.status <= 0 or not np.all(np.isfinite(found.x)):
        raise InfeasibleError(
            f"curve fit: {found.message}; start nearer to the readings or free fewer parameters"
        )
    _not_on_bound(np.flatnonzero(found.active_mask), found.x)
    residuals = y - predict(found.x)
    scale = 1.0 if deviations_known else float(np.sqrt(np.sum((residuals / spread) ** 2) / freedom))
    covariance = scale**2 * _inverse_normal(np.asarray(found.jac))
    return Fit(np.asarray(found.x), covariance, residuals, scale, freedom)


def _not_on_bound(at: IndexArray, parameters: FloatArray) -> None:
    if at.size:
        raise _fault(
            "curve fit",
            f"parameters {at.tolist()} (counted from 0)",
            f"{parameters[at].tolist()}, on the bound",
            "a best value inside the bounds",
            "widen the bound, fix the parameter, or check the units of the readings",
        )


def prediction_intervals(
    fit: Fit, design: FloatArray, level: float = 0.95, *, new_reading: bool = False
) -> FloatArray:
    r"""Interval of a fitted line, or of a new reading on it.

    .. math:: x b \pm t\,\sqrt{x\,\mathrm{cov}\,x^T + s^2}

    Parameters
    ----------
    fit : Fit
        A straight fit. [object]
    design : ndarray, shape (m, p)
        Where the line is wanted. [1]
    level : float
        Two-sided confidence. [1]
    new_reading : bool
        True adds the spread of one reading. [1]

    Returns
    -------
    prediction_intervals : ndarray, shape (m, 3)
        Lower end, fitted value, upper end. [1]

    References
    ----------
    .. [1] OWN, linear propagation.

    Examples
    --------
    >>> x = np.column_stack([np.ones(4), np.arange(4.0)])
    >>> prediction_intervals(fit_linear(x, np.array([1., 3., 5., 7.])), x).shape
    (4, 3)
    """
    x = np.asarray(design, dtype=float)
    centre = x @ fit.parameters
    variance = np.einsum("ij,jk,ik->i", x, fit.covariance, x)
    if new_reading:
        variance = variance + fit.scale**2
    half = _student(level, fit.freedom) * np.sqrt(variance)
    return np.column_stack([centre - half, centre, centre + half])


def profile_interval(
    predict: Predict,
    response: FloatArray,
    fit: Fit,
    index: int,
    deviations: FloatArray | float | None = None,
    level: float = 0.95,
) -> Interval:
    r"""Interval of one parameter of a curved fit from the profile of the sum of squares.

    The ends are where, with all other parameters refitted, the sum of squares has risen by
    :math:`t^2 s^2`.

    Parameters
    ----------
    predict : callable
        Parameters in, one prediction per reading out. [object]
    response : ndarray, shape (n,)
        Readings. [1]
    fit : Fit
        Result of :func:`fit_curve`. [object]
    index : int
        Which parameter, counted from 0. [1]
    deviations : ndarray, shape (n,), or float, optional
        Standard deviation of each reading, as in the fit. [1]
    level : float
        Two-sided confidence. [1]

    Returns
    -------
    profile_interval : Interval
        An end is None where the sum of squares does not rise enough within fifty standard
        errors: the readings set no limit on that side. [object]

    References
    ----------
    .. [1] MEM, profile likelihood (Bates and Watts 1988).

    Examples
    --------
    >>> x = np.arange(6.0)
    >>> y = 2 * x + np.tile([0.1, -0.1], 3)
    >>> f = fit_curve(lambda p: p[0] * x, y, np.array([1.0]))
    >>> round(profile_interval(lambda p: p[0] * x, y, f, 0).upper, 2)
    2.03
    """
    y, spread = _readings(response, deviations)
    allowed = (_student(level, fit.freedom) * fit.scale) ** 2
    base = float(np.sum((fit.residuals / spread) ** 2))

    def excess(value: float) -> float:
        return _profile(predict, y, spread, fit.parameters, index, value) - base - allowed

    step = float(fit.standard_errors[index])
    centre = float(fit.parameters[index])
    return Interval(_crossing(excess, centre, -step), _crossing(excess, centre, step))


def _profile(
    predict: Predict, y: FloatArray, spread: FloatArray, best: FloatArray, index: int, value: float
) -> float:
    from scipy.optimize import least_squares

    def residuals(rest: FloatArray) -> FloatArray:
        return np.asarray((predict(np.insert(rest, index, value)) - y) / spread)

    rest = np.delete(best, index)
    if not rest.size:
        return float(np.sum(residuals(rest) ** 2))
    return 2 * float(least_squares(residuals, rest, x_scale="jac").cost)


def _crossing(excess: Callable[[float], float], centre: float, step: float) -> float | None:
    from scipy.optimize import brentq

    inner, reach = centre, 1.5
    while reach < 50:
        outer = centre + reach * step
        if excess(outer) > 0:
            return float(brentq(excess, inner, outer, rtol=1e-8))
        inner, reach = outer, reach * 1.6
    return None


def bootstrap_fits(
    refit: Callable[[IndexArray], FloatArray],
    readings: int,
    count: int = 500,
    seed: int = DEFAULT_SEED,
) -> FloatArray:
    r"""Parameters refitted to readings drawn again with replacement.

    Parameters
    ----------
    refit : callable
        Numbers of the readings to use in, parameters out. [object]
    readings : int
        Number of readings. [1]
    count : int
        Number of resamples. [1]
    seed : int
        Seed of the resampling. [1]

    Returns
    -------
    bootstrap_fits : ndarray, shape (up to count, p)
        One row per resample that could be fitted. [1]

    Raises
    ------
    DataError
        If fewer than nine in ten resamples could be fitted.

    References
    ----------
    .. [1] MEM, Efron's bootstrap of cases.

    Examples
    --------
    >>> y = np.arange(10.0)
    >>> bootstrap_fits(lambda rows: np.array([y[rows].mean()]), 10, 50).shape
    (50, 1)
    """
    generator = np.random.default_rng(seed)
    kept = []
    for _ in range(count):
        try:
            kept.append(refit(generator.integers(0, readings, readings)))
        except (DataError, InfeasibleError):
            continue
    if len(kept) < 0.9 * count:
        raise _fault(
            "bootstrap",
            "resamples",
            f"{count - len(kept)} of {count} could not be fitted",
            "at most one in ten",
            "collect more readings or use the profile interval",
        )
    return np.array(kept)
