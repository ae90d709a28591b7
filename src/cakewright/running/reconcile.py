"""Solids and water balance of the press over feed, polymer, wash, filtrate and cake.

Readings of each shift are adjusted, within their uncertainty, until both balances close; what
cannot be adjusted within reason names the instrument that does not fit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from cakewright.errors import DataError, InfeasibleError, OutOfRangeError
from cakewright.quantities import FloatArray
from cakewright.running.shifts import ShiftTable
from cakewright.running.signals import signal
from cakewright.statistics.reconciliation import (
    Reconciled,
    measurement_test_limit,
    reconcile,
)

__all__ = [
    "BALANCE_KEYS",
    "Assumed",
    "BalanceInput",
    "BalanceTable",
    "Suspicion",
    "balance_residuals",
    "reconcile_shifts",
    "standing_bias",
]

WATER = 1000.0  # kg/m3; liquids of the balance are taken as water, 1 % off at 3 % solids
BALANCE_KEYS = (
    "feed_flow", "feed_solids", "polymer_flow", "polymer_strength", "wash_flow",
    "filtrate_flow", "filtrate_solids", "cake_flow", "cake_solids",
)  # fmt: skip
BoolArray = NDArray[np.bool_]
Balances = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class Assumed:
    """What is taken for a signal nobody reads: a value (SI) or a share of the feed flow."""

    value: float
    spread: float
    of_feed: bool = False


# Judgement: ring machines spray little; working solutions are 0.1 to 0.3 % active.
_ASSUMED = {
    "polymer_flow": Assumed(0.08, 0.04, of_feed=True),
    "polymer_strength": Assumed(0.002, 0.0006),
    "wash_flow": Assumed(0.08, 0.06, of_feed=True),
}


@dataclass(frozen=True, slots=True)
class BalanceInput:
    """What the balance needs beside the readings.

    ``relative`` and ``absolute`` overrule the usual standard uncertainty per signal; ``assumed``
    what is taken for signals that are not read; ``dissolved`` is dissolved solids (kg/m3) that
    count in total solids and pass with the water.
    """

    relative: Mapping[str, float] = field(default_factory=dict)
    assumed: Mapping[str, Assumed] = field(default_factory=dict)
    dissolved: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class BalanceTable:
    """Reconciled values per shift; columns in the order of `BALANCE_KEYS`; NaN: no answer.

    ``gap_solids`` and ``gap_water`` are what the raw readings leave open, as a share of what
    enters; ``adjustment`` is reconciled minus read over the standard uncertainty; ``tests`` the
    same over its own standard deviation; ``freedom`` 0 means that nothing could be checked.
    """

    value: FloatArray
    spread: FloatArray
    adjustment: FloatArray
    sigma: FloatArray
    tests: FloatArray
    misfit: FloatArray
    freedom: NDArray[np.int64]
    agrees: BoolArray
    read: BoolArray
    gap_solids: FloatArray
    gap_water: FloatArray
    capture: FloatArray
    capture_spread: FloatArray
    dose: FloatArray
    dose_spread: FloatArray
    solids_load: FloatArray
    solids_load_spread: FloatArray

    def column(self, key: str) -> FloatArray:
        """Reconciled values of one signal."""
        return np.asarray(self.value[:, BALANCE_KEYS.index(key)])

    def column_spread(self, key: str) -> FloatArray:
        """Standard uncertainty of one reconciled signal."""
        return np.asarray(self.spread[:, BALANCE_KEYS.index(key)])


@dataclass(frozen=True, slots=True)
class Suspicion:
    """One instrument that does not fit: how far off on average, and how sure that is.

    ``bias`` is reading minus reconciled, as a share of the value; ``score`` in standard
    deviations; ``shifts`` how many shifts carry it; ``alike`` signals the balances cannot tell
    from it.
    """

    key: str
    bias: float
    score: float
    shifts: int
    alike: tuple[str, ...] = ()


def balance_residuals(x: FloatArray, dissolved: float = 0.0) -> FloatArray:
    """What the solids balance (kg/s) and the water balance (kg/s) leave open, (..., 2)."""
    feed, feed_ts, polymer, strength, wash, filtrate, tss, cake, cake_ts = np.moveaxis(x, -1, 0)
    solids_in = feed * (WATER * feed_ts - dissolved) + polymer * WATER * strength
    cake_dry = cake * cake_ts - cake * (1 - cake_ts) * dissolved / WATER
    solids = solids_in - filtrate * tss - cake_dry
    water = WATER * (feed + polymer + wash - filtrate) - cake
    return np.stack([solids, water], axis=-1)


def _capture(x: FloatArray, dissolved: float) -> FloatArray:
    fed = x[..., 0] * (WATER * x[..., 1] - dissolved)
    return np.asarray(1.0 - x[..., 5] * x[..., 6] / fed)


def _dose(x: FloatArray) -> FloatArray:
    return np.asarray(x[..., 2] * x[..., 3] / (x[..., 0] * x[..., 1]))


def _load(x: FloatArray) -> FloatArray:
    return np.asarray(x[..., 0] * WATER * x[..., 1])


def _slopes(function: Callable[[FloatArray], FloatArray], x: FloatArray) -> FloatArray:
    steps = 1e-5 * np.maximum(np.abs(x), 1e-9)
    columns = []
    for i in range(x.shape[-1]):
        step = np.zeros_like(x)
        step[..., i] = steps[..., i]
        columns.append((function(x + step) - function(x - step)) / (2 * steps[..., i]))
    return np.stack(columns, axis=-1)


def _spread_of(
    function: Callable[[FloatArray], FloatArray], x: FloatArray, covariance: FloatArray
) -> FloatArray:
    slope = _slopes(function, x)
    return np.asarray(np.sqrt(np.einsum("...i,...ij,...j->...", slope, covariance, slope)))


def _readings(table: ShiftTable, given: BalanceInput) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Readings, standard uncertainties, and whether each was read."""
    value = np.column_stack([table.get(key) for key in BALANCE_KEYS])
    read = np.isfinite(value) & (value > 0)
    spread = np.empty_like(value)
    feed = value[:, 0]
    assumed = {**_ASSUMED, **given.assumed}
    for i, key in enumerate(BALANCE_KEYS):
        one = signal(key)
        share = given.relative.get(key, one.relative)
        spread[:, i] = np.hypot(share * value[:, i], one.absolute)
        if key in assumed:
            size = np.where(assumed[key].of_feed, feed, 1.0)
            value[:, i] = np.where(read[:, i], value[:, i], assumed[key].value * size)
            spread[:, i] = np.where(read[:, i], spread[:, i], assumed[key].spread * size)
    return value, spread, read


