"""Uncertainty of a result from the uncertainties of what goes into it (GUM)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from scipy import special

from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray
from cakewright.statistics.sampling import correlation_matrix

__all__ = [
    "Budget",
    "InputUncertainty",
    "coverage_factor",
    "uncertainty_budget",
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
