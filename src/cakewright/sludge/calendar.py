"""Days and weeks: when sludge arises, when it is pressed, and what must wait in between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray, Given
from cakewright.reference import peaking
from cakewright.sludge.stream import Feed, Floats

__all__ = [
    "RunLoad",
    "WeekPattern",
    "mean_over_week",
    "peak_factor",
    "run_load",
    "week_pattern",
]

_STEPS_PER_HOUR = 4


@dataclass(frozen=True, slots=True, eq=False)
class WeekPattern:
    """Activity over one week from Monday midnight in quarter hours; mean of ``relative`` is 1."""

    relative: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class RunLoad:
    """What must be pressed while the machines run, mean and in the design week."""

    dry_solids_flow: FloatArray
    volume_flow: FloatArray
    design_dry_solids_flow: FloatArray
    design_volume_flow: FloatArray
    run_share: FloatArray
    hours_per_day: FloatArray
    days_per_week: FloatArray
    peak_factor: FloatArray


def week_pattern(
    hours_per_day: float,
    days_per_week: float,
    start_hour: float = 8.0,
    daily: Sequence[float] | None = None,
) -> WeekPattern:
    """Working hours on the first days of the week, or with a share for each of seven days.

    ``hours_per_day`` in hours. A broken number of days works the last one for a part of its hours.
    A day longer than the hours left till midnight starts earlier.

    Raises
    ------
    OutOfRangeError
        If hours are not above 0 to 24, days not above 0 to 7, or seven shares are not given.
    """
    if not 0.0 < hours_per_day <= 24.0 or not 0.0 < days_per_week <= 7.0:
        raise OutOfRangeError(
            f"week: got {hours_per_day:g} h/d on {days_per_week:g} days; allowed: above 0 to 24 "
            f"hours and above 0 to 7 days; zero hours can press nothing"
        )
    weights = _day_weights(days_per_week) if daily is None else np.asarray(daily, dtype=float)
    if weights.shape != (7,) or (weights < 0.0).any() or weights.sum() <= 0.0:
        raise OutOfRangeError(
            f"week: got {weights.size} daily shares; allowed: seven, none negative, not all zero"
        )
    edges = np.arange(24 * _STEPS_PER_HOUR + 1) / _STEPS_PER_HOUR
    begin = min(start_hour, 24.0 - hours_per_day)
    week = np.zeros((7, 24 * _STEPS_PER_HOUR))
    for day in range(7):
        # With given shares the day keeps its hours; a part day runs for a part of them.
        length = hours_per_day * (weights[day] if daily is None else float(weights[day] > 0.0))
        overlap = np.minimum(edges[1:], begin + length) - np.maximum(edges[:-1], begin)
        level = 1.0 if daily is None else weights[day]
        week[day] = level * np.clip(overlap, 0.0, None) * _STEPS_PER_HOUR
    flat = week.ravel()
    return WeekPattern(relative=flat / flat.mean())


def _day_weights(days_per_week: float) -> FloatArray:
    return np.clip(days_per_week - np.arange(7.0), 0.0, 1.0)


def mean_over_week(flow_on_producing_day: Floats, days_per_week: Floats) -> Floats:
    """Mean over the whole week of a flow given per producing day (same unit)."""
    days = np.asarray(days_per_week, float)
    if not ((days > 0.0) & (days <= 7.0)).all():
        raise OutOfRangeError("producing days: allowed: above 0 to 7 per week")
    return flow_on_producing_day * days / 7.0


def run_load(
    feed: Feed, hours_per_day: Floats, days_per_week: Floats, peak_factor: Floats = 1.0
) -> RunLoad:
    """Load while running: a week's sludge over the hours run.

    ``hours_per_day`` is a share of the day (8 h is 1/3).

    Raises
    ------
    OutOfRangeError
        If there are no hours, or the peak factor is below 1.
    """
    hours, days = np.asarray(hours_per_day, float), np.asarray(days_per_week, float)
    peak = np.asarray(peak_factor, float)
    share = hours * days / 7.0
    if not ((hours > 0.0) & (hours <= 1.0) & (days > 0.0) & (days <= 7.0)).all():
        raise OutOfRangeError(
            "run load: allowed: above 0 to 24 hours on above 0 to 7 days; no hours press nothing"
        )
    if not (peak >= 1.0).all():
        raise OutOfRangeError("run load: peak factor: allowed: 1 or more; 1 means no peak week")
    dry, volume = feed.mix.dry_solids_flow / share, feed.mix.volume_flow / share
    wide = np.broadcast_arrays(dry, volume, dry * peak, volume * peak, share, hours, days, peak)
    return RunLoad(*wide)


def peak_factor(period: str) -> Given:
    """Ratio of the largest ``month``, ``week`` or ``day`` to the yearly mean, from the tables.

    Raises
    ------
    UnknownNameError
        If the period is not one of these.
    """
    row = peaking(f"peak_{period}")
    return Given(
        name="peak_factor",
        value=row.middle,
        basis=row.kind.basis,
        mark=row.mark,
        source=row.source,
        note="municipal sludge without a record; chemical and flotation sludge follows the shifts",
        low=row.low,
        high=row.high,
        default=True,
    )
