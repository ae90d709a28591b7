"""Designed trials within safe limits: what to run, what it shows, where the best setting lies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy import special

from cakewright.errors import DataError, Fault, OutOfRangeError
from cakewright.quantities import FloatArray
from cakewright.statistics.designs import (
    LackOfFit,
    Stationary,
    Surface,
    central_composite_design,
    coded,
    fit_surface,
    full_factorial_design,
    lack_of_fit,
    stationary_point,
    uncoded,
)

__all__ = [
    "Factor",
    "Response",
    "Trial",
    "TrialPlan",
    "analyse_response",
    "coded_grid",
    "factor_limits",
    "next_best_run",
    "plan_trials",
    "surface_columns",
]

_GRID = {1: 101, 2: 31, 3: 13, 4: 8}


@dataclass(frozen=True, slots=True)
class Factor:
    """One setting of the press with its safe limits (SI); no trial goes beyond them."""

    key: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Trial:
    """One run: place in the order, settings (SI), coded settings, kind, day of the trial."""

    order: int
    settings: Mapping[str, float]
    coded: tuple[float, ...]
    kind: str
    day: int = 1


@dataclass(frozen=True, slots=True)
class TrialPlan:
    """Runs in the order they are to be made."""

    factors: tuple[Factor, ...]
    trials: tuple[Trial, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Response:
    """One response over the trials: surface, flat point, curvature and lack-of-fit tests.

    ``curvature_chance`` is how often a flat plane would show so much difference between centre
    and corners; ``lack`` compares the surface with the repeats (None without repeats to spare).
    """

    name: str
    surface: Surface
    stationary: Stationary | None
    curvature: float
    curvature_chance: float
    lack: LackOfFit | None


def factor_limits(factors: Sequence[Factor]) -> tuple[FloatArray, FloatArray]:
    for factor in factors:
        if not 0 < factor.low < factor.high:
            raise OutOfRangeError(
                f"trial of {factor.key}: safe limits {factor.low:g} to {factor.high:g} (SI) must "
                "be positive and rise; give them in the site file"
            )
    return np.array([f.low for f in factors]), np.array([f.high for f in factors])


def _kind(point: FloatArray) -> str:
    if not point.any():
        return "centre"
    return "corner" if np.all(point != 0) else "axial"


def plan_trials(
    factors: Sequence[Factor], *, second_order: bool = True, centres: int = 5, seed: int = 1,
    per_day: int = 3,
) -> TrialPlan:  # fmt: skip
    """A factorial or central composite plan, shrunk so that its outermost points are the limits.

    Order is drawn at random so that drift of the feed does not pose as an effect. ``per_day`` runs
    make a day, and every day holds a centre run, so that days of other feed can be told apart from
    settings; there are at least ``centres`` of them.

    Raises
    ------
    OutOfRangeError
        If there are no factors, more than four, or limits do not rise.
    """
    if not 1 <= len(factors) <= 4:
        raise OutOfRangeError(f"trials: {len(factors)} factors; one to four can be tried together")
    low, high = factor_limits(factors)
    count = len(factors)
    if second_order and count > 1:
        points = central_composite_design(count, centres)
    elif second_order:
        points = np.array([[-1.0], [1.0], [-0.5], [0.5], *[[0.0]] * centres])
    else:
        points = np.vstack([full_factorial_design(count), np.zeros((centres, count))])
    points = points / np.abs(points).max()
    outer = points[points.any(axis=1)]
    outer = outer[np.random.default_rng(seed).permutation(len(outer))]
    if per_day < 2:
        raise OutOfRangeError(f"trials: {per_day} runs a day; at least 2, one at the centre")
    days = max(centres, -(-len(outer) // (per_day - 1)))
    trials: list[Trial] = []
    for day, part in enumerate(np.array_split(outer, days), 1):
        middle = len(part) // 2 if 1 < day < days else 0 if day == 1 else len(part)
        for point in np.insert(part, middle, 0.0, axis=0):
            settings = uncoded(point, low, high).tolist()
            named = dict(zip((f.key for f in factors), settings, strict=True))
            order = len(trials) + 1
            trials.append(Trial(order, named, tuple(point.tolist()), _kind(point), day))
    return TrialPlan(tuple(factors), tuple(trials))


def surface_columns(points: FloatArray) -> FloatArray:
    """Columns 1, x, cross products, squares of a second-order surface."""
    x = np.atleast_2d(points)
    count = x.shape[1]
    cross = [x[:, i] * x[:, k] for i in range(count) for k in range(i + 1, count)]
    squares = [x[:, i] ** 2 for i in range(count)]
    return np.column_stack([np.ones(len(x)), x, *cross, *squares])


def _curvature(points: FloatArray, y: FloatArray) -> tuple[float, float]:
    """Corners less centre, and the chance of seeing so much without curvature."""
    centre = y[~points.any(axis=1)]
    size = np.abs(points).max(axis=0)
    corner = y[np.all(np.abs(points) > 0.3 * size, axis=1)]
    if centre.size < 2 or not corner.size:
        return float("nan"), float("nan")
    gap = float(corner.mean() - centre.mean())
    deviation = float(centre.std(ddof=1)) * np.sqrt(1 / centre.size + 1 / corner.size)
    if deviation == 0:
        return gap, 0.0 if gap else 1.0
    t = abs(gap) / deviation
    return gap, float(2 * special.stdtr(centre.size - 1, -t))


def analyse_response(
    factors: Sequence[Factor], settings: Mapping[str, FloatArray], name: str, y: FloatArray
) -> Response:
    """Second-order surface of one response over settings as they were really run (SI).

    Raises
    ------
    DataError
        If there are too few runs for the surface.
    """
    low, high = factor_limits(factors)
    actual = np.column_stack([np.asarray(settings[f.key], dtype=float) for f in factors])
    good = np.isfinite(y) & np.isfinite(actual).all(axis=1)
    points, y = coded(actual[good], low, high), y[good]
    columns = surface_columns(points)
    if len(y) < columns.shape[1] + 2:
        fault = Fault(name, f"{len(y)} usable runs", f"at least {columns.shape[1] + 2}",
                      "make the remaining runs of the plan")  # fmt: skip
        raise DataError("trials", [fault])
    surface = fit_surface(points, y)
    try:
        flat = stationary_point(surface)
    except (OutOfRangeError, DataError):
        flat = None
    rounded = np.round(points, 2)
    repeats = len(y) - len(np.unique(rounded, axis=0))
    spare = len(np.unique(rounded, axis=0)) - columns.shape[1]
    lack = lack_of_fit(columns, y, rounded) if repeats > 0 and spare > 0 else None
    gap, chance = _curvature(rounded, y)
    return Response(name, surface, flat, gap, chance, lack)


def coded_grid(count: int) -> FloatArray:
    """Coded settings all over the safe limits, coarser with more factors."""
    axis = np.linspace(-1, 1, _GRID[count])
    return np.array(list(product(axis, repeat=count)))


def next_best_run(
    factors: Sequence[Factor], settings: Mapping[str, FloatArray], near: Mapping[str, float]
) -> Mapping[str, float]:
    """The further run, within the limits, that most sharpens the surface at a setting.

    Chosen so that the variance of the surface at ``near`` falls most; past runs may lie anywhere.
    """
    low, high = factor_limits(factors)
    past = np.column_stack([np.asarray(settings[f.key], dtype=float) for f in factors])
    known = surface_columns(coded(past, low, high))
    information = known.T @ known + 1e-6 * np.eye(known.shape[1])
    inverse = np.linalg.inv(information)
    target = surface_columns(coded(np.array([near[f.key] for f in factors]), low, high))[0]
    grid = coded_grid(len(factors))
    columns = surface_columns(grid)
    gain = columns @ inverse
    drop = (gain @ target) ** 2 / (1 + np.sum(gain * columns, axis=1))
    best = uncoded(grid[int(np.argmax(drop))], low, high)
    return dict(zip((f.key for f in factors), best.tolist(), strict=True))
