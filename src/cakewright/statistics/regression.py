"""Straight fits with the covariance of what was fitted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.errors import DataError, Fault, OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = [
    "Fit",
    "fit_linear",
]


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
