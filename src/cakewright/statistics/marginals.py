"""Distributions of one uncertain number, each known by its quantile function.

The *point* of a marginal is the value of the point case: the typical value the giver named
(median, mode or centre), never a random draw.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy import special

from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray, Given
from cakewright.quantities.constants import NORMAL_90

__all__ = [
    "Kind",
    "Marginal",
    "constant_marginal",
    "given_marginal",
    "normal_marginal",
    "quantile",
    "two_piece_marginal",
]


class Kind(StrEnum):
    """Shape of a marginal."""

    CONSTANT = "no spread"
    NORMAL = "normal"
    LOGNORMAL = "lognormal"
    UNIFORM = "uniform"
    TRIANGULAR = "triangular"
    PERT = "beta-PERT"
    TWO_PIECE = "two-piece normal through P10, median, P90"
    EMPIRICAL = "resampled values"


@dataclass(frozen=True, slots=True)
class Marginal:
    """One distribution: its kind, parameters and the value of the point case."""

    kind: Kind
    parameters: tuple[float, ...]
    point: float

    @property
    def has_spread(self) -> bool:
        """True unless the number is a constant."""
        return self.kind is not Kind.CONSTANT


def _finite(what: str, *numbers: float) -> None:
    if not all(np.isfinite(number) for number in numbers):
        raise OutOfRangeError(
            f"{what}: got {numbers}; every parameter must be a finite number; "
            "give the missing one, or a constant"
        )


def _ordered(what: str, low: float, middle: float, high: float) -> None:
    _finite(what, low, middle, high)
    if not low <= middle <= high:
        raise OutOfRangeError(
            f"{what}: got low {low:g}, typical {middle:g}, high {high:g}; "
            "they must rise, low <= typical <= high; check for swapped values or units"
        )


def constant_marginal(value: float) -> Marginal:
    r"""Number without spread.

    Parameters
    ----------
    value : float
        The number. [1]

    Returns
    -------
    constant_marginal : Marginal
        Its marginal. [object]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> constant_marginal(3.0).has_spread
    False
    """
    _finite("constant", value)
    return Marginal(Kind.CONSTANT, (value,), value)


def normal_marginal(mean: float, deviation: float) -> Marginal:
    r"""Normal distribution.

    Parameters
    ----------
    mean : float
        Mean; also the point case. [1]
    deviation : float
        Standard deviation; >= 0. [1]

    Returns
    -------
    normal_marginal : Marginal
        Its marginal. [object]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> normal_marginal(2.0, 0.1).point
    2.0
    """
    _finite("normal", mean, deviation)
    if deviation < 0:
        raise OutOfRangeError(f"normal: got standard deviation {deviation:g}; must be >= 0")
    if deviation == 0:
        return constant_marginal(mean)
    return Marginal(Kind.NORMAL, (mean, deviation), mean)


def two_piece_marginal(
    low: float,
    typical: float,
    high: float,
    lower: float = -np.inf,
    upper: float = np.inf,
) -> Marginal:
    r"""Distribution through three percentiles: low P10, typical P50, high P90.

    .. math:: g(x) = g(x_{50}) + \frac{z}{z_{90}}
        \begin{cases} g(x_{50}) - g(x_{10}) & z < 0 \\ g(x_{90}) - g(x_{50}) & z \ge 0\end{cases}

    with z a standard normal score and g the identity where no bound is given,
    :math:`\ln(x-a)` above a lower bound a, :math:`-\ln(b-x)` below an upper bound b, and
    :math:`\ln((x-a)/(b-x))` between both. The three percentiles are met exactly, the bounds are
    never passed, and the typical value is the median and the point case.

    Parameters
    ----------
    low : float
        10 % point. [1]
    typical : float
        Median. [1]
    high : float
        90 % point. [1]
    lower : float
        Bound that the quantity cannot reach from above; none by default. [1]
    upper : float
        Bound that the quantity cannot reach from below; none by default. [1]

    Returns
    -------
    two_piece_marginal : Marginal
        Its marginal. [object]

    Notes
    -----
    The density has a step at the median when the halves differ; percentiles do not.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> round(float(quantile(two_piece_marginal(2.0, 3.0, 6.0, lower=0.0), 0.9)), 9)
    6.0
    """
    _ordered("low/typical/high", low, typical, high)
    if low == high:
        return constant_marginal(typical)
    if not lower < low or not high < upper:
        raise OutOfRangeError(
            f"low/typical/high: got {low:g}, {typical:g}, {high:g}; all three must lie strictly "
            f"between {lower:g} and {upper:g}; move the end point off the bound"
        )
    return Marginal(Kind.TWO_PIECE, (low, typical, high, lower, upper), typical)


def given_marginal(given: Given, lower: float = -np.inf, upper: float = np.inf) -> Marginal:
    r"""Marginal of a value as it was given: its low and high are P10 and P90.

    Parameters
    ----------
    given : Given
        Value with its spread, or without. [object]
    lower : float
        Physical lower bound; none by default. [1]
    upper : float
        Physical upper bound; none by default. [1]

    Returns
    -------
    given_marginal : Marginal
        Two-piece through the three values, or a constant. [object]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> given_marginal(Given("total_solids", 0.02)).has_spread
    False
    """
    if given.low is None or given.high is None:
        return constant_marginal(given.value)
    try:
        return two_piece_marginal(given.low, given.value, given.high, lower, upper)
    except OutOfRangeError as error:
        raise OutOfRangeError(f"{given.name}: {error}") from None


def quantile(marginal: Marginal, probability: float | FloatArray) -> FloatArray:
    r"""Value below which a share of the distribution lies.

    Parameters
    ----------
    marginal : Marginal
        The distribution. [object]
    probability : float or ndarray, shape (n,)
        Share; strictly between 0 and 1. [1]

    Returns
    -------
    quantile : ndarray, shape (n,)
        Values in the unit of the marginal. [1]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> float(quantile(normal_marginal(5.0, 1.0), 0.5))
    5.0
    """
    share = np.asarray(probability, dtype=float)
    if not np.all((share > 0) & (share < 1)):
        raise OutOfRangeError("quantile: every probability must lie strictly between 0 and 1")
    return _QUANTILES[marginal.kind](share, marginal.parameters)


def _constant(share: FloatArray, p: tuple[float, ...]) -> FloatArray:
    return np.full_like(share, p[0])


def _normal(share: FloatArray, p: tuple[float, ...]) -> FloatArray:
    return np.asarray(p[0] + p[1] * special.ndtri(share))


def _lognormal(share: FloatArray, p: tuple[float, ...]) -> FloatArray:
    return np.exp(_normal(share, p))


def _uniform(share: FloatArray, p: tuple[float, ...]) -> FloatArray:
    return np.asarray(p[0] + (p[1] - p[0]) * share)


def _triangular(share: FloatArray, p: tuple[float, ...]) -> FloatArray:
    low, mode, high = p
    left = low + np.sqrt(share * (high - low) * (mode - low))
    right = high - np.sqrt((1 - share) * (high - low) * (high - mode))
    return np.where(share < (mode - low) / (high - low), left, right)


def _pert(share: FloatArray, p: tuple[float, ...]) -> FloatArray:
    low, mode, high = p
    rise = 1 + 4 * (mode - low) / (high - low)
    fall = 1 + 4 * (high - mode) / (high - low)
    return np.asarray(low + (high - low) * special.betaincinv(rise, fall, share))


def _stretched(x: FloatArray, lower: float, upper: float) -> FloatArray:
    stretched = np.zeros_like(x)
    if np.isfinite(lower):
        stretched += np.log(x - lower)
    if np.isfinite(upper):
        stretched -= np.log(upper - x)
    return stretched if np.isfinite(lower) or np.isfinite(upper) else x


def _unstretched(g: FloatArray, lower: float, upper: float) -> FloatArray:
    if np.isfinite(lower) and np.isfinite(upper):
        return np.asarray(lower + (upper - lower) * special.expit(g))
    if np.isfinite(lower):
        return np.asarray(lower + np.exp(g))
    if np.isfinite(upper):
        return np.asarray(upper - np.exp(-g))
    return g


def _two_piece(share: FloatArray, p: tuple[float, ...]) -> FloatArray:
    low, typical, high = _stretched(np.array(p[:3], dtype=float), *p[3:])
    score = special.ndtri(share) / NORMAL_90
    slope = np.where(score < 0, typical - low, high - typical)
    return _unstretched(typical + score * slope, *p[3:])


def _empirical(share: FloatArray, p: tuple[float, ...]) -> FloatArray:
    return np.interp(share, np.linspace(0, 1, len(p)), p)


_QUANTILES = {
    Kind.CONSTANT: _constant,
    Kind.NORMAL: _normal,
    Kind.LOGNORMAL: _lognormal,
    Kind.UNIFORM: _uniform,
    Kind.TRIANGULAR: _triangular,
    Kind.PERT: _pert,
    Kind.TWO_PIECE: _two_piece,
    Kind.EMPIRICAL: _empirical,
}
