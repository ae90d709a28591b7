"""Which polymer: chance of each to be the best, and to be the cheapest for the same result."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.bench.dose import DoseFit
from cakewright.quantities import FloatArray

__all__ = ["CoagulantOptimum", "PolymerRank", "coagulant_optimum", "rank_polymers"]

_DRAWS = 4000
_SEED = 20260301
#: "The same result" is within this factor of the best polymer's best response (JUDGEMENT).
SAME_RESULT = 1.15


@dataclass(frozen=True, slots=True)
class PolymerRank:
    """One polymer in the ranking; costs are per dry solids, None without prices.

    ``dose_same`` is the dose [kg/kg] that reaches the common result in the middle of the draws,
    None when it does so in fewer than half of them.
    """

    name: str
    test: str
    response: str
    best_dose: float
    best_interval: tuple[float, float]
    flat_region: tuple[float, float]
    cheapest_dose: float
    cheapest_cost: float | None
    best_level: float
    chance_best: float
    dose_same: float | None
    cost_same: float | None
    chance_cheapest: float | None
    bracketed: bool


def _draws(fit: DoseFit, rng: np.random.Generator) -> FloatArray:
    """Draws of (level, ln optimum, ln curvature, ln gain), as spread as Student's distribution."""
    values, vectors = np.linalg.eigh(fit.covariance)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    normals = rng.standard_normal((_DRAWS, 4)) @ root.T
    tails = np.sqrt(fit.fit.freedom / rng.chisquare(fit.fit.freedom, _DRAWS))
    drawn = fit.theta + normals * tails[:, None]
    # A poorly known curvature or gain may wander off the line; hold it where exp() is a number.
    drawn[:, 2:] = np.clip(drawn[:, 2:], -12.0, 12.0)
    return np.asarray(drawn)


def _bowl(drawn: FloatArray, log_dose: FloatArray) -> FloatArray:
    curvature, gain = np.exp(drawn[:, 2]), np.exp(drawn[:, 3])
    return np.asarray(-gain * np.expm1(-curvature / gain * (log_dose - drawn[:, 1]) ** 2))


def _best_levels(fit: DoseFit, drawn: FloatArray) -> FloatArray:
    """Best level within the doses tested, per draw."""
    low, high = np.log(fit.tested)
    return np.asarray(drawn[:, 0] + _bowl(drawn, np.clip(drawn[:, 1], low, high)))


def _dose_for(fit: DoseFit, drawn: FloatArray, target: FloatArray | float) -> FloatArray:
    """Least dose that reaches the target, per draw; infinite where none tested does."""
    gain, curvature = np.exp(drawn[:, 3]), np.exp(drawn[:, 2])
    room = np.clip(target - drawn[:, 0], 0.0, gain * (1 - 1e-9))
    reach = np.sqrt(-gain / curvature * np.log1p(-room / gain))
    log_dose = drawn[:, 1] - reach
    low, high = np.log(fit.tested)
    reached = (target >= _best_levels(fit, drawn)) & (log_dose <= high)
    return np.asarray(np.where(reached, np.exp(np.maximum(log_dose, low)), np.inf))


def rank_polymers(fits: Sequence[DoseFit]) -> tuple[PolymerRank, ...]:
    """Rank the polymers tried with one response, best first.

    Responses of different kinds are not comparable: call once per response.
    """
    if not fits:
        return ()
    rng = np.random.default_rng(_SEED)
    drawn = [_draws(fit, rng) for fit in fits]
    levels = np.column_stack([_best_levels(f, d) for f, d in zip(fits, drawn, strict=True)])
    shares = np.bincount(np.argmin(levels, axis=1), minlength=len(fits)) / _DRAWS
    response = fits[0].response
    best = min(float(f.level(np.array([f.best_dose]))[0]) for f in fits)
    spread = max(float(np.ptp(f.level(f.test.columns["dose"]))) for f in fits)
    target = best + float(np.log(SAME_RESULT)) * response.scale(spread)
    doses = np.column_stack([_dose_for(f, d, target) for f, d in zip(fits, drawn, strict=True)])
    costs = _costs(fits, doses)
    cheap = _chance_cheapest(costs) if costs is not None else None
    rows = [_row(i, fits[i], shares, doses, costs, cheap) for i in range(len(fits))]
    return tuple(sorted(rows, key=lambda row: -row.chance_best))


