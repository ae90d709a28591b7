"""Control charts: individual readings, EWMA and CUSUM, with limits honest about autocorrelation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = [
    "Chart",
    "autocorrelation_lag1",
    "cusum_chart",
    "ewma_chart",
    "spread_inflation_ar1",
]

# Table values for ranges of two, to the figures the published charts use.
_D2, _D4 = 1.128, 3.267


@dataclass(frozen=True, slots=True)
class Chart:
    """Plotted values with centre and limits; ``signals`` are the places outside the limits.

    A CUSUM has two rows of values: the upper and the lower sum, both counted upwards.
    """

    values: FloatArray
    centre: float
    lower: FloatArray
    upper: FloatArray
    signals: NDArray[np.int64]


def _readings(x: FloatArray, least: int = 2) -> FloatArray:
    values = np.asarray(x, dtype=float)
    if values.ndim != 1 or values.size < least or not np.all(np.isfinite(values)):
        raise OutOfRangeError(
            f"chart: got readings of shape {values.shape}; a row of at least {least} finite "
            "readings is needed; leave gaps out"
        )
    return values


def _positive(**numbers: float) -> None:
    for name, number in numbers.items():
        if not number > 0 or not np.isfinite(number):
            raise OutOfRangeError(f"chart: {name} is {number:g}; it must be a finite number > 0")


def _bounded(values: FloatArray, centre: float, half: FloatArray) -> Chart:
    half = np.broadcast_to(half, values.shape)
    signals = np.flatnonzero(np.abs(values - centre) > half)
    return Chart(values, centre, centre - half, centre + half, signals)


def ewma_chart(
    x: FloatArray,
    centre: float,
    deviation: float,
    weight: float = 0.2,
    width: float = 3.0,
    autocorrelation: float = 0.0,
    *,
    starting: bool = False,
) -> Chart:
    r"""Chart of the exponentially weighted moving average: sees slow wear.

    .. math:: z_i = \lambda x_i + (1-\lambda) z_{i-1}, \quad
        z_0 \pm L s \sqrt{\frac{\lambda}{2-\lambda}\,
        \frac{1 + r(1-\lambda)}{1 - r(1-\lambda)}}

    Parameters
    ----------
    x : ndarray, shape (n,)
        Readings in order of time. [1]
    centre : float
        Target or long-run mean; also the start of the average. [1]
    deviation : float
        Standard deviation of single readings, autocorrelation included; > 0. [1]
    weight : float
        Weight of the newest reading; 0 to 1. [1]
    width : float
        Half width of the limits in standard deviations of the average. [1]
    autocorrelation : float
        Correlation r of neighbouring readings (first-order autoregressive); -1 to 1. [1]
    starting : bool
        True narrows the first limits, where few readings are in the average; only without
        autocorrelation. [1]

    Returns
    -------
    ewma_chart : Chart
        Averages with limits. [object]

    References
    ----------
    .. [1] L97, EWMA chart.
    .. [2] OWN, variance of the average of a first-order autoregressive series.

    Examples
    --------
    >>> ewma_chart(np.array([52.0, 47.0]), 50.0, 2.0, weight=0.3).values.round(2).tolist()
    [50.6, 49.52]
    """
    values = _readings(x, 1)
    _positive(deviation=deviation, width=width, weight=weight)
    _coefficient(autocorrelation)
    if weight > 1 or (starting and autocorrelation):
        raise OutOfRangeError(
            f"EWMA: got weight {weight:g}, autocorrelation {autocorrelation:g}; the weight must "
            "not pass 1, and starting limits need a series without autocorrelation"
        )
    from scipy.signal import lfilter

    first = np.array([(1 - weight) * centre])
    averages = np.asarray(lfilter([weight], [1, weight - 1], values, zi=first)[0])
    variance = np.full(values.shape, weight / (2 - weight))
    variance *= spread_inflation_ar1(autocorrelation * (1 - weight)) ** 2
    if starting:
        variance *= 1 - (1 - weight) ** (2 * np.arange(1, values.size + 1))
    return _bounded(averages, centre, width * deviation * np.sqrt(variance))


def cusum_chart(
    x: FloatArray,
    centre: float,
    deviation: float,
    reference: float = 0.5,
    limit: float = 5.0,
) -> Chart:
    r"""Chart of cumulative sums: sees a small step quickly.

    .. math:: H_i = \max(0, H_{i-1} + (x_i-\mu)/s - k), \quad
        L_i = \max(0, L_{i-1} - (x_i-\mu)/s - k), \quad \text{alarm} > h

    Parameters
    ----------
    x : ndarray, shape (n,)
        Readings in order of time. [1]
    centre : float
        Target or long-run mean. [1]
    deviation : float
        Standard deviation of a reading; > 0. [1]
    reference : float
        Reference value k in standard deviations: half the step to be seen. [1]
    limit : float
        Decision limit h in standard deviations. [1]

    Returns
    -------
    cusum_chart : Chart
        Two rows of sums in standard deviations; ``signals`` are readings where either alarms.
        [object]

    References
    ----------
    .. [1] L97, CUSUM chart.

    Examples
    --------
    >>> cusum_chart(np.full(12, 1.0), 0.0, 1.0).signals.tolist()
    [10, 11]
    """
    values = _readings(x, 1)
    _positive(deviation=deviation, limit=limit)
    if reference < 0:
        raise OutOfRangeError(f"CUSUM: reference value is {reference:g}; it must be >= 0")
    scores = (values - centre) / deviation
    sums = np.stack([_one_sided(scores - reference), _one_sided(-scores - reference)])
    signals = np.flatnonzero((sums > limit).any(axis=0))
    return Chart(sums, 0.0, np.zeros_like(values), np.full_like(values, limit), signals)


def _one_sided(steps: FloatArray) -> FloatArray:
    walk = np.cumsum(steps)
    return np.asarray(walk - np.minimum(0, np.minimum.accumulate(walk)))


def autocorrelation_lag1(x: FloatArray) -> float:
    r"""Correlation of neighbouring readings.

    .. math:: r = \frac{\sum (x_i-\bar x)(x_{i+1}-\bar x)}{\sum (x_i-\bar x)^2} + \frac{1}{n}

    Parameters
    ----------
    x : ndarray, shape (n,)
        Readings at equal intervals; at least 8. [1]

    Returns
    -------
    autocorrelation_lag1 : float
        Estimate, kept within -0.99 to 0.99; the second term takes off the bias of short
        series without correlation. [1]

    References
    ----------
    .. [1] MEM, moment estimator and its bias.

    Examples
    --------
    >>> autocorrelation_lag1(np.tile([1.0, -1.0], 50)) < -0.9
    True
    """
    values = _readings(x, 8)
    centred = values - values.mean()
    total = float(centred @ centred)
    if total <= 1e-24 * float(values @ values):
        raise OutOfRangeError(
            f"autocorrelation: all readings are {values[0]:g}; a sensor may be stuck"
        )
    estimate = float(centred[1:] @ centred[:-1]) / total + 1 / values.size
    return float(np.clip(estimate, -0.99, 0.99))


def _coefficient(autocorrelation: float) -> None:
    if not -1 < autocorrelation < 1:
        raise OutOfRangeError(
            f"autocorrelation: got {autocorrelation:g}; it must lie strictly between -1 and 1; "
            "a series that drifts without end needs its trend taken off first"
        )


def spread_inflation_ar1(autocorrelation: float) -> float:
    r"""Factor on the standard error of a mean of autocorrelated readings.

    .. math:: \sqrt{(1 + r)/(1 - r)}

    Parameters
    ----------
    autocorrelation : float
        Correlation r of neighbouring readings; -1 to 1. [1]

    Returns
    -------
    spread_inflation_ar1 : float
        Factor for long series; 1 without autocorrelation. [1]

    References
    ----------
    .. [1] OWN, variance of the mean of a first-order autoregressive series.

    Examples
    --------
    >>> round(spread_inflation_ar1(0.6), 6)
    2.0
    """
    _coefficient(autocorrelation)
    return float(np.sqrt((1 + autocorrelation) / (1 - autocorrelation)))
