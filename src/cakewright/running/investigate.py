"""From shifts to drifts: which series left its usual level, since when, and the likely cause."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cakewright.errors import DataError
from cakewright.quantities import FloatArray
from cakewright.running.diagnosis import FEATURES, Explained, Move, diagnose, material
from cakewright.running.expectation import (
    CONDITIONS,
    RESPONSES,
    BaselineLaw,
    Expectation,
    Expected,
    ExpectedResponse,
    fit_baseline,
)
from cakewright.running.reconcile import WATER, BalanceTable
from cakewright.running.shifts import ShiftTable
from cakewright.running.watching import (
    BETWEEN,
    Alarm,
    ChangePoint,
    Chart,
    ChartKind,
    Usual,
    alarms_of,
    change_point,
    expected_false_alarms,
    usual_level,
    watch,
)

__all__ = ["Drift", "Watched", "Watching", "conditions_of", "investigate", "responses_of"]

BoolArray = NDArray[np.bool_]
CONDITION_FEATURES = frozenset(f for f in FEATURES if f[:2] not in ("r_", "g_"))
AFTER = 9  # shifts after an alarm that the first diagnosis waits for


@dataclass(frozen=True, slots=True, eq=False)
class Watched:
    """One series on its charts; natural log about its usual level, balance gaps as shares."""

    feature: str
    label: str
    series: FloatArray
    usual: Usual
    charts: tuple[Chart, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Drift:
    """One departure: the series that alarmed first, when it began, what moved, likely causes."""

    feature: str
    alarm: Alarm
    change: ChangePoint | None
    moves: Mapping[str, Move]
    explained: Explained
    also: tuple[str, ...]

    @property
    def began(self) -> int:
        """Shift from which it holds."""
        return self.change.shift if self.change else self.alarm.shift


@dataclass(frozen=True, slots=True, eq=False)
class Watching:
    """The whole watch: expectation, series on their charts, drifts, false alarms to expect."""

    expectation: Expectation
    expected: Mapping[str, Expected]
    watched: Mapping[str, Watched]
    drifts: tuple[Drift, ...]
    false_alarms_per_month: float
    not_watched: tuple[str, ...]


def _prefer(read: FloatArray, best: FloatArray) -> FloatArray:
    """The raw reading; the reconciled value only where none was read."""
    return np.where(np.isfinite(read), read, best)


def conditions_of(table: ShiftTable, balance: BalanceTable) -> Mapping[str, FloatArray]:
    """Feed and settings per shift, from the raw readings (a drifting instrument must show)."""
    feed = _prefer(table.get("feed_flow"), balance.column("feed_flow"))
    solids = _prefer(table.get("feed_solids"), balance.column("feed_solids"))
    load = feed * WATER * solids
    strength = _prefer(table.get("polymer_strength"), balance.column("polymer_strength"))
    polymer = _prefer(table.get("polymer_flow"), balance.column("polymer_flow")) * WATER * strength
    with np.errstate(invalid="ignore", divide="ignore"):
        dose = np.where(load > 0, polymer / load, np.nan)
    keys = ("screw_speed", "plate_pressure", "feed_temperature", "mixer_speed", "wash_flow")
    return {
        "feed_solids": solids, "solids_load": load, "dose": dose,
        "polymer_strength": table.get("polymer_strength"),
        **{key: table.get(key) for key in keys},
    }  # fmt: skip


def _solution_per_solids(
    table: ShiftTable, balance: BalanceTable, conditions: Mapping[str, FloatArray]
) -> FloatArray:
    """Polymer solution per solids: moves with the pump, not with the strength of the solution."""
    flow = _prefer(table.get("polymer_flow"), balance.column("polymer_flow"))
    load = conditions["solids_load"]
    return np.asarray(np.divide(flow, load, out=np.full(flow.shape, np.nan), where=load > 0))


def responses_of(table: ShiftTable, balance: BalanceTable) -> Mapping[str, FloatArray]:
    """Cake solids, loss, torque and level per shift, from the raw readings where there are any."""
    feed = _prefer(table.get("feed_flow"), balance.column("feed_flow"))
    solids = _prefer(table.get("feed_solids"), balance.column("feed_solids"))
    filtrate = _prefer(table.get("filtrate_flow"), balance.column("filtrate_flow"))
    with np.errstate(invalid="ignore", divide="ignore"):
        loss = filtrate * table.get("filtrate_solids") / (feed * WATER * solids)
    return {
        "cake_solids": table.get("cake_solids"),
        "loss": np.where(np.isfinite(loss), loss, np.nan),
        "torque": table.get("screw_torque"),
        "floc_level": table.get("floc_level"),
    }


def _logs(value: FloatArray, key: str) -> FloatArray:
    if key == "feed_temperature":
        return value / 40.0  # 10 K matter as much as a quarter
    with np.errstate(invalid="ignore", divide="ignore"):
        line = np.log(value)
    return np.where(np.isfinite(line), line, np.nan)


def _series(
    conditions: Mapping[str, FloatArray],
    responses: Mapping[str, FloatArray],
    expected: Mapping[str, Expected],
    balance: BalanceTable,
) -> dict[str, FloatArray]:
    series = {key: _logs(value, key) for key, value in conditions.items() if key in FEATURES}
    for name in RESPONSES:
        if name in expected:
            series[f"r_{name}"] = _logs(responses[name], name) - expected[name].log_mean
    series["g_solids"], series["g_water"] = balance.gap_solids, balance.gap_water
    return series


def _fresh_residuals(
    conditions: Mapping[str, FloatArray],
    responses: Mapping[str, FloatArray],
    baseline: BoolArray,
    slopes: ExpectedResponse | None,
    parts: int = 5,
) -> Mapping[str, FloatArray]:
    """Baseline residuals from laws that did not see the part they are judged on.

    Residuals of the fit itself are too small, and charts set by them alarm too often.
    """
    found = {name: np.full(baseline.shape, np.nan) for name in RESPONSES}
    for part in np.array_split(np.flatnonzero(baseline), parts):
        rest = baseline.copy()
        rest[part] = False
        try:
            law = fit_baseline(conditions, responses, rest, slopes)
        except DataError:
            return {}
        expected = law.expected({key: value[part] for key, value in conditions.items()})
        for name, one in expected.items():
            found[name][part] = _logs(responses[name][part], name) - one.log_mean
    return found


def _watched(
    series: Mapping[str, FloatArray], baseline: BoolArray, fresh: Mapping[str, FloatArray]
) -> dict[str, Watched]:
    found = {}
    for feature, line in series.items():
        least = 0.15 * material()[feature]
        judged = fresh.get(feature.removeprefix("r_"), line) if feature[:2] == "r_" else line
        try:
            usual = usual_level(judged, baseline, least)
        except DataError:
            continue
        setting = feature in CONDITION_FEATURES
        kinds = (ChartKind.EWMA,) if setting else tuple(ChartKind)
        worth = material()[feature] if setting else 0.0
        charts = watch(line, usual, BETWEEN, kinds, worth)
        found[feature] = Watched(feature, FEATURES[feature], line, usual, charts)
    return found


def _mean_error(x: FloatArray, usual: Usual) -> float:
    grow = (1 + usual.memory) / (1 - usual.memory)
    return usual.scatter * float(np.sqrt(grow / max(x.size, 1)))


def _moves(watched: Mapping[str, Watched], before: BoolArray, after: BoolArray) -> dict[str, Move]:
    """Move of every feature from before to after, in units of what matters."""
    found = {}
    for feature, one in watched.items():
        old = one.series[before & np.isfinite(one.series)]
        new = one.series[after & np.isfinite(one.series)]
        if old.size < 5 or new.size < 2:
            continue
        unit = material()[feature]
        error = np.hypot(_mean_error(old, one.usual), _mean_error(new, one.usual))
        found[feature] = Move(float(new.mean() - old.mean()) / unit, float(error) / unit)
    return found


def _windows(size: int, began: int, alarm: int, baseline: BoolArray) -> tuple[BoolArray, BoolArray]:
    """Shifts before a departure, and those of it that speak (the last of a slow drift)."""
    index = np.arange(size)
    end = min(alarm + AFTER, size - 1)
    after = (index >= max(began, end - 20)) & (index <= end)
    recent = (index < began) & (index >= began - 90)
    return (recent if recent.sum() >= 20 else baseline & (index < began)), np.asarray(after)


def _leading(moves: Mapping[str, Move], first: str) -> str:
    """The feature that moved most clearly: the first to alarm may have done so by chance."""
    clear = {f: abs(m.size) / max(2 * m.error, 0.7) for f, m in moves.items()}
    best = max(clear, key=lambda f: clear[f], default=first)
    return best if clear.get(best, 0.0) > 1.5 * clear.get(first, 0.0) else first


def _drift(
    watched: Mapping[str, Watched], feature: str, alarm: Alarm, baseline: BoolArray
) -> Drift:
    """One departure; dated twice if another feature turns out to lead it."""
    change, moves, lead = None, {}, feature
    for _ in range(2):
        series = watched[lead].series
        change = change_point(series, alarm.shift, ahead=AFTER + 1)
        began = min(change.shift, alarm.shift) if change else alarm.shift
        moves = _moves(watched, *_windows(series.size, began, alarm.shift, baseline))
        again = _leading(moves, lead)
        if again == lead:
            break
        lead = again
    explained = diagnose(moves, change.shape if change else None)
    also = tuple(
        f for f, move in moves.items() if f != lead and abs(move.size) > max(0.7, 2 * move.error)
    )
    return Drift(lead, alarm, change, moves, explained, also)


def _events(watched: Mapping[str, Watched], start: int) -> list[tuple[str, Alarm]]:
    """First alarm of each departure: alarms within a few shifts of one another are one."""
    alarms = [(f, a) for f, one in watched.items() for a in alarms_of(one.charts, start)]
    found: list[tuple[str, Alarm]] = []
    for feature, alarm in sorted(alarms, key=lambda pair: pair[1].shift):
        if not found or alarm.shift - found[-1][1].shift > AFTER:
            found.append((feature, alarm))
    return found


def investigate(
    table: ShiftTable,
    balance: BalanceTable,
    baseline: BoolArray,
    *,
    expectation: Expectation | None = None,
    slopes: ExpectedResponse | None = None,
    start: int | None = None,
    most: int = 5,
) -> Watching:
    """Watch every shift after the baseline; date and explain what left its usual level.

    ``expectation`` is a press model's; without one a baseline law is fitted to the shifts of
    ``baseline``. ``slopes`` replaces the documented table behind that law.

    Raises
    ------
    DataError
        If the baseline is too short to say what is usual.
    """
    conditions, responses = conditions_of(table, balance), responses_of(table, balance)
    law: Expectation | BaselineLaw = expectation or fit_baseline(
        conditions, responses, baseline, slopes
    )
    expected = law.expected(conditions)
    fresh = {} if expectation else _fresh_residuals(conditions, responses, baseline, slopes)
    series = _series(conditions, responses, expected, balance)
    series["dose"] = _logs(_solution_per_solids(table, balance, conditions), "dose")
    watched = _watched(series, baseline, fresh)
    first = int(np.flatnonzero(baseline)[-1]) + 1 if start is None else start
    events = _events(watched, first)[-most:]
    drifts = [_drift(watched, feature, alarm, baseline) for feature, alarm in events]
    charts = sum(len(one.charts) for one in watched.values())
    day = 86400.0 / float(np.median(table.span)) if table.size else 3.0
    used = {*CONDITIONS, "mixer_speed", "wash_flow", "polymer_strength"}
    missing = tuple(
        FEATURES[f]
        for f in FEATURES
        if f not in watched and f.removeprefix("r_") in used | set(RESPONSES)
    )
    return Watching(
        law, expected, watched, tuple(drifts),
        expected_false_alarms(charts, BETWEEN, 30.4 * day), missing,
    )  # fmt: skip
