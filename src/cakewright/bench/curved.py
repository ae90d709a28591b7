"""Curved fits: least squares with a robust first pass, and profile intervals by the F test."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from cakewright.errors import DataError, Fault
from cakewright.quantities import FloatArray

__all__ = ["CurvedFit", "fit_curved", "profile_interval"]

Residuals = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True, eq=False)
class CurvedFit:
    """Estimates with covariance scaled by the scatter; ``used`` leaves misreadings out.

    ``modes`` are all solutions that the readings cannot tell from the best one, it first.
    """

    theta: FloatArray
    covariance: FloatArray
    scatter: float
    freedom: int
    used: np.ndarray
    cost: float
    modes: tuple[FloatArray, ...]


def _solve(
    residuals: Residuals,
    start: FloatArray,
    bounds: tuple[FloatArray, FloatArray],
    loss: Literal["linear", "soft_l1"] = "linear",
    scale: float = 1.0,
) -> tuple[FloatArray, FloatArray, float]:
    from scipy.optimize import least_squares

    low, high = bounds
    inside = np.clip(start, low + 1e-9 * (1 + np.abs(low)), high - 1e-9 * (1 + np.abs(high)))
    found = least_squares(residuals, inside, bounds=bounds, loss=loss, f_scale=scale, max_nfev=400)
    return np.asarray(found.x), np.asarray(found.jac), 2.0 * float(found.cost)


def fit_curved(
    residuals: Residuals,
    starts: list[FloatArray],
    bounds: tuple[FloatArray, FloatArray],
    what: str,
    hidden: int = 0,
) -> CurvedFit:
    """Best of several starts; readings further off than seven robust deviations are left out.

    ``hidden`` counts parameters that ``residuals`` solves for itself (linear ones).

    Raises
    ------
    DataError
        If there are not more readings than parameters.
    """
    count, size = len(residuals(starts[0])), len(starts[0]) + hidden
    if count <= size:
        raise DataError(
            what,
            [Fault(what, f"{count} readings", f"more than {size}", "take more readings")],
        )
    solutions = sorted((_solve(residuals, s, bounds) for s in starts), key=lambda f: f[2])
    plain = solutions[0]
    scale = max(_robust_scale(residuals(plain[0])), 1e-12)
    robust = _solve(residuals, plain[0], bounds, "soft_l1", scale)
    gap = residuals(robust[0])
    used = np.abs(gap) <= 7.0 * max(_robust_scale(gap), 1e-12)
    if used.all() or used.sum() <= size + 1:
        used = np.ones(count, dtype=bool)
        theta, jacobian, cost = plain
    else:
        theta, jacobian, cost = _solve(lambda p: residuals(p)[used], robust[0], bounds)
    freedom = int(used.sum()) - size
    variance = cost / freedom
    covariance = np.asarray(np.linalg.pinv(jacobian.T @ jacobian, rcond=1e-14), dtype=np.float64)
    limit = cost * (1.0 + _f_quantile(freedom, 0.95) / freedom)
    modes = [theta]
    for other, _, _ in solutions[1:]:
        gap = residuals(other)[used]
        if gap @ gap <= limit and all(np.max(np.abs(other - m)) > 0.05 for m in modes):
            modes.append(other)
    return CurvedFit(
        theta, covariance * variance, float(np.sqrt(variance)), freedom, used, cost, tuple(modes)
    )


def _f_quantile(freedom: int, level: float) -> float:
    from scipy.special import fdtri

    return float(fdtri(1, freedom, level))


def _robust_scale(gap: FloatArray) -> float:
    return float(1.4826 * np.median(np.abs(gap - np.median(gap))))


def profile_interval(
    residuals: Residuals,
    fit: CurvedFit,
    index: int,
    bounds: tuple[FloatArray, FloatArray],
    level: float = 0.95,
) -> tuple[float, float]:
    """Interval of one parameter: where the best fit with it held is worse by the F test.

    Spans all modes; ends at the bound when the readings set no limit before it.
    """
    limit = fit.cost * (1.0 + _f_quantile(fit.freedom, level) / fit.freedom)
    others = [i for i in range(len(fit.theta)) if i != index]
    sub = (bounds[0][others], bounds[1][others])
    warm: dict[int, FloatArray] = {}
    # At each mode the fit is good enough by definition, whatever rounding says.
    seen = {float(mode[index]): -max(limit - fit.cost, 1e-300) for mode in fit.modes}

    def excess(value: float, side: int) -> float:
        def held(rest: FloatArray) -> FloatArray:
            full = np.empty(len(fit.theta))
            full[others], full[index] = rest, value
            return np.asarray(residuals(full)[fit.used])

        if value not in seen:
            starts = [warm.get(side, fit.theta[others]), *(m[others] for m in fit.modes[1:])]
            found = min((_solve(held, s, sub) for s in starts), key=lambda f: f[2])
            warm[side] = found[0]
            seen[value] = found[2] - limit
        return seen[value]

    low, high = float(bounds[0][index]), float(bounds[1][index])
    step = max(float(np.sqrt(max(fit.covariance[index, index], 0.0))), 1e-4)
    step = min(step, (high - low) / 4)
    places = [float(mode[index]) for mode in fit.modes]
    return (
        _crossing(excess, min(places), -step, low, high),
        _crossing(excess, max(places), step, low, high),
    )


def _crossing(
    excess: Callable[[float, int], float], start: float, step: float, low: float, high: float
) -> float:
    """First value away from ``start`` where the fit is no longer good enough."""
    from scipy.optimize import brentq

    side = 1 if step > 0 else -1
    inner, reach = start, step
    for _ in range(12):
        outer = float(np.clip(start + reach, low, high))
        if excess(outer, side) > 0:
            return float(brentq(lambda v: excess(v, side), inner, outer, xtol=abs(step) * 1e-3))
        if outer in (low, high):
            return outer
        inner, reach = outer, reach * 1.7
    return inner
