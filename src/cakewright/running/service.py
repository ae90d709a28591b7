"""Hours and starts per shaft, signs of wear, and the quietest time to take a shaft out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.quantities import FloatArray
from cakewright.running.shifts import ShiftTable

__all__ = ["QuietTime", "ShaftState", "quiet_times", "shaft_states", "wear_trend"]

DAY = 86400


@dataclass(frozen=True, slots=True)
class ShaftState:
    """One shaft: run time and starts seen, run time left to its service, when that falls due.

    ``due_in`` is calendar time at the recent pace (None: no interval given, or it stands still);
    ``torque_trend`` is the relative change of its torque per 1000 h of its own running at equal
    duty, with standard error (None: not read).
    """

    shaft: int
    run_time: float
    starts: int
    left: float | None
    due_in: float | None
    torque_trend: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class QuietTime:
    """A stretch in which one shaft can be out: start on the local clock, load, whether it fits.

    ``carried`` is the share of the load that the remaining shafts can take.
    """

    start: int
    shifts: int
    load: float
    carried: float


def wear_trend(residual: FloatArray, hours: FloatArray) -> tuple[float, float] | None:
    """Slope of a log residual per 1000 h with its standard error, neighbours counted as alike.

    The residual must already be free of load and settings (a series of the watch).
    """
    good = np.isfinite(residual) & np.isfinite(hours)
    if good.sum() < 20 or np.ptp(hours[good]) <= 0:
        return None
    x, y = hours[good] / 1000.0, residual[good]
    centred = x - x.mean()
    slope = float(centred @ y / (centred @ centred))
    left = y - y.mean() - slope * centred
    total = float(left @ left)
    lag = max(float(left[1:] @ left[:-1]) / total, 0.0) if total > 0 else 0.0
    inflate = (1 + min(lag, 0.9)) / (1 - min(lag, 0.9))
    variance = total / max(y.size - 2, 1) / float(centred @ centred) * inflate
    return slope, float(np.sqrt(variance))


def _torque_trend(
    table: ShiftTable, shaft: int, run: FloatArray, load: FloatArray
) -> tuple[float, float] | None:
    """Torque of one shaft, freed of load, screw speed and back pressure, against its own hours."""
    torque = table.get(f"shaft_{shaft}_torque")
    if not np.isfinite(torque).any():
        torque = table.get("screw_torque")
    duties = [load, table.get("screw_speed"), table.get("plate_pressure")]
    duties = [duty for duty in duties if np.isfinite(duty).any()]
    with np.errstate(invalid="ignore", divide="ignore"):
        columns = [np.log(duty) for duty in duties]
        y = np.log(torque)
    good = np.isfinite(y) & np.all([np.isfinite(c) for c in columns], axis=0)
    if good.sum() < 30:
        return None
    hours = np.cumsum(run) / 3600.0
    design = np.column_stack(
        [np.ones(good.sum()), hours[good] / 1000.0, *(c[good] for c in columns)]
    )
    solution, _, rank, _ = np.linalg.lstsq(design, y[good], rcond=None)
    if rank < design.shape[1]:
        return None
    freed = np.full(y.shape, np.nan)
    freed[good] = y[good] - design[:, 2:] @ solution[2:]
    return wear_trend(freed, hours)


def shaft_states(
    table: ShiftTable,
    load: FloatArray,
    interval: float = 0.0,
    serviced: Mapping[int, float] | None = None,
    recent: int = 42,
) -> tuple[ShaftState, ...]:
    """Every shaft of the log; a log without shaft flags is one shaft that runs with the machine.

    ``interval`` is run time between services (s); ``serviced`` the run time each shaft already
    had since its last service when the log begins.
    """
    times = dict(table.shaft_time) or {1: table.run_time}
    starts = dict(table.shaft_starts) or {1: table.starts}
    before = serviced or {}
    found = []
    for shaft, run in sorted(times.items()):
        total = float(run.sum())
        left = interval - before.get(shaft, 0.0) - total if interval else None
        span = float(table.span[-recent:].sum())
        pace = float(run[-recent:].sum()) / span if span else 0.0
        due = None if left is None or pace <= 0 else max(left, 0.0) / pace
        trend = _torque_trend(table, shaft, run, load)
        found.append(ShaftState(shaft, total, int(starts[shaft].sum()), left, due, trend))
    return tuple(found)


def _weekly_load(table: ShiftTable, load: FloatArray, weeks: int) -> tuple[FloatArray, int]:
    """Usual dry mass per shift of the week, from the last weeks; and shifts per week."""
    per_week = max(round(7 * DAY / float(np.median(table.span))), 1)
    slot = (table.start // int(np.median(table.span))) % per_week
    recent = table.start >= table.start[-1] - weeks * 7 * DAY
    mass = np.nan_to_num(load) * table.run_time
    usual = np.zeros(per_week)
    for k in range(per_week):
        chosen = mass[recent & (slot == k)]
        usual[k] = float(chosen.mean()) if chosen.size else 0.0
    return usual, per_week


def quiet_times(
    table: ShiftTable,
    load: FloatArray,
    shafts: int,
    shaft_capacity: float,
    length: int = 1,
    weeks: int = 8,
    best: int = 3,
) -> Sequence[QuietTime]:
    """Stretches of the coming week with the least load, and whether the other shafts carry it.

    ``length`` is how many shifts in a row the shaft is out.
    """
    usual, per_week = _weekly_load(table, load, weeks)
    span = float(np.median(table.span))
    room = max(shafts - 1, 0) * shaft_capacity * span * length
    found = []
    for k in range(1, per_week + 1):
        start = int(table.start[-1] + k * span)
        slots = (start // int(span) + np.arange(length)) % per_week
        mass = float(usual[slots].sum())
        carried = 1.0 if mass <= 0 else min(room / mass, 1.0)
        found.append(QuietTime(start, length, mass / (span * length), carried))
    return sorted(found, key=lambda q: (-q.carried, q.load, q.start))[:best]
