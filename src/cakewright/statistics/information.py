"""What it is worth to know more before deciding: perfect, partial and sample information.

``benefit`` is an array (n, options): what each option brings in each sample (money, higher is
better; pass minus the cost), point case left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import fft

from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray
from cakewright.statistics.sampling import DEFAULT_SEED

__all__ = [
    "Worth",
    "chance_best",
    "value_partial_information",
    "value_perfect_information",
    "value_sample_information",
]

_MOST_HARMONICS = 16
_RIDGE = 1e-10


@dataclass(frozen=True, slots=True)
class Worth:
    """Expected gain from deciding after learning, with the sampling error left in it."""

    value: float
    standard_error: float


def _benefit(benefit: FloatArray) -> FloatArray:
    values = np.asarray(benefit, dtype=float)
    if values.ndim != 2 or values.shape[0] < 2 or values.shape[1] < 1:
        raise OutOfRangeError(
            f"value of information: got benefits of shape {values.shape}; "
            "(samples, options) is needed, with at least two samples and one option"
        )
    if not np.all(np.isfinite(values)):
        raise OutOfRangeError(
            "value of information: every benefit must be finite; leave an option that cannot "
            "work out of the comparison"
        )
    return values


def chance_best(benefit: FloatArray) -> FloatArray:
    r"""Chance of each option to be the best; ties are shared.

    Parameters
    ----------
    benefit : ndarray, shape (n, options)
        Benefit of each option in each sample; higher is better. [1]

    Returns
    -------
    chance_best : ndarray, shape (options,)
        Chances; they add to one. [1]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> chance_best(np.array([[1.0, 2.0], [3.0, 2.0]])).tolist()
    [0.5, 0.5]
    """
    values = _benefit(benefit)
    best = values == values.max(axis=1, keepdims=True)
    return np.asarray((best / best.sum(axis=1, keepdims=True)).mean(axis=0))


def _worth(expected: FloatArray, chosen: int) -> Worth:
    gain = expected.max(axis=1) - expected[:, chosen]
    return Worth(float(gain.mean()), float(gain.std(ddof=1) / np.sqrt(gain.size)))


def value_perfect_information(benefit: FloatArray) -> Worth:
    r"""Expected value of knowing everything before deciding (EVPI).

    .. math:: \overline{\max_d b_d} - \max_d \overline{b_d}

    Parameters
    ----------
    benefit : ndarray, shape (n, options)
        Benefit of each option in each sample; higher is better. [1]

    Returns
    -------
    value_perfect_information : Worth
        In the unit of the benefit; >= 0. [object]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> value_perfect_information(np.array([[1.0, 2.0], [3.0, 2.0]])).value
    0.5
    """
    values = _benefit(benefit)
    return _worth(values, int(values.mean(axis=0).argmax()))


def value_partial_information(benefit: FloatArray, known: FloatArray) -> Worth:
    r"""Expected value of knowing one input, or a few together, before deciding (EVPPI).

    .. math:: \overline{\max_d E[b_d \mid x]} - \max_d \overline{b_d}

    The conditional mean is a sum of cosines of the rank of each known input (with products of
    the leading ones where several are known), as many as generalised cross-validation asks for.

    Parameters
    ----------
    benefit : ndarray, shape (n, options)
        Benefit of each option in each sample; higher is better. [1]
    known : ndarray, shape (n,) or (n, k)
        Samples of what would be known. [1]

    Returns
    -------
    value_partial_information : Worth
        In the unit of the benefit; >= 0. [object]

    Raises
    ------
    OutOfRangeError
        If the shapes do not fit or fewer than 64 samples are given.

    References
    ----------
    .. [1] MEM, regression estimator of partial information (Strong, Oakley, Brennan 2014).

    Examples
    --------
    >>> x = (np.arange(512) + 0.5) / 512
    >>> round(value_partial_information(np.column_stack([x, 0 * x + 0.5]), x).value, 3)
    0.125
    """
    values = _benefit(benefit)
    columns = np.asarray(known, dtype=float).reshape(len(known), -1)
    if len(columns) != len(values) or len(values) < 64 or not np.all(np.isfinite(columns)):
        raise OutOfRangeError(
            f"value of information: got benefits {values.shape} and known inputs "
            f"{columns.shape}; lengths must agree, at least 64, all finite"
        )
    chosen = int(values.mean(axis=0).argmax())
    # Differences from the option chosen today carry less noise than the benefits themselves.
    gain = values - values[:, [chosen]]
    fitted = _fitted(columns, gain)
    fitted[:, chosen] = 0.0
    return _worth(fitted, chosen)


def _cosines(columns: FloatArray) -> FloatArray:
    ranks = np.argsort(np.argsort(columns, axis=0, kind="stable"), axis=0)
    share = (ranks + 0.5) / len(columns)
    order = np.arange(1, _MOST_HARMONICS + 1)
    return np.asarray(np.sqrt(2) * np.cos(np.pi * share[:, :, None] * order))


def _fitted(columns: FloatArray, gain: FloatArray) -> FloatArray:
    if columns.shape[1] == 1:
        return _fitted_alone(columns[:, 0], gain)
    basis = _cosines(columns)
    plain = np.swapaxes(basis, 1, 2).reshape(len(gain), -1)
    pairs = [
        basis[:, i, a] * basis[:, j, b]
        for i in range(columns.shape[1])
        for j in range(i)
        for a in range(3)
        for b in range(3 - a)
    ]
    alone, score_alone = _best_prefix(plain, gain)
    together, score_together = _best_prefix(np.column_stack([*pairs, plain]), gain)
    return np.where(score_together < score_alone, together, alone)


def _best_prefix(design: FloatArray, gain: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Fit of the first so many columns, as many as cross-validation asks for, per option.

    The columns are made orthogonal by the Cholesky factor of their products: cosines of ranks are
    nearly so from the start, and a factorisation of the tall matrix costs thirty times as much.
    """
    n = len(gain)
    whole = np.column_stack([np.ones(n), design])[:, : max(1, n // 4)]
    # The ridge keeps columns that repeat one another (an input named twice) from breaking it.
    products = whole.T @ whole + _RIDGE * n * np.eye(whole.shape[1])
    factor = np.linalg.cholesky(products)
    along = np.linalg.solve(factor, whole.T @ gain)
    left = np.sum(gain**2, axis=0) - np.cumsum(along**2, axis=0)
    score = left / (n - np.arange(1, len(along) + 1))[:, None] ** 2
    keep = np.argmin(score, axis=0)
    along[np.arange(len(along))[:, None] > keep] = 0.0
    fit = whole @ np.linalg.solve(factor.T, along)
    return np.asarray(fit), score[keep, np.arange(gain.shape[1])]


def _fitted_alone(column: FloatArray, gain: FloatArray) -> FloatArray:
    """Every option on one known input, sorted once for all of them."""
    order = np.argsort(column, kind="stable")
    spectrum = fft.dct(gain[order], norm="ortho", axis=0)
    power = spectrum**2
    left = power.sum(axis=0) - np.cumsum(power[: _MOST_HARMONICS + 1], axis=0)
    used = np.arange(1, len(left) + 1)[:, None]
    keep = np.argmin(left / (len(gain) - used) ** 2, axis=0) + 1
    spectrum[np.arange(len(gain))[:, None] >= keep] = 0.0
    smooth = np.empty_like(gain)
    smooth[order] = fft.idct(spectrum, norm="ortho", axis=0)
    return smooth


def value_sample_information(
    benefit: FloatArray,
    measured: FloatArray,
    repeatability: float,
    replicates: int = 1,
    bias: float = 0.0,
    seed: int = DEFAULT_SEED,
    repeats: int = 8,
) -> Worth:
    r"""Expected value of a measurement with error before deciding (EVSI).

    .. math:: u^2 = b^2 + s^2 / m

    A result is simulated in every sample (true value plus a normal error of spread u) and the
    value of knowing that result is found as for partial information, averaged over ``repeats``
    sets of errors. What the measurement costs is not taken off.

    Parameters
    ----------
    benefit : ndarray, shape (n, options)
        Benefit of each option in each sample; higher is better. [1]
    measured : ndarray, shape (n,)
        True value, in each sample, of what is measured: an input or a result of the model; its
        logarithm where the error is relative. [1]
    repeatability : float
        Standard deviation s of one reading; >= 0. [1]
    replicates : int
        Number m of independent readings averaged; >= 1. [1]
    bias : float
        Standard deviation b of the error common to all readings; >= 0. [1]
    seed : int
        Seed of the simulated errors. [1]
    repeats : int
        Sets of errors averaged. [1]

    Returns
    -------
    value_sample_information : Worth
        In the unit of the benefit; never more than the partial value but for sampling error.
        [object]

    Raises
    ------
    OutOfRangeError
        If an error is negative or there is no reading.

    References
    ----------
    .. [1] MEM, regression estimator of sample information (Strong et al. 2015).

    Examples
    --------
    >>> x = (np.arange(512) + 0.5) / 512
    >>> b = np.column_stack([x, 0 * x + 0.5])
    >>> value_sample_information(b, x, 0.3).value < value_partial_information(b, x).value
    True
    """
    if repeatability < 0 or bias < 0 or replicates < 1 or repeats < 1:
        raise OutOfRangeError(
            f"sample information: got repeatability {repeatability:g}, bias {bias:g}, "
            f"{replicates} readings; errors must be >= 0, readings >= 1"
        )
    truth = np.asarray(measured, dtype=float)
    error = float(np.hypot(bias, repeatability / np.sqrt(replicates)))
    generator = np.random.default_rng(seed)
    runs = [
        value_partial_information(benefit, truth + error * generator.standard_normal(truth.shape))
        for _ in range(repeats)
    ]
    values = np.array([run.value for run in runs])
    # Errors within a set and between sets are both in the mean; the larger is reported.
    between = values.std(ddof=1) / np.sqrt(repeats) if repeats > 1 else 0.0
    return Worth(float(values.mean()), max(float(between), runs[0].standard_error))