def _patterns(known: BoolArray) -> Iterator[tuple[tuple[int, ...], NDArray[np.int64]]]:
    """Groups of shifts with the same signals missing."""
    code = known @ (1 << np.arange(known.shape[1]))
    for one in np.unique(code):
        at = np.flatnonzero(code == one)
        yield tuple(np.flatnonzero(~known[at[0]]).tolist()), at


def _guess(value: FloatArray) -> FloatArray:
    """A start for signals without a reading, good enough to linearise about."""
    usual = {"feed_solids": 0.02, "filtrate_solids": 0.5, "cake_solids": 0.2, "feed_flow": 1e-3}
    x = value.copy()
    for key, size in usual.items():
        i = BALANCE_KEYS.index(key)
        x[:, i] = np.where(np.isfinite(x[:, i]), x[:, i], size)
    cake = x[:, 0] * WATER * x[:, 1] * 0.95 / x[:, 8]
    x[:, 7] = np.where(np.isfinite(x[:, 7]), x[:, 7], cake)
    filtrate = x[:, 0] + x[:, 2] + x[:, 4] - x[:, 7] / WATER
    x[:, 5] = np.where(np.isfinite(x[:, 5]), x[:, 5], filtrate)
    return x


def _row(balances: Balances, k: int) -> Callable[[FloatArray], FloatArray]:
    return lambda x: np.asarray(balances(x)[..., k])


