"""Designed trials: settings to run, effects, curved surfaces and their best point."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations, product

import numpy as np
from scipy import special

from cakewright.errors import DataError, Fault, InfeasibleError, OutOfRangeError
from cakewright.quantities import FloatArray
from cakewright.statistics.regression import Fit, fit_linear

__all__ = [
    "LackOfFit",
    "Stationary",
    "StationaryKind",
    "Surface",
    "central_composite_design",
    "coded",
    "fit_surface",
    "full_factorial_design",
    "lack_of_fit",
    "stationary_point",
    "uncoded",
]


class StationaryKind(StrEnum):
    """What lies at the flat point of a curved surface."""

    MAXIMUM = "maximum"
    MINIMUM = "minimum"
    SADDLE = "saddle"


@dataclass(frozen=True, slots=True)
class Surface:
    """Second-order surface y = b0 + b'x + x'Bx in coded units, with the fit behind it.

    Columns of the fit: 1, blocks after the first, x1.., cross products x1x2.., squares x1^2..
    """

    fit: Fit
    intercept: float
    slopes: FloatArray
    curvature: FloatArray
    blocks: FloatArray
    r_squared: float


@dataclass(frozen=True, slots=True)
class Stationary:
    """Flat point of a surface in coded units, what it is, and its curvatures."""

    point: FloatArray
    value: float
    kind: StationaryKind
    curvatures: FloatArray


@dataclass(frozen=True, slots=True)
class LackOfFit:
    """Whether scatter about a model is more than scatter between repeats."""

    statistic: float
    chance: float
    freedom_model: int
    freedom_repeats: int


def full_factorial_design(factors: int) -> FloatArray:
    r"""All combinations of low (-1) and high (+1), the first factor changing fastest.

    Parameters
    ----------
    factors : int
        Number of factors; 1 to 12. [1]

    Returns
    -------
    full_factorial_design : ndarray, shape (2**factors, factors)
        Coded settings. [1]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> full_factorial_design(2).tolist()
    [[-1.0, -1.0], [1.0, -1.0], [-1.0, 1.0], [1.0, 1.0]]
    """
    if not 1 <= factors <= 12:
        raise OutOfRangeError(f"factorial design: got {factors} factors; 1 to 12")
    return np.array(list(product((-1.0, 1.0), repeat=factors)))[:, ::-1].copy()


def central_composite_design(
    factors: int, centres: int = 5, axial: float | None = None
) -> FloatArray:
    r"""Factorial corners, axial points and repeated centre, for a second-order surface.

    Parameters
    ----------
    factors : int
        Number of factors; 2 to 6. [1]
    centres : int
        Centre runs, which also give the spread of repeats; >= 1. [1]
    axial : float, optional
        Distance of axial points; the fourth root of the corner count (rotatable) if not given;
        1 keeps inside the cube. [1]

    Returns
    -------
    central_composite_design : ndarray, shape (2**factors + 2 factors + centres, factors)
        Coded settings. [1]

    References
    ----------
    .. [1] MEM, Box and Wilson 1951.

    Examples
    --------
    >>> central_composite_design(2, 3).shape
    (11, 2)
    """
    if not 2 <= factors <= 6 or centres < 1:
        raise OutOfRangeError(
            f"central composite: got {factors} factors, {centres} centres; 2 to 6, at least 1"
        )
    corners = full_factorial_design(factors)
    reach = len(corners) ** 0.25 if axial is None else axial
    if not reach > 0:
        raise OutOfRangeError(f"central composite: axial distance is {reach:g}; must be > 0")
    arms = np.kron(np.eye(factors), np.array([[-reach], [reach]]))
    return np.concatenate([corners, arms, np.zeros((centres, factors))])


def coded(settings: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    r"""Settings in units of half their range from the middle: low -1, high +1.

    Parameters
    ----------
    settings : ndarray, shape (n, k)
        Settings in their own units. [1]
    low : ndarray, shape (k,)
        Low settings. [1]
    high : ndarray, shape (k,)
        High settings. [1]

    Returns
    -------
    coded : ndarray, shape (n, k)
        Coded settings. [1]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> coded(np.array([[80.0], [90.0]]), np.array([80.0]), np.array([90.0])).tolist()
    [[-1.0], [1.0]]
    """
    bottom, top = _range(low, high)
    return np.asarray((2 * np.asarray(settings, dtype=float) - bottom - top) / (top - bottom))


def uncoded(points: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    r"""Coded settings back in their own units.

    Parameters
    ----------
    points : ndarray, shape (n, k)
        Coded settings. [1]
    low : ndarray, shape (k,)
        Low settings. [1]
    high : ndarray, shape (k,)
        High settings. [1]

    Returns
    -------
    uncoded : ndarray, shape (n, k)
        Settings in their own units. [1]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> uncoded(np.array([[-1.0], [1.0]]), np.array([80.0]), np.array([90.0])).tolist()
    [[80.0], [90.0]]
    """
    bottom, top = _range(low, high)
    return np.asarray((bottom + top) / 2 + np.asarray(points, dtype=float) * (top - bottom) / 2)


def _range(low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray]:
    bottom, top = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    if np.any(~(top > bottom)):
        raise OutOfRangeError("design: every high setting must be above its low setting")
    return bottom, top


def _surface_columns(x: FloatArray, blocks: FloatArray | None) -> tuple[FloatArray, int]:
    parts = [np.ones((len(x), 1))]
    count = 0
    if blocks is not None:
        labels = np.unique(blocks)[1:]
        parts.append((np.asarray(blocks)[:, None] == labels).astype(float))
        count = labels.size
    cross = [x[:, i] * x[:, j] for i, j in combinations(range(x.shape[1]), 2)]
    if cross:
        parts.append(np.column_stack([x, *cross, x**2]))
    else:
        parts.append(np.column_stack([x, x**2]))
    return np.column_stack(parts), count


def fit_surface(
    points: FloatArray, response: FloatArray, blocks: FloatArray | None = None
) -> Surface:
    r"""Second-order surface by least squares.

    .. math:: y = b_0 + x^T b + x^T B x

    Parameters
    ----------
    points : ndarray, shape (n, k)
        Coded settings. [1]
    response : ndarray, shape (n,)
        Results. [1]
    blocks : ndarray, shape (n,), optional
        Block of each run (day, shift); each block after the first gets its own offset. [1]

    Returns
    -------
    fit_surface : Surface
        Coefficients with covariance. [object]

    Raises
    ------
    DataError
        If runs are too few or do not reach beyond the corners, so that curvatures mix.

    References
    ----------
    .. [1] L99, second-order model with blocks.

    Examples
    --------
    >>> x = central_composite_design(2, 3)
    >>> round(fit_surface(x, 5 - x[:, 0] ** 2 - 2 * x[:, 1] ** 2).curvature[1, 1], 6)
    np.float64(-2.0)
    """
    x, y = np.asarray(points, dtype=float), np.asarray(response, dtype=float)
    columns, count = _surface_columns(x, blocks)
    fit = fit_linear(columns, y)
    k = x.shape[1]
    rest = fit.parameters[1 + count :]
    curvature = np.diag(rest[-k:]).astype(float)
    for value, (i, j) in zip(rest[k:-k], combinations(range(k), 2), strict=True):
        curvature[i, j] = curvature[j, i] = value / 2
    total = float(np.sum((y - y.mean()) ** 2))
    r_squared = 1 - float(fit.residuals @ fit.residuals) / total if total else 1.0
    offsets = fit.parameters[1 : 1 + count]
    return Surface(fit, float(fit.parameters[0]), rest[:k], curvature, offsets, r_squared)


def stationary_point(surface: Surface) -> Stationary:
    r"""Flat point of a second-order surface.

    .. math:: x_s = -\tfrac12 B^{-1} b

    Parameters
    ----------
    surface : Surface
        Fitted surface. [object]

    Returns
    -------
    stationary_point : Stationary
        Point in coded units, value there (first block), kind, eigenvalues of B descending.
        [object]

    Raises
    ------
    InfeasibleError
        If the surface is flat along some direction: it has a ridge, not a point.

    Notes
    -----
    A point outside the settings tried is an extrapolation: run there before believing it.

    References
    ----------
    .. [1] L99, canonical analysis.

    Examples
    --------
    >>> x = central_composite_design(2, 3)
    >>> stationary_point(fit_surface(x, 5 - (x[:, 0] - 1) ** 2 - x[:, 1] ** 2)).kind.value
    'maximum'
    """
    eigenvalues = np.asarray(np.linalg.eigvalsh(surface.curvature)[::-1], dtype=float)
    if np.min(np.abs(eigenvalues)) < 1e-8 * max(np.max(np.abs(eigenvalues)), 1e-300):
        raise InfeasibleError(
            "stationary point: the surface does not curve in one direction; it has a ridge: "
            "choose a point along it by cost, or try wider settings"
        )
    point = np.asarray(-0.5 * np.linalg.solve(surface.curvature, surface.slopes), dtype=float)
    value = surface.intercept + 0.5 * float(surface.slopes @ point)
    if np.all(eigenvalues < 0):
        kind = StationaryKind.MAXIMUM
    else:
        kind = StationaryKind.MINIMUM if np.all(eigenvalues > 0) else StationaryKind.SADDLE
    return Stationary(point, value, kind, eigenvalues)


def lack_of_fit(design: FloatArray, response: FloatArray, settings: FloatArray) -> LackOfFit:
    r"""Test whether a model leaves more scatter than repeats explain.

    .. math:: F = \frac{SS_{lof}/\nu_{lof}}{SS_{pe}/\nu_{pe}}

    Parameters
    ----------
    design : ndarray, shape (n, p)
        Columns of the fitted model. [1]
    response : ndarray, shape (n,)
        Results. [1]
    settings : ndarray, shape (n, k)
        Settings; equal rows are repeats. Add the block as a column where there are blocks. [1]

    Returns
    -------
    lack_of_fit : LackOfFit
        F, its chance when the model is right, and degrees of freedom. [object]

    Raises
    ------
    DataError
        If there are no repeats, or no settings beyond the parameters.

    References
    ----------
    .. [1] L99, analysis of variance of the first-order fit.

    Examples
    --------
    >>> x = np.array([0.0, 0, 1, 1, 2, 2])
    >>> y = np.array([0.0, 0.1, 1.0, 1.1, 0.0, 0.1])
    >>> lack_of_fit(np.column_stack([np.ones(6), x]), y, x[:, None]).chance < 0.01
    True
    """
    y = np.asarray(response, dtype=float)
    fit = fit_linear(design, y)
    rows = np.round(np.asarray(settings, dtype=float).reshape(y.size, -1), 9)
    _, group = np.unique(rows, axis=0, return_inverse=True)
    group = group.ravel()
    groups = int(group.max()) + 1
    means = np.bincount(group, y) / np.bincount(group)
    pure = float(np.sum((y - means[group]) ** 2))
    free_repeats, free_model = y.size - groups, groups - np.shape(design)[1]
    if free_repeats < 1 or free_model < 1 or pure <= 0:
        raise DataError(
            "lack of fit",
            [Fault("runs", f"{groups} settings in {y.size} runs for {np.shape(design)[1]} "
                   f"parameters, scatter of repeats {pure:g}",
                   "repeats that scatter, and more settings than parameters",
                   "repeat the centre run a few times")],
        )  # fmt: skip
    lack = max(float(fit.residuals @ fit.residuals) - pure, 0.0)
    statistic = lack / free_model / (pure / free_repeats)
    chance = float(special.fdtrc(free_model, free_repeats, statistic))
    return LackOfFit(statistic, chance, free_model, free_repeats)
