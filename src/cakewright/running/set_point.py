"""The best setting from trial runs: least cost among settings that surely keep every limit."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.errors import DataError, Fault
from cakewright.quantities import Band, FloatArray
from cakewright.running.indicators import Prices
from cakewright.running.tuning import Factor, Response, coded_grid, factor_limits, surface_columns
from cakewright.statistics.designs import coded, uncoded

__all__ = ["BestSetting", "Keep", "best_setting", "disposal_cost", "wet_cake"]

_DRAWS = 400
State = Mapping[str, FloatArray]


@dataclass(frozen=True, slots=True)
class Keep:
    """What a setting must keep: a response no lower than ``low``, no higher than ``high`` (SI)."""

    name: str
    low: float = -np.inf
    high: float = np.inf


@dataclass(frozen=True, slots=True, eq=False)
class BestSetting:
    """Least cost within the limits and what it would save, with how sure that is.

    ``region`` is the range of each factor that holds the best setting in eight of ten draws;
    ``saved`` what is saved per dry solids: active polymer and wet cake (kg/kg); ``held`` the chance
    that each thing to keep is kept there.
    """

    settings: Mapping[str, float]
    cost: Band
    cost_today: Band
    saving: Band
    chance_of_saving: float
    region: Mapping[str, tuple[float, float]]
    expected: Mapping[str, Band]
    on_limit: tuple[str, ...]
    held: tuple[tuple[Keep, float], ...]
    saved: Mapping[str, Band]
    chance_saved: Mapping[str, float]
    saving_draws: FloatArray


def wet_cake(state: State) -> FloatArray:
    """Wet cake per dry solids fed (kg/kg)."""
    return np.asarray(state["capture"] / state["cake_solids"])


def disposal_cost(prices: Prices) -> Callable[[State], FloatArray]:
    """Money per kg of dry solids fed from dose, cake solids, capture and, where read, power."""

    def cost(state: State) -> FloatArray:
        energy = prices.power * state["specific_energy"] if "specific_energy" in state else 0.0
        return np.asarray(
            prices.polymer * state["polymer_dose"]
            + prices.cake * wet_cake(state)
            + prices.filtrate * (1 - state["capture"])
            + energy
        )

    return cost


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


def _moved(
    state: dict[str, FloatArray], shift: Mapping[str, tuple[float, float]], seed: int
) -> None:
    """Cake and loss brought to the feed of the coming weeks; one draw of the shift per draw."""
    rng = np.random.default_rng(seed)
    for name, (middle, spread) in sorted(shift.items()):
        factor = np.exp(middle + spread * rng.standard_normal((_DRAWS, 1)))
        if name == "loss":
            state["capture"] = 1 - (1 - state["capture"]) * factor
        else:
            state[name] = state[name] * factor


def _states(
    factors: Sequence[Factor],
    responses: Mapping[str, Response],
    points: FloatArray,
    fixed: Mapping[str, float],
    shift: Mapping[str, tuple[float, float]],
    seed: int,
) -> dict[str, FloatArray]:
    """Everything that cost and limits ask for, (draws, points)."""
    state = {n: _drawn(r, points, seed + i) for i, (n, r) in enumerate(sorted(responses.items()))}
    _moved(state, shift, seed + 100)
    real = uncoded(points, *factor_limits(factors))
    for name, value in fixed.items():
        state[name] = np.full((_DRAWS, len(points)), value)
    for i, factor in enumerate(factors):
        state[factor.key] = np.broadcast_to(real[:, i], (_DRAWS, len(points)))
    state["cake_solids"] = np.clip(state["cake_solids"], 0.02, 0.9)
    state["capture"] = np.clip(state["capture"], 0.01, 1.0)
    return state


def _kept(state: State, keeps: Sequence[Keep], sure: float) -> tuple[FloatArray, list[FloatArray]]:
    """Whether all is kept together with the wanted sureness, and the chance of each alone.

    Raises
    ------
    DataError
        If nothing within the limits keeps them all.
    """
    size = next(iter(state.values())).shape
    each = [(state[k.name] >= k.low) & (state[k.name] <= k.high) for k in keeps]
    together = np.all(each, axis=0) if each else np.ones(size, dtype=bool)
    chance = together.mean(axis=0)
    allowed = chance >= sure
    if not allowed[:-1].any():
        alone = ", ".join(
            f"{k.name.replace('_', ' ')} {100 * float(one.mean(axis=0)[:-1].max()):.0f} %"
            for k, one in zip(keeps, each, strict=True)
        )
        got = f"{100 * float(chance[:-1].max()):.0f} % sure at best (each alone: {alone})"
        words = "lower the capture asked for, or the throughput, or widen the safe limits"
        fault = Fault("what must be kept", got, f"{100 * sure:.0f} % sure of all", words)
        raise DataError("best setting", [fault])
    return np.asarray(allowed), [np.asarray(one.mean(axis=0)) for one in each]


def best_setting(
    factors: Sequence[Factor],
    responses: Mapping[str, Response],
    today: Mapping[str, float],
    cost: Callable[[State], FloatArray],
    keeps: Sequence[Keep] = (),
    *,
    fixed: Mapping[str, float] | None = None,
    shift: Mapping[str, tuple[float, float]] | None = None,
    sure: float = 0.9,
    seed: int = 2,
) -> BestSetting:
    """Setting of least mean cost at which everything is kept with the wanted sureness.

    ``fixed`` are values the cost asks for that were not tried; ``shift`` the change of the natural
    logarithm of ``cake_solids`` and ``loss`` from the feed of the runs to that of the coming weeks,
    with its standard deviation.

    Raises
    ------
    DataError
        If no setting within the limits keeps what must be kept.
    """
    limits = factor_limits(factors)
    now = coded(np.array([today[f.key] for f in factors]), *limits)
    points = np.vstack([coded_grid(len(factors)), now])
    real, keys = uncoded(points, *limits), [factor.key for factor in factors]
    state = _states(factors, responses, points, fixed or {}, shift or {}, seed)
    money = cost(state)
    allowed, chances = _kept(state, keeps, sure)
    mean = np.where(allowed[:-1], money[:, :-1].mean(axis=0), np.inf)
    at = int(np.argmin(mean))
    each = np.argmin(np.where(allowed[:-1], money[:, :-1], np.inf), axis=1)
    spread = np.quantile(real[each], (0.1, 0.9), axis=0)
    parts = {"wet_cake": wet_cake(state)}
    if "polymer_dose" in state:
        parts["polymer_dose"] = state["polymer_dose"]
    less = {name: part[:, -1] - part[:, at] for name, part in parts.items()}
    saving = money[:, -1] - money[:, at]
    return BestSetting(
        settings=dict(zip(keys, real[at].tolist(), strict=True)),
        cost=_band(money[:, at]),
        cost_today=_band(money[:, -1]),
        saving=_band(saving),
        chance_of_saving=float((saving > 0).mean()),
        region={k: (float(spread[0, i]), float(spread[1, i])) for i, k in enumerate(keys)},
        expected={name: _band(state[name][:, at]) for name in responses},
        on_limit=tuple(k for i, k in enumerate(keys) if abs(points[at, i]) > 0.999),
        held=tuple((k, float(c[at])) for k, c in zip(keeps, chances, strict=True)),
        saved={name: _band(part) for name, part in less.items()},
        chance_saved={name: float((part > 0).mean()) for name, part in less.items()},
        saving_draws=saving,
    )