def _just_solved(
    x: FloatArray,
    covariance: FloatArray,
    missing: Sequence[int],
    balances: Balances,
) -> Reconciled:
    """Two missing values found from two balances: an answer, but nothing checks it."""
    free = list(missing)
    for _ in range(30):
        jacobian = np.stack([_slopes(_row(balances, k), x) for k in (0, 1)], axis=-2)
        step = np.linalg.solve(jacobian[..., free], balances(x)[..., None])[..., 0]
        x = x.copy()
        x[..., free] -= step
        if np.all(np.abs(step) <= 1e-10 * np.maximum(np.abs(x[..., free]), 1e-12)):
            break
    else:
        raise InfeasibleError("balance: the two missing flows cannot be found from these readings")
    gain = -np.linalg.solve(jacobian[..., free], jacobian)
    whole = np.broadcast_to(np.eye(x.shape[-1]), covariance.shape).copy()
    whole[..., free, :] = gain
    whole[..., :, free] = 0.0
    spread = whole @ covariance @ np.swapaxes(whole, -1, -2)
    nothing = np.zeros_like(x)
    return Reconciled(
        x, spread, nothing, np.zeros(len(x)), 0, nothing, np.zeros(x.shape, dtype=bool)
    )


def _solve(
    x: FloatArray,
    sigma: FloatArray,
    missing: tuple[int, ...],
    balances: Balances,
) -> Reconciled | None:
    covariance = np.einsum("mi,ij->mij", sigma**2, np.eye(x.shape[1]))
    try:
        if len(missing) <= 1:
            return reconcile(x, covariance, balances, missing)
        covariance[:, list(missing), list(missing)] = 0.0
        return _just_solved(x, covariance, missing, balances)
    except (DataError, InfeasibleError, OutOfRangeError, np.linalg.LinAlgError):
        return None


def _solve_each(
    x: FloatArray,
    sigma: FloatArray,
    missing: tuple[int, ...],
    balances: Balances,
    chunk: int = 2000,
) -> Iterator[tuple[NDArray[np.int64], Reconciled]]:
    """In chunks; a chunk that does not settle is taken shift by shift, the hopeless left out."""
    for start in range(0, len(x), chunk):
        at = np.arange(start, min(start + chunk, len(x)))
        got = _solve(x[at], sigma[at], missing, balances)
        if got is not None:
            yield at, got
        elif chunk > 1:
            small = 50 if chunk > 50 else 1
            for part, one in _solve_each(x[at], sigma[at], missing, balances, small):
                yield at[part], one


