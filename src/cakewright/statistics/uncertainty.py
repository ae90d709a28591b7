"""Uncertainty of a result from the uncertainties of what goes into it (GUM)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from scipy import special

from cakewright.errors import OutOfRangeError, UnknownNameError
from cakewright.quantities import FloatArray
from cakewright.statistics.marginals import Marginal
from cakewright.statistics.sampling import DEFAULT_SEED, correlation_matrix, draw

__all__ = [
    "Budget",
    "InputUncertainty",
    "MonteCarloUncertainty",
    "coverage_factor",
    "deviation_rectangular",
    "deviation_triangular",
    "deviation_u_shaped",
    "effective_freedom",
    "freedom_from_reliability",
    "uncertainty_budget",
    "uncertainty_monte_carlo",
]

Model = Callable[[Mapping[str, FloatArray]], FloatArray]
_NONE: Mapping[tuple[str, str], float] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class InputUncertainty:
    """One line of a budget going in: estimate, standard uncertainty, degrees of freedom."""

    value: float
    deviation: float
    freedom: float = np.inf


@dataclass(frozen=True, slots=True)
class Budget:
    """Result of linear propagation.

    ``sensitivities`` and ``contributions`` (standard uncertainty carried into the result) are
    by input; ``shares`` of the variance add to one without correlation.
    """

    value: float
    deviation: float
    freedom: float
    sensitivities: Mapping[str, float]
    contributions: Mapping[str, float]
    shares: Mapping[str, float]

    def expanded(self, level: float = 0.95) -> float:
        """Half width of the interval that holds the value at this level."""
        return coverage_factor(level, self.freedom) * self.deviation


@dataclass(frozen=True, slots=True)
class MonteCarloUncertainty:
    """Result of propagating whole distributions."""

    mean: float
    deviation: float
    lower: float
    upper: float
    level: float
    statement: str


def deviation_rectangular(half_width: float) -> float:
    r"""Standard uncertainty of a value known to lie anywhere within two limits.

    .. math:: a/\sqrt 3

    Parameters
    ----------
    half_width : float
        Half the distance of the limits; :math:`a`; >= 0. [1]

    Returns
    -------
    deviation_rectangular : float
        Standard uncertainty. [1]

    References
    ----------
    .. [1] L93, annex H.1 uses it.

    Examples
    --------
    >>> round(deviation_rectangular(0.015), 5)
    0.00866
    """
    return float(_half(half_width) / np.sqrt(3.0))


def deviation_triangular(half_width: float) -> float:
    r"""Standard uncertainty of a value most likely in the middle of two limits.

    .. math:: a/\sqrt 6

    Parameters
    ----------
    half_width : float
        Half the distance of the limits; :math:`a`; >= 0. [1]

    Returns
    -------
    deviation_triangular : float
        Standard uncertainty. [1]

    References
    ----------
    .. [1] OWN, variance of the triangular distribution.

    Examples
    --------
    >>> round(deviation_triangular(1.0), 4)
    0.4082
    """
    return float(_half(half_width) / np.sqrt(6.0))


def deviation_u_shaped(half_width: float) -> float:
    r"""Standard uncertainty of a value that swings between two limits.

    .. math:: a/\sqrt 2

    Parameters
    ----------
    half_width : float
        Half the distance of the limits; :math:`a`; >= 0. [1]

    Returns
    -------
    deviation_u_shaped : float
        Standard uncertainty. [1]

    References
    ----------
    .. [1] OWN, variance of a sine.

    Examples
    --------
    >>> round(deviation_u_shaped(1.0), 4)
    0.7071
    """
    return float(_half(half_width) / np.sqrt(2.0))


def _half(half_width: float) -> float:
    if not half_width >= 0 or not np.isfinite(half_width):
        raise OutOfRangeError(f"half width: got {half_width:g}; it must be finite and >= 0")
    return float(half_width)


def freedom_from_reliability(relative: float) -> float:
    r"""Degrees of freedom of a standard uncertainty that is itself uncertain.

    .. math:: \nu = \tfrac12 (\Delta u / u)^{-2}

    Parameters
    ----------
    relative : float
        Relative uncertainty of the uncertainty; > 0. [1]

    Returns
    -------
    freedom_from_reliability : float
        Degrees of freedom. [1]

    References
    ----------
    .. [1] L93, used in annex H.1: 25 % gives 8, 10 % gives 50.

    Examples
    --------
    >>> freedom_from_reliability(0.25)
    8.0
    """
    if not relative > 0:
        raise OutOfRangeError(f"reliability: got {relative:g}; it must be > 0")
    return 0.5 / relative**2


def effective_freedom(contributions: FloatArray, freedoms: FloatArray) -> float:
    r"""Degrees of freedom of a combined uncertainty (Welch-Satterthwaite).

    .. math:: \nu_{eff} = \frac{(\sum u_i^2)^2}{\sum u_i^4/\nu_i}

    Parameters
    ----------
    contributions : ndarray, shape (n,)
        Standard uncertainties carried into the result; >= 0. [1]
    freedoms : ndarray, shape (n,)
        Degrees of freedom of each; > 0, may be infinite. [1]

    Returns
    -------
    effective_freedom : float
        Degrees of freedom; infinite where nothing limits them. [1]

    References
    ----------
    .. [1] L93, annex H.1.

    Examples
    --------
    >>> round(effective_freedom(np.array([25.0, 9.7, 2.9, 16.6]), np.array([18, 25.6, 50, 2])), 1)
    16.8
    """
    u, nu = np.asarray(contributions, dtype=float), np.asarray(freedoms, dtype=float)
    if u.shape != nu.shape or np.any(u < 0) or np.any(~(nu > 0)):
        raise OutOfRangeError(
            "effective degrees of freedom: one per contribution, uncertainties >= 0, degrees > 0"
        )
    below = float(np.sum(u**4 / nu))
    return float(np.sum(u**2) ** 2 / below) if below > 0 else np.inf


def coverage_factor(level: float, freedom: float = np.inf) -> float:
    r"""Multiple of the standard uncertainty that covers a two-sided level (Student).

    Degrees of freedom that are not whole are rounded down, as the guide does.

    Parameters
    ----------
    level : float
        Level; strictly between 0 and 1. [1]
    freedom : float
        Degrees of freedom; >= 1; infinite gives the normal factor. [1]

    Returns
    -------
    coverage_factor : float
        Factor. [1]

    References
    ----------
    .. [1] L93, annex H.1.

    Examples
    --------
    >>> round(coverage_factor(0.99, 16.7), 2)
    2.92
    """
    if not 0 < level < 1 or not freedom >= 1:
        raise OutOfRangeError(
            f"coverage factor: got level {level:g}, {freedom:g} degrees of freedom; the level "
            "must lie strictly between 0 and 1 and degrees of freedom be at least 1"
        )
    if np.isinf(freedom):
        return float(special.ndtri(0.5 + level / 2))
    return float(special.stdtrit(np.floor(freedom), 0.5 + level / 2))


def uncertainty_budget(
    model: Model,
    inputs: Mapping[str, InputUncertainty],
    correlation: Mapping[tuple[str, str], float] = _NONE,
) -> Budget:
    r"""Linear propagation of uncertainty with correlations.

    .. math:: u_c^2 = \sum c_i^2 u_i^2 + 2 \sum_{i<j} c_i c_j r_{ij} u_i u_j

    Sensitivities are central differences over a thousandth of each uncertainty.

    Parameters
    ----------
    model : callable
        Mapping of input arrays in, result array out. [object]
    inputs : mapping of str to InputUncertainty
        Estimates with uncertainties. [object]
    correlation : mapping of pair of str to float
        Correlated pairs. [1]

    Returns
    -------
    uncertainty_budget : Budget
        Value, combined standard uncertainty, effective degrees of freedom, and the part of
        each input. [object]

    Raises
    ------
    OutOfRangeError
        If an uncertainty is negative, nothing is uncertain, or correlations contradict.

    Notes
    -----
    Effective degrees of freedom are for independent inputs; with correlations they are a guide.

    References
    ----------
    .. [1] L93, law of propagation.

    Examples
    --------
    >>> got = uncertainty_budget(lambda x: x["a"] * x["b"],
    ...     {"a": InputUncertainty(2.0, 0.1), "b": InputUncertainty(5.0, 0.2)})
    >>> round(got.deviation, 4)
    0.6403
    """
    names = tuple(inputs)
    spread = np.array([inputs[name].deviation for name in names])
    if not names or np.any(~(spread >= 0)) or not np.any(spread > 0):
        raise OutOfRangeError("uncertainty budget: uncertainties must be >= 0, at least one > 0")
    value, slopes = _slopes(model, inputs)
    carried = slopes * spread
    matrix = correlation_matrix(names, correlation)
    variance = float(carried @ matrix @ carried)
    freedoms = np.array([inputs[name].freedom for name in names])
    below = float(np.sum(carried**4 / freedoms))
    return Budget(
        value,
        float(np.sqrt(variance)),
        variance**2 / below if below > 0 else np.inf,
        MappingProxyType(dict(zip(names, slopes.tolist(), strict=True))),
        MappingProxyType(dict(zip(names, np.abs(carried).tolist(), strict=True))),
        MappingProxyType(dict(zip(names, (carried**2 / variance).tolist(), strict=True))),
    )


def _slopes(model: Model, inputs: Mapping[str, InputUncertainty]) -> tuple[float, FloatArray]:
    names = tuple(inputs)
    steps = np.array([1e-3 * inputs[n].deviation or 1e-6 * (abs(inputs[n].value) or 1.0)
                      for n in names])  # fmt: skip
    moved = {}
    for place, name in enumerate(names):
        moved[name] = np.full(1 + 2 * len(names), inputs[name].value)
        moved[name][1 + 2 * place : 3 + 2 * place] += (steps[place], -steps[place])
    out = np.broadcast_to(np.asarray(model(moved), dtype=float), (1 + 2 * len(names),))
    if not np.all(np.isfinite(out)):
        raise OutOfRangeError(
            "uncertainty budget: the model gives no finite value at the estimates"
        )
    return float(out[0]), (out[1::2] - out[2::2]) / (2 * steps)


def uncertainty_monte_carlo(
    model: Model,
    inputs: Mapping[str, Marginal],
    correlation: Mapping[tuple[str, str], float] = _NONE,
    level: float = 0.95,
    count: int = 2**16,
    seed: int = DEFAULT_SEED,
) -> MonteCarloUncertainty:
    r"""Propagation of whole distributions: the check on linear propagation.

    Parameters
    ----------
    model : callable
        Mapping of input arrays in, result array out. [object]
    inputs : mapping of str to Marginal
        Distributions. [object]
    correlation : mapping of pair of str to float
        Correlation of normal scores of correlated pairs. [1]
    level : float
        Level of the interval, cut equally at both ends. [1]
    count : int
        Samples, a multiple of 8. [1]
    seed : int
        Seed. [1]

    Returns
    -------
    uncertainty_monte_carlo : MonteCarloUncertainty
        Mean, standard uncertainty and interval. [object]

    Raises
    ------
    UnknownNameError
        If a correlated pair names something that has no spread.

    References
    ----------
    .. [1] MEM, propagation of distributions (supplement 1 of the guide).

    Examples
    --------
    >>> from cakewright.statistics.marginals import normal_marginal
    >>> got = uncertainty_monte_carlo(lambda x: x["a"] + 1, {"a": normal_marginal(2.0, 0.5)})
    >>> round(got.upper, 2)
    3.98
    """
    if not inputs:
        raise UnknownNameError("Monte Carlo uncertainty: no inputs are named")
    drawn = draw(inputs, count, correlation, seed)
    result = np.asarray(model(drawn.values), dtype=float)[1:]
    if not np.all(np.isfinite(result)):
        raise OutOfRangeError(
            f"Monte Carlo uncertainty: the model gives no finite value in "
            f"{int(np.sum(~np.isfinite(result)))} of {result.size} samples; bound the inputs"
        )
    lower, upper = np.quantile(result, [(1 - level) / 2, (1 + level) / 2])
    return MonteCarloUncertainty(
        float(result.mean()),
        float(result.std(ddof=1)),
        float(lower),
        float(upper),
        level,
        drawn.statement,
    )
