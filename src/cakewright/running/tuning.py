"""Designed trials within safe limits: what to run, what it shows, where the best setting lies."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy import special

from cakewright.errors import DataError, Fault, OutOfRangeError
from cakewright.quantities import Band, FloatArray
from cakewright.running.indicators import Prices
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
    "BestSetting",
    "Factor",
    "Response",
    "Trial",
    "TrialPlan",
    "analyse_response",
    "best_setting",
    "disposal_cost",
    "next_best_run",
    "plan_trials",
    "surface_columns",
]

_DRAWS = 400
_GRID = {1: 101, 2: 31, 3: 13, 4: 8}


@dataclass(frozen=True, slots=True)
class Factor:
    """One setting of the press with its safe limits (SI); no trial goes beyond them."""

    key: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Trial:
    """One run: place in the order, settings (SI), coded settings, kind."""

    order: int
    settings: Mapping[str, float]
    coded: tuple[float, ...]
    kind: str


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


@dataclass(frozen=True, slots=True, eq=False)
class BestSetting:
    """Least cost within the limits and what it would save, with how sure that is.

    ``region`` is the range of each factor that holds the best setting in eight of ten draws.
    """

    settings: Mapping[str, float]
    cost: Band
    cost_today: Band
    saving: Band
    chance_of_saving: float
    region: Mapping[str, tuple[float, float]]
    expected: Mapping[str, Band]
    on_limit: tuple[str, ...]
    chance_capture: float


def _limits(factors: Sequence[Factor]) -> tuple[FloatArray, FloatArray]:
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
    factors: Sequence[Factor], *, second_order: bool = True, centres: int = 5, seed: int = 1
) -> TrialPlan:
    """A factorial or central composite plan, shrunk so that its outermost points are the limits.

    Order is drawn at random so that drift of the feed does not pose as an effect; centre runs are
    spread evenly, the first and last among them, to show such drift.

    Raises
    ------
    OutOfRangeError
        If there are no factors, more than four, or limits do not rise.
    """
    if not 1 <= len(factors) <= 4:
        raise OutOfRangeError(f"trials: {len(factors)} factors; one to four can be tried together")
    low, high = _limits(factors)
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
    places = set(np.linspace(0, len(points) - 1, centres).round().astype(int).tolist())
    queue = iter(outer)
    ordered = [np.zeros(count) if i in places else next(queue) for i in range(len(points))]
    trials = tuple(
        Trial(
            i + 1,
            dict(zip((f.key for f in factors), uncoded(p, low, high).tolist(), strict=True)),
            tuple(p.tolist()), _kind(p),
        )
        for i, p in enumerate(ordered)
    )  # fmt: skip
    return TrialPlan(tuple(factors), trials)


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
    low, high = _limits(factors)
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


def disposal_cost(prices: Prices) -> Callable[[Mapping[str, FloatArray]], FloatArray]:
    """Money per kg of dry solids fed from dose, cake solids and capture."""

    def cost(state: Mapping[str, FloatArray]) -> FloatArray:
        wet = state["capture"] / state["cake_solids"]
        return np.asarray(
            prices.polymer * state["polymer_dose"]
            + prices.cake * wet
            + prices.filtrate * (1 - state["capture"])
        )

    return cost


def _grid(count: int) -> FloatArray:
    axis = np.linspace(-1, 1, _GRID[count])
    return np.array(list(product(axis, repeat=count)))


def _drawn(response: Response, points: FloatArray, seed: int) -> FloatArray:
    """Response at points under draws of its coefficients, (draws, points)."""
    fit = response.surface.fit
    rng = np.random.default_rng(seed)
    values, vectors = np.linalg.eigh(fit.covariance)
    root = vectors * np.sqrt(np.clip(values, 0, None))
    freedom = max(fit.freedom, 1)
    stretch = np.sqrt(freedom / rng.chisquare(freedom, _DRAWS))[:, None]
    normal = rng.standard_normal((_DRAWS, root.shape[0]))
    draws = fit.parameters + stretch * (normal @ root.T)
    return np.asarray(draws @ surface_columns(points).T)


def _band(x: FloatArray) -> Band:
    low, middle, high = np.quantile(x, (0.1, 0.5, 0.9))
    return Band(float(low), float(middle), float(high))


def best_setting(
    factors: Sequence[Factor],
    responses: Mapping[str, Response],
    today: Mapping[str, float],
    cost: Callable[[Mapping[str, FloatArray]], FloatArray],
    least_capture: float = 0.0,
    sure: float = 0.9,
    seed: int = 2,
) -> BestSetting:
    """Setting of least mean cost at which capture holds with the wanted sureness.

    Raises
    ------
    DataError
        If no setting within the limits keeps the capture.
    """
    low, high = _limits(factors)
    grid = _grid(len(factors))
    now = coded(np.array([today[f.key] for f in factors]), low, high)
    points = np.vstack([grid, now])
    state = {n: _drawn(r, points, seed + i) for i, (n, r) in enumerate(sorted(responses.items()))}
    real = uncoded(points, low, high)
    for i, factor in enumerate(factors):
        state[factor.key] = np.broadcast_to(real[:, i], (_DRAWS, len(points)))
    state["cake_solids"] = np.clip(state["cake_solids"], 0.02, 0.9)
    state["capture"] = np.clip(state["capture"], 0.01, 1.0)
    money = cost(state)
    holds = (state["capture"] >= least_capture).mean(axis=0)
    allowed = holds[:-1] >= sure
    if not allowed.any():
        best = f"{100 * float(holds[:-1].max()):.0f} % sure at best"
        fault = Fault("capture", best, f"{100 * sure:.0f} % sure of {100 * least_capture:.1f} %",
                      "lower the capture asked for, or widen the safe limits")  # fmt: skip
        raise DataError("best setting", [fault])
    mean = np.where(allowed, money[:, :-1].mean(axis=0), np.inf)
    at = int(np.argmin(mean))
    saving = money[:, -1] - money[:, at]
    each = np.argmin(np.where(allowed, money[:, :-1], np.inf), axis=1)
    spread = np.quantile(real[each], (0.1, 0.9), axis=0)
    keys = [factor.key for factor in factors]
    return BestSetting(
        settings=dict(zip(keys, real[at].tolist(), strict=True)),
        cost=_band(money[:, at]),
        cost_today=_band(money[:, -1]),
        saving=_band(saving),
        chance_of_saving=float((saving > 0).mean()),
        region={k: (float(spread[0, i]), float(spread[1, i])) for i, k in enumerate(keys)},
        expected={name: _band(state[name][:, at]) for name in responses},
        on_limit=tuple(k for i, k in enumerate(keys) if abs(grid[at, i]) > 0.999),
        chance_capture=float(holds[at]),
    )


def next_best_run(
    factors: Sequence[Factor], settings: Mapping[str, FloatArray], near: Mapping[str, float]
) -> Mapping[str, float]:
    """The further run, within the limits, that most sharpens the surface at a setting.

    Chosen so that the variance of the surface at ``near`` falls most; past runs may lie anywhere.
    """
    low, high = _limits(factors)
    past = np.column_stack([np.asarray(settings[f.key], dtype=float) for f in factors])
    known = surface_columns(coded(past, low, high))
    information = known.T @ known + 1e-6 * np.eye(known.shape[1])
    inverse = np.linalg.inv(information)
    target = surface_columns(coded(np.array([near[f.key] for f in factors]), low, high))[0]
    grid = _grid(len(factors))
    columns = surface_columns(grid)
    gain = columns @ inverse
    drop = (gain @ target) ** 2 / (1 + np.sum(gain * columns, axis=1))
    best = uncoded(grid[int(np.argmax(drop))], low, high)
    return dict(zip((f.key for f in factors), best.tolist(), strict=True))
