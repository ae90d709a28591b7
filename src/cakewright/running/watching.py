"""Charts of a series about its usual level, with limits that are honest about memory.

Shifts resemble their neighbours and the baseline is short; limits from the textbook's
independent readings would cry wolf. Here the limits of each chart are found by playing the
chart on made-up series of the same memory and the same baseline length, until the wanted time
between false alarms comes out. `expected_false_alarms` says what that means per month.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

import numpy as np
from numpy.typing import NDArray

from cakewright.errors import DataError, Fault
from cakewright.quantities import FloatArray
from cakewright.quantities.tables import packaged_table
from cakewright.statistics.change_points import change_point as step_point
from cakewright.statistics.charts import autocorrelation_lag1, cusum_chart, ewma_chart

__all__ = [
    "BETWEEN",
    "Alarm",
    "ChangePoint",
    "Chart",
    "ChartKind",
    "Shape",
    "Usual",
    "alarms_of",
    "change_point",
    "chart_limit",
    "expected_false_alarms",
    "simulated_limit",
    "usual_level",
    "watch",
]

BoolArray = NDArray[np.bool_]
EWMA_WEIGHT = 0.15
CUSUM_SLACK = 0.5  # in standard deviations of the series: tuned to a shift of one of them
BETWEEN = 5000  # shifts between false alarms of one chart
BASELINES = (20, 30, 45, 60, 90, 140, 200, 400)
MEMORY_STEPS = 20  # memory is rounded to one part in so many
_SEED = 20240311
_PATHS = 240


class ChartKind(StrEnum):
    """What is plotted."""

    INDIVIDUALS = "individuals"
    EWMA = "EWMA"
    CUSUM = "CUSUM"


class Shape(StrEnum):
    """How a series moved."""

    STEP = "step"
    DRIFT = "drift"
    PULSE = "pulse"


@dataclass(frozen=True, slots=True)
class Usual:
    """Level, scatter and memory (correlation of neighbours) of a baseline of n shifts."""

    level: float
    scatter: float
    memory: float
    shifts: int


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """One chart: its statistic per shift (in standard deviations; NaN: no reading), its limit."""

    kind: ChartKind
    statistic: FloatArray
    limit: float
    beyond: BoolArray


@dataclass(frozen=True, slots=True)
class Alarm:
    """First shift at which a chart passed its limit, and the direction."""

    chart: ChartKind
    shift: int
    direction: int


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """When a series moved, between which shifts that lies, by how much, how.

    ``size`` is in the unit of the series: the step, or what the drift has come to by the end.
    """

    shift: int
    earliest: int
    latest: int
    size: float
    shape: Shape


def usual_level(series: FloatArray, baseline: BoolArray, least_scatter: float = 0.0) -> Usual:
    """Level, scatter and memory of the baseline shifts.

    Raises
    ------
    DataError
        If the baseline has fewer than 15 readings.
    """
    x = series[baseline & np.isfinite(series)]
    if x.size < 15:
        got = f"{x.size} shifts with a reading"
        fault = Fault("baseline", got, "at least 15", "make the baseline longer")
        raise DataError("watching", [fault])
    middle = float(np.median(x))
    spread = 1.4826 * float(np.median(np.abs(x - middle)))
    kept = x[np.abs(x - middle) <= 4 * max(spread, 1e-12)] if spread > 0 else x
    scatter = max(float(np.std(kept, ddof=1)), least_scatter, 1e-12)
    return Usual(float(kept.mean()), scatter, _memory(kept), int(kept.size))


def _memory(x: FloatArray) -> float:
    """Correlation of neighbours, between 0 and 0.9; 0 for a series that does not move."""
    if np.ptp(x) <= 1e-12 * max(float(np.abs(x).max()), 1e-12):
        return 0.0
    return float(np.clip(autocorrelation_lag1(x), 0.0, 0.9))


def _ewma(z: FloatArray) -> FloatArray:
    from scipy.signal import lfilter

    return np.asarray(lfilter([EWMA_WEIGHT], [1.0, EWMA_WEIGHT - 1.0], z, axis=-1))


def _cusum(z: FloatArray) -> FloatArray:
    """The larger of the two one-sided sums along the last axis."""
    sides = []
    for steps in (z - CUSUM_SLACK, -z - CUSUM_SLACK):
        walk = np.cumsum(steps, axis=-1)
        sides.append(walk - np.minimum(0.0, np.minimum.accumulate(walk, axis=-1)))
    return np.asarray(np.maximum(sides[0], sides[1]))


_STATISTIC: Mapping[ChartKind, Callable[[FloatArray], FloatArray]] = {
    ChartKind.INDIVIDUALS: np.abs,
    ChartKind.EWMA: lambda z: np.abs(_ewma(z)),
    ChartKind.CUSUM: _cusum,
}


def _made_up(memory: float, shifts: int, length: int) -> FloatArray:
    """Standardised series of a given memory, each judged by its own short baseline."""
    from scipy.signal import lfilter

    rng = np.random.default_rng(_SEED)
    noise = rng.standard_normal((_PATHS, shifts + length))
    noise[:, 1:] *= np.sqrt(1 - memory**2)
    x = np.asarray(lfilter([1.0], [1.0, -memory], noise, axis=-1))
    base = x[:, :shifts]
    level = base.mean(axis=1, keepdims=True)
    scatter = base.std(axis=1, ddof=1, keepdims=True)
    return np.asarray((x[:, shifts:] - level) / scatter)


def _time_between(highest: FloatArray, limit: float) -> float:
    """Mean shifts to the first pass, counting series that never passed by their length.

    ``highest`` is the running maximum of the statistic, (series, shifts).
    """
    before = (highest < limit).sum(axis=1)
    passed = before < highest.shape[1]
    return float((before + passed).sum() / max(passed.sum(), 1))


def simulated_limit(kind: ChartKind, memory: float, shifts: int, between: int) -> float:
    """Limit found by playing the chart; `chart_limit` looks up what was found before."""
    series = _made_up(memory, shifts, int(1.5 * between))
    highest = np.maximum.accumulate(_STATISTIC[kind](series), axis=1)
    low, high = 0.2, float(highest.max()) + 1.0
    for _ in range(30):
        middle = (low + high) / 2
        low, high = (middle, high) if _time_between(highest, middle) < between else (low, middle)
    return high


@cache
def _kept_limits() -> Mapping[str, Mapping[str, Sequence[float]]]:
    """Limits for the usual time between false alarms, by chart and baseline length."""
    return dict(packaged_table("cakewright.running", "chart_limits.toml"))


@cache
def _limit(kind: ChartKind, memory_step: int, shifts: int, between: int) -> float:
    if between == BETWEEN:
        return _kept_limits()[kind.value][str(shifts)][memory_step]
    return simulated_limit(kind, memory_step / MEMORY_STEPS, shifts, between)


def chart_limit(kind: ChartKind, memory: float, shifts: int, between: int = BETWEEN) -> float:
    """Limit (standard deviations) that gives one false alarm in ``between`` shifts on average.

    Found by playing the chart on made-up series with this memory and a baseline of this many
    shifts; memory is rounded to 0.05 and the baseline to one of a few lengths.
    """
    near = max((n for n in BASELINES if n <= shifts), default=BASELINES[0])
    step = min(round(MEMORY_STEPS * memory), MEMORY_STEPS - 1)
    return _limit(kind, step, near, between)


def expected_false_alarms(charts: int, between: int, shifts_per_month: float) -> float:
    """False alarms per month that so many charts give when nothing is wrong."""
    return charts * shifts_per_month / between


def _chart(kind: ChartKind, x: FloatArray, usual: Usual, limit: float) -> FloatArray:
    """Plotted statistic of one chart in standard deviations, signed."""
    if kind is ChartKind.INDIVIDUALS:
        return np.asarray((x - usual.level) / usual.scatter)
    if kind is ChartKind.EWMA:
        smooth = ewma_chart(x, usual.level, usual.scatter, EWMA_WEIGHT)
        return np.asarray((smooth.values - usual.level) / usual.scatter)
    up, down = cusum_chart(x, usual.level, usual.scatter, CUSUM_SLACK, limit).values
    return np.asarray(np.where(up >= down, up, -down))


def _careful_memory(usual: Usual) -> float:
    """Memory one standard error above its estimate: too little of it means too many alarms."""
    return min(usual.memory + float(np.sqrt((1 - usual.memory**2) / usual.shifts)), 0.95)


def watch(
    series: FloatArray,
    usual: Usual,
    between: int = BETWEEN,
    kinds: Sequence[ChartKind] = tuple(ChartKind),
    least: float = 0.0,
) -> tuple[Chart, ...]:
    """Charts of one series; a missing reading leaves sums and averages as they were.

    ``least`` is the smallest departure (unit of the series) worth an alarm on the EWMA chart.
    """
    have = np.isfinite(series)
    charts = []
    for kind in kinds:
        limit = chart_limit(kind, _careful_memory(usual), usual.shifts, between)
        if kind is ChartKind.EWMA:
            limit = max(limit, least / usual.scatter)
        statistic = np.full(series.shape, np.nan)
        if have.any():
            statistic[have] = _chart(kind, series[have], usual, limit)
        beyond = have & (np.abs(np.nan_to_num(statistic)) > limit)
        charts.append(Chart(kind, statistic, limit, np.asarray(beyond)))
    return tuple(charts)


def alarms_of(charts: Sequence[Chart], start: int = 0, apart: int = 9) -> tuple[Alarm, ...]:
    """Alarms from ``start`` on, by shift; each chart rings anew once it was quiet for a while.

    A chart still beyond its limit within ``apart`` shifts belongs to the same alarm; another chart
    that joins later rings for itself: a small departure may hide the coming of a large one.
    """
    found: list[Alarm] = []
    for chart in charts:
        at = np.flatnonzero(chart.beyond[start:]) + start
        for shift in at[np.diff(at, prepend=-10 * apart) > apart].tolist():
            found.append(Alarm(chart.kind, shift, int(np.sign(chart.statistic[shift]))))
    return tuple(sorted(found, key=lambda alarm: alarm.shift))


def _misfit(x: FloatArray, columns: Sequence[FloatArray]) -> float:
    design = np.column_stack([np.ones(x.size), *columns])
    best = np.linalg.solve(design.T @ design, design.T @ x)
    return float(np.sum((x - design @ best) ** 2))


_GROWTH = (4, 8, 16, 32, 64, 128)  # shifts a slow change may take to grow


def _best_drift(x: FloatArray) -> tuple[float, int, int]:
    """Misfit of the best rise that then stays: how well, from when, over how many shifts."""
    t = np.arange(x.size, dtype=float)
    best = (np.inf, 0, 0)
    centred = x - x.mean()
    total = float(centred @ centred)
    starts = np.arange(3, x.size - 4)
    for growth in (g for g in _GROWTH if g < 2 * x.size):
        rise = np.clip((t[None, :] - starts[:, None]) / growth, 0.0, 1.0)
        rise = rise - rise.mean(axis=1, keepdims=True)
        scale = np.einsum("ij,ij->i", rise, rise)
        misfit = total - (rise @ centred) ** 2 / np.maximum(scale, 1e-12)
        k = int(np.argmin(misfit))
        if misfit[k] < best[0]:
            best = (float(misfit[k]), int(starts[k]), growth)
    return best


def _best_pulse(x: FloatArray, start: int) -> tuple[float, int]:
    t = np.arange(x.size)
    ends = range(start + 2, min(x.size - 4, start + 40))
    trials = [(_misfit(x, [((t >= start) & (t < end)).astype(float)]), end) for end in ends]
    return min(trials, default=(np.inf, x.size))


def change_point(
    series: FloatArray, alarm: int, back: int = 60, ahead: int = 30
) -> ChangePoint | None:
    """When and how a series moved, from the shifts around an alarm; None if too few were read.

    The step comes from the likelihood; a drift or a pulse is named where it fits clearly better.
    """
    first = max(0, alarm - back)
    index = np.flatnonzero(np.isfinite(series[: alarm + ahead]))
    index = index[index >= first]
    x = series[index]
    if x.size < 12 or np.ptp(x) == 0:
        return None
    step = step_point(x)
    t = np.arange(x.size)
    flat = _misfit(x, [(t >= step.index).astype(float)])
    drift, begin, growth = _best_drift(x)
    pulse, end = _best_pulse(x, step.index)
    need = float(np.exp(-6.0 / x.size))  # odds of e^3 before another shape is believed
    place, shape, size = step.index, Shape.STEP, step.after - step.before
    if pulse < need * min(flat, drift):
        shape = Shape.PULSE
        size = float(np.mean(x[place:end]) - np.mean(np.delete(x, np.s_[place:end])))
    elif drift < need * flat and growth >= 8 and x.size - begin > 12:
        shape, place = Shape.DRIFT, begin
        size = float(np.mean(x[-min(8, x.size - begin) :]) - np.mean(x[:begin]))
    low, high = sorted((step.lower, step.upper))
    return ChangePoint(
        int(index[place]), int(index[min(low, place)]), int(index[max(high, place)]), size, shape
    )
