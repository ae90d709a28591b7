"""Readings made to agree with balances, and which of them does not fit.

Every function works on one set of readings, shape (n,), or many at once, shape (m, n).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from cakewright.errors import DataError, Fault, InfeasibleError, OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = [
    "Reconciled",
    "measurement_test_limit",
    "reconcile",
]

Balances = Callable[[FloatArray], FloatArray]
IndexArray = NDArray[np.int64]
_TINY = 1e-9
_ROUNDS = 60


@dataclass(frozen=True, slots=True)
class Reconciled:
    """Readings after reconciliation, what was changed, and whether the change is believable.

    ``misfit`` is the weighted sum of squared adjustments, chi-square with ``freedom`` degrees
    of freedom when nothing is wrong; ``tests`` is each adjustment over its own standard
    deviation (0 where ``checked`` is False: no balance checks that reading).
    """

    values: FloatArray
    covariance: FloatArray
    adjustments: FloatArray
    misfit: FloatArray
    freedom: int
    tests: FloatArray
    checked: NDArray[np.bool_]

    @property
    def standard_errors(self) -> FloatArray:
        """Standard deviation of each reconciled value."""
        return np.sqrt(np.diagonal(self.covariance, axis1=-2, axis2=-1))

    def limit(self, level: float = 0.95) -> float:
        """Misfit that is not passed at this level when nothing is wrong."""
        return float(special.chdtri(self.freedom, 1 - level)) if self.freedom else np.inf

    def agrees(self, level: float = 0.95) -> NDArray[np.bool_]:
        """True where the readings agree with the balances within their uncertainty."""
        return np.asarray(self.misfit <= self.limit(level))


def reconcile(
    measured: FloatArray,
    covariance: FloatArray,
    balances: Balances,
    unmeasured: Sequence[int] = (),
) -> Reconciled:
    r"""Weighted least squares under balances :math:`f(x) = 0`, relinearised until settled.

    Parameters
    ----------
    measured : ndarray, shape (n,) or (m, n)
        Readings; a guess where unmeasured. [1]
    covariance : ndarray, shape (n, n) or (m, n, n)
        Covariance of the readings. [1]
    balances : callable
        Takes values of shape (..., n), returns what is left over in each balance, (..., k). [1]
    unmeasured : sequence of int
        Columns that have no reading and are to be found from the balances. [1]

    Returns
    -------
    reconcile : Reconciled
        Best values, covariance and tests; unmeasured values have adjustment 0. [object]

    Raises
    ------
    OutOfRangeError
        If shapes do not fit or a variance is not positive.
    DataError
        If balances repeat one another or cannot find an unmeasured value.
    InfeasibleError
        If relinearising does not settle.

    References
    ----------
    .. [1] L95, non-linear balances by repeated linearisation.

    Examples
    --------
    >>> y = np.array([2.0, 3.0, 6.3])
    >>> got = reconcile(y, np.diag([0.1, 0.1, 0.1]) ** 2,
    ...                 lambda x: x[..., :1] * x[..., 1:2] - x[..., 2:])
    >>> bool(abs(got.values[0] * got.values[1] - got.values[2]) < 1e-9)
    True
    """
    y, spread = _checked(measured, covariance, unmeasured)
    columns = _Columns(np.setdiff1d(np.arange(y.shape[-1]), unmeasured), np.array(unmeasured, int))
    scale = _scale(y, spread)
    x, before = y.copy(), np.asarray(np.inf)
    for _ in range(_ROUNDS):
        step = _linearised(x, y, spread, balances(x), _jacobian(balances, x, scale), columns)
        moved = float(np.max(np.abs(step.values - x) / scale))
        drift = float(np.max(np.abs(step.misfit - before) / (1 + step.misfit)))
        x, before = step.values, step.misfit
        if moved < 1e-8 and drift < 1e-10:
            return _reconciled(step, spread)
    raise InfeasibleError(
        "reconciliation: the balances did not settle; give a better guess of unmeasured values, "
        "or check that the readings are anywhere near the balances"
    )


def _checked(
    measured: FloatArray, covariance: FloatArray, unmeasured: Sequence[int]
) -> tuple[FloatArray, FloatArray]:
    y, spread = np.asarray(measured, dtype=float), np.array(covariance, dtype=float)
    n = y.shape[-1]
    if spread.shape[-2:] != (n, n) or not np.all(np.isfinite(y)):
        raise OutOfRangeError(
            f"reconciliation: {n} readings with a covariance of shape {spread.shape}; "
            "a square covariance and finite readings are needed; mark gaps as unmeasured"
        )
    for column in unmeasured:
        spread[..., column, :] = spread[..., :, column] = 0
    known = np.setdiff1d(np.arange(n), np.array(unmeasured, int))
    variances = np.diagonal(spread, axis1=-2, axis2=-1)[..., known]
    if not np.all(variances > 0):
        raise OutOfRangeError(
            "reconciliation: every reading needs a variance > 0; give an exact value as a "
            "constant of the balance instead"
        )
    return y, spread


def _scale(y: FloatArray, spread: FloatArray) -> FloatArray:
    scale = np.sqrt(np.diagonal(spread, axis1=-2, axis2=-1))
    return np.broadcast_to(np.maximum(np.maximum(scale, np.abs(y)), 1e-30), y.shape)


def _jacobian(balances: Balances, x: FloatArray, scale: FloatArray) -> FloatArray:
    columns = []
    for column in range(x.shape[-1]):
        step = np.zeros_like(x)
        step[..., column] = 1e-5 * scale[..., column]
        slope = (balances(x + step) - balances(x - step)) / (2 * step[..., [column]])
        columns.append(slope)
    return np.stack(columns, axis=-1)


@dataclass(frozen=True, slots=True)
class _Columns:
    known: IndexArray
    free: IndexArray


@dataclass(frozen=True, slots=True)
class _Step:
    values: FloatArray
    covariance: FloatArray
    adjustments: FloatArray
    shed: FloatArray
    misfit: FloatArray
    freedom: int


def _linearised(
    x: FloatArray,
    y: FloatArray,
    spread: FloatArray,
    left_over: FloatArray,
    jacobian: FloatArray,
    columns: _Columns,
) -> _Step:
    """One linearisation about x: unmeasured columns projected out, the rest solved."""
    measured = np.where(np.isin(np.arange(y.shape[-1]), columns.free), 0.0, jacobian)
    project = _null_rows(jacobian[..., columns.free])
    reduced = project @ measured
    toward = left_over + _times(measured, y - x)
    gap = _times(project, toward)
    cross = reduced @ spread
    inner = cross @ np.swapaxes(reduced, -1, -2)
    _not_repeated(inner)
    gain = np.swapaxes(np.linalg.solve(inner, cross), -1, -2)
    adjustments = -_times(gain, gap)
    misfit = np.sum(gap * np.linalg.solve(inner, gap[..., None])[..., 0], axis=-1)
    removed = gain @ cross
    values, covariance = _with_free(
        x, y + adjustments, spread - removed, left_over, jacobian, measured, columns.free
    )
    shed = np.diagonal(removed, axis1=-2, axis2=-1)
    return _Step(values, covariance, adjustments, shed, np.asarray(misfit), inner.shape[-1])


def _times(matrix: FloatArray, vector: FloatArray) -> FloatArray:
    return np.asarray((matrix @ vector[..., None])[..., 0])


def _null_rows(slope: FloatArray) -> FloatArray:
    balances, count = slope.shape[-2:]
    if not count:
        return np.eye(balances)
    left, singular, _ = np.linalg.svd(slope, full_matrices=True)
    if balances <= count or np.any(singular[..., -1] < _TINY * singular[..., 0]):
        raise _fault(
            f"{count} unmeasured values in {balances} balances",
            "fewer unmeasured values than balances, each one in a balance that finds it",
            "measure one of them, or add a balance",
        )
    return np.swapaxes(left[..., count:], -1, -2)


def _not_repeated(inner: FloatArray) -> None:
    eigenvalues = np.linalg.eigvalsh(inner)
    if np.any(eigenvalues[..., 0] < 1e-13 * eigenvalues[..., -1]):
        raise _fault(
            "balances that repeat one another or hold no reading",
            "independent balances, each with at least one reading",
            "leave out a balance that is the sum of others",
        )


def _fault(got: str, allowed: str, try_this: str) -> DataError:
    return DataError("reconciliation", [Fault("balances", got, allowed, try_this)])


def _with_free(
    x: FloatArray,
    values: FloatArray,
    covariance: FloatArray,
    left_over: FloatArray,
    jacobian: FloatArray,
    measured: FloatArray,
    free: IndexArray,
) -> tuple[FloatArray, FloatArray]:
    if not free.size:
        return values, covariance
    inverse: FloatArray = np.asarray(np.linalg.pinv(jacobian[..., free]), dtype=float)
    toward = left_over + _times(measured, values - x)
    values[..., free] = x[..., free] - _times(inverse, toward)
    whole = np.broadcast_to(np.eye(x.shape[-1]), (*inverse.shape[:-2], x.shape[-1], x.shape[-1]))
    whole = whole.copy()
    whole[..., free, :] = -inverse @ measured
    return values, whole @ covariance @ np.swapaxes(whole, -1, -2)


def _reconciled(step: _Step, spread: FloatArray) -> Reconciled:
    variance = np.diagonal(spread, axis1=-2, axis2=-1)
    checked = step.shed > _TINY * np.where(variance > 0, variance, 1.0)
    checked = np.broadcast_to(checked, step.adjustments.shape)
    deviation = np.sqrt(np.where(checked, step.shed, 1.0))
    tests = np.where(checked, np.abs(step.adjustments) / deviation, 0.0)
    return Reconciled(
        step.values, step.covariance, step.adjustments, step.misfit, step.freedom, tests, checked
    )


def measurement_test_limit(readings: int, level: float = 0.95) -> float:
    r"""Limit for the largest of several measurement tests (Sidak).

    .. math:: z\left(\tfrac12 + \tfrac12\,p^{1/m}\right)

    Parameters
    ----------
    readings : int
        Number m of readings tested together; 1 gives the plain two-sided limit. [1]
    level : float
        Chance p that a faultless set stays inside. [1]

    Returns
    -------
    measurement_test_limit : float
        Limit in standard deviations. [1]

    References
    ----------
    .. [1] MEM, Sidak 1967.

    Examples
    --------
    >>> round(measurement_test_limit(1), 2)
    1.96
    """
    if readings < 1 or not 0 < level < 1:
        raise OutOfRangeError(
            f"measurement test: got {readings} readings at level {level:g}; "
            "at least one reading and a level strictly between 0 and 1 are needed"
        )
    return float(special.ndtri(0.5 + 0.5 * level ** (1 / readings)))