def reconcile_shifts(table: ShiftTable, given: BalanceInput | None = None) -> BalanceTable:
    """Best estimate and spread of every stream, capture, dose and load, shift by shift.

    A shift with more than two signals missing, or none running, has no answer.
    """
    given = given or BalanceInput()
    value, sigma, read = _readings(table, given)
    known = np.isfinite(value) & (value > 0) & (sigma > 0)

    def balances(x: FloatArray) -> FloatArray:
        return balance_residuals(x, given.dissolved)

    n, width = value.shape
    empty = np.full((n, width), np.nan)
    result = {name: empty.copy() for name in ("value", "spread", "adjustment", "sigma", "tests")}
    misfit, freedom = np.full(n, np.nan), np.zeros(n, dtype=np.int64)
    agrees = np.zeros(n, dtype=bool)
    lines = {name: np.full(n, np.nan) for name in ("capture", "dose", "load")}
    spreads = {name: np.full(n, np.nan) for name in lines}
    formulas: dict[str, Callable[[FloatArray], FloatArray]] = {
        "capture": lambda x: _capture(x, given.dissolved), "dose": _dose, "load": _load,
    }  # fmt: skip
    start = _guess(value)
    for missing, rows in _patterns(known):
        if len(missing) > 2 or (0 in missing and 1 in missing):
            continue
        used = np.where(known[rows], sigma[rows], 1.0)
        for part, got in _solve_each(start[rows], used, missing, balances):
            at = rows[part]
            result["value"][at], result["spread"][at] = got.values, got.standard_errors
            result["adjustment"][at] = np.where(known[at], got.adjustments / used[part], 0.0)
            result["sigma"][at] = np.where(known[at], used[part], 0.0)
            result["tests"][at] = got.tests
            misfit[at], freedom[at], agrees[at] = got.misfit, got.freedom, got.agrees()
            for name, formula in formulas.items():
                lines[name][at] = formula(got.values)
                spreads[name][at] = _spread_of(formula, got.values, got.covariance)
    gaps = _raw_gaps(value, known, balances)
    return BalanceTable(
        **result, misfit=misfit, freedom=freedom, agrees=agrees, read=read,
        gap_solids=gaps[0], gap_water=gaps[1],
        capture=lines["capture"], capture_spread=spreads["capture"],
        dose=lines["dose"], dose_spread=spreads["dose"],
        solids_load=lines["load"], solids_load_spread=spreads["load"],
    )  # fmt: skip


def _raw_gaps(
    value: FloatArray, known: BoolArray, balances: Balances
) -> tuple[FloatArray, FloatArray]:
    whole = known.all(axis=1)
    left = balances(np.where(known, value, 1.0))
    solids_in = value[:, 0] * WATER * value[:, 1]
    water_in = WATER * (value[:, 0] + value[:, 2] + value[:, 4])
    with np.errstate(invalid="ignore"):
        solids = np.where(whole, left[:, 0] / solids_in, np.nan)
        water = np.where(whole, left[:, 1] / water_in, np.nan)
    return solids, water


def standing_bias(
    balance: BalanceTable, rows: NDArray[np.generic] | None = None, level: float = 0.99
) -> tuple[Suspicion, ...]:
    """Instruments whose adjustment points the same way shift after shift, worst first.

    One shift hides a bias in its noise; a hundred do not. The score is the mean adjustment over
    its standard deviation across shifts; signals within 10 % of the highest score are alike.
    """
    index = np.arange(len(balance.misfit)) if rows is None else np.arange(len(balance.misfit))[rows]
    index = index[balance.freedom[index] > 0]
    if index.size < 5:
        return ()
    adjustment, value = balance.adjustment[index], balance.value[index]
    scored: list[tuple[float, float, str]] = []
    for i, key in enumerate(BALANCE_KEYS):
        if not balance.read[index, i].any():
            continue
        signed = np.sign(adjustment[:, i]) * balance.tests[index, i]
        score = float(np.mean(signed) * np.sqrt(index.size / _inflation(signed)))
        moved = -adjustment[:, i] * balance.sigma[index, i]
        scored.append((abs(score), float(np.median(moved / value[:, i])), key))
    limit = measurement_test_limit(len(scored), level) if scored else 0.0
    best = max((s for s, _, _ in scored), default=0.0)
    found = [
        Suspicion(key, bias, score, index.size, tuple(
            k for s, _, k in scored if k != key and s > 0.9 * score and score > 0.9 * best))
        for score, bias, key in sorted(scored, reverse=True)
        if score > limit
    ]  # fmt: skip
    return tuple(found)


def _inflation(series: FloatArray) -> float:
    """How many times fewer independent shifts there are, from the lag-one correlation."""
    centred = series - series.mean()
    total = float(centred @ centred)
    if total <= 0:
        return 1.0
    lag = float(centred[1:] @ centred[:-1]) / total
    return (1 + max(lag, 0.0)) / (1 - min(max(lag, 0.0), 0.95))
