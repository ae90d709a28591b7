"""When a level changed: the most likely place, its interval, and whether it is real."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import special

from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray
from cakewright.statistics.charts import autocorrelation_lag1, spread_inflation_ar1
from cakewright.statistics.sampling import DEFAULT_SEED

__all__ = [
    "ChangePoint",
    "change_point",
]

_LEAST = 5


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """A step of the level; readings from ``index`` on belong to the new level.

    ``lower`` and ``upper`` are the first and last index that explain the readings nearly as
    well (95 %); ``chance`` is how often a series without any step looks as if it had one so
    large.
    """

    index: int
    lower: int
    upper: int
    before: float
    after: float
    score: float
    chance: float
    autocorrelation: float


def change_point(x: FloatArray, level: float = 0.95) -> ChangePoint:
    r"""Most likely single step of the mean.

    .. math:: Z_k = \frac{\bar x_{>k} - \bar x_{\le k}}{s\,c\sqrt{1/k + 1/(n-k)}},\quad
        c = \sqrt{(1+r)/(1-r)}

    The step is put where :math:`|Z_k|` is largest; the interval holds every k with
    :math:`Z_k^2 \ge Z_{max}^2 - \chi^2_1`. Spread s and autocorrelation r are those of the
    readings about the two means; a negative r is taken as zero.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Readings at equal intervals, at least 12. [1]
    level : float
        Confidence of the interval. [1]

    Returns
    -------
    change_point : ChangePoint
        Place, interval, levels, and the chance of seeing it without a step. [object]

    Raises
    ------
    OutOfRangeError
        If readings are too few, not finite, or all equal.

    Notes
    -----
    A slow drift is reported as a step near its middle with a wide interval.

    References
    ----------
    .. [1] MEM, likelihood-ratio change point with simulated null distribution.

    Examples
    --------
    >>> got = change_point(np.r_[np.tile([0.0, 1.0], 10), np.tile([5.0, 6.0], 10)])
    >>> got.index, got.chance < 0.01
    (20, True)
    """
    values = np.asarray(x, dtype=float)
    if values.ndim != 1 or values.size < 12 or not np.all(np.isfinite(values)):
        raise OutOfRangeError(
            f"change point: got readings of shape {values.shape}; a row of at least 12 finite "
            "readings is needed"
        )
    raw = _raw_scores(values)
    place = int(np.argmax(np.abs(raw))) + _LEAST
    residuals = values - np.where(np.arange(values.size) < place, *_levels(values, place))
    spread = float(np.sqrt(residuals @ residuals / (values.size - 2)))
    floor = 1e-12 * float(np.max(np.abs(values)))
    if spread <= floor and abs(float(np.subtract(*_levels(values, place)))) <= floor:
        raise OutOfRangeError("change point: all readings are equal; a sensor may be stuck")
    correlation = max(0.0, autocorrelation_lag1(residuals)) if spread > floor else 0.0
    scores = raw / (max(spread, floor) * spread_inflation_ar1(correlation))
    top = float(np.max(np.abs(scores)))
    near = np.flatnonzero(scores**2 >= top**2 - special.chdtri(1, 1 - level)) + _LEAST
    before, after = _levels(values, place)
    return ChangePoint(
        place, int(near[0]), int(near[-1]), before, after, top, _chance(top, values.size),
        correlation,
    )  # fmt: skip


def _levels(values: FloatArray, place: int) -> tuple[float, float]:
    return float(values[:place].mean()), float(values[place:].mean())


def _raw_scores(values: FloatArray) -> FloatArray:
    n = values.shape[-1]
    left = np.arange(_LEAST, n - _LEAST + 1)
    centred = values - values.mean(axis=-1, keepdims=True)
    sums = np.cumsum(centred, axis=-1)[..., left - 1]
    # With the overall mean off, the difference of means is -sum * n / (k (n - k)).
    return np.asarray(-sums * np.sqrt(n / (left * (n - left))))


@lru_cache(maxsize=64)
def _null_scores(n: int) -> FloatArray:
    generator = np.random.default_rng(DEFAULT_SEED)
    noise = generator.standard_normal((2000, n))
    return np.sort(np.max(np.abs(_raw_scores(noise)), axis=-1))


def _chance(score: float, n: int) -> float:
    # The null distribution changes only with log log n: a few lengths serve all.
    size = int(min(2 ** round(np.log2(n)), 1024)) if n > 32 else n
    null = _null_scores(size)
    return float((null.size - np.searchsorted(null, score) + 1) / (null.size + 1))