def _costs(fits: Sequence[DoseFit], doses: FloatArray) -> FloatArray | None:
    fixed = [fit.cost(0.0) for fit in fits]
    if any(cost is None for cost in fixed):
        return None
    per_dose = np.array([(fit.cost(1.0) or 0.0) - (fit.cost(0.0) or 0.0) for fit in fits])
    return np.asarray(doses * per_dose + np.array([cost or 0.0 for cost in fixed]))


def _chance_cheapest(costs: FloatArray) -> FloatArray:
    reached = np.isfinite(costs).any(axis=1)
    if not reached.any():
        return np.zeros(costs.shape[1])
    first = np.argmin(costs[reached], axis=1)
    return np.asarray(np.bincount(first, minlength=costs.shape[1]) / reached.sum())


def _row(
    index: int,
    fit: DoseFit,
    shares: FloatArray,
    doses: FloatArray,
    costs: FloatArray | None,
    cheap: FloatArray | None,
) -> PolymerRank:
    middle = float(np.median(doses[:, index]))
    reaches = np.isfinite(middle)
    cost = float(np.median(costs[:, index])) if costs is not None and reaches else None
    return PolymerRank(
        name=fit.name,
        test=fit.test.id,
        response=fit.response.key,
        best_dose=fit.best_dose,
        best_interval=fit.best_interval,
        flat_region=fit.flat_region,
        cheapest_dose=fit.cheapest_dose,
        cheapest_cost=fit.cost(fit.cheapest_dose),
        best_level=float(fit.level(np.array([fit.best_dose]))[0]),
        chance_best=float(shares[index]),
        dose_same=middle if reaches else None,
        cost_same=cost,
        chance_cheapest=float(cheap[index]) if cheap is not None else None,
        bracketed=fit.bracketed,
    )


@dataclass(frozen=True, slots=True)
class CoagulantOptimum:
    """Best coagulant dose for one polymer, from the best levels at three doses or more."""

    polymer: str
    coagulant: str
    doses: tuple[float, ...]
    best_levels: tuple[float, ...]
    best_dose: float
    inside: bool
    words: str


def coagulant_optimum(fits: Sequence[DoseFit]) -> CoagulantOptimum | None:
    """Parabola through the best levels against coagulant dose; None below three doses."""
    doses = np.array([fit.test.numbers.get("coagulant_dose", 0.0) for fit in fits])
    if len(np.unique(doses)) < 3:
        return None
    levels = np.array([float(fit.level(np.array([fit.best_dose]))[0]) for fit in fits])
    errors = np.array([max(float(np.sqrt(fit.covariance[0, 0])), 1e-6) for fit in fits])
    scale = float(doses.max())
    bend, slope, _ = np.polyfit(doses / scale, levels, 2, w=1 / errors)
    inside = bend > 0 and 0 < -slope / (2 * bend) < 1
    if inside:
        best = float(-slope / (2 * bend) * scale)
        words = f"best near {best * 1e3:.3g} kg/t of coagulant"
    else:
        best = float(doses[int(np.argmin(levels))])
        words = f"no optimum inside the coagulant doses tried; best at {best * 1e3:.3g} kg/t"
    named = [fit.test.words.get("coagulant", "") for fit in fits]
    return CoagulantOptimum(
        polymer=fits[0].test.words.get("polymer", ""),
        coagulant=next((name for name in named if name), ""),
        doses=tuple(float(d) for d in doses),
        best_levels=tuple(float(x) for x in levels),
        best_dose=best,
        inside=bool(inside),
        words=words,
    )
