"""Storage between production and running: volume, content over the week, age."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.line.inputs import RunPattern
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import MINUTE

__all__ = [
    "MINUTES",
    "WeekCourse",
    "production_course",
    "run_course",
    "storage_volume_of_days",
    "week_course",
]

MINUTES = 7 * 24 * 60


def production_course(pattern: tuple[float, ...]) -> FloatArray:
    """Share of the week's sludge that arrives in each minute; sums to 1.

    Raises
    ------
    OutOfRangeError
        If the pattern is nothing but zeros.
    """
    if not pattern:
        return np.full(MINUTES, 1.0 / MINUTES)
    weights = np.repeat(np.asarray(pattern, dtype=float), MINUTES // len(pattern))
    total = float(weights.sum())
    if total <= 0:
        raise OutOfRangeError(
            "production pattern: got only zeros; allowed: at least one hour above zero; "
            "leave it empty for constant production"
        )
    return weights / total


def run_course(run: RunPattern) -> FloatArray:
    """Share of each minute the presses run (1, 0, or a part where an hour ends within)."""
    edges = np.arange(MINUTES + 1, dtype=float)
    running = np.zeros(MINUTES)
    span = run.hours_per_day * 60.0
    for day in range(run.days):
        start = day * 1440.0 + run.start_hour * 60.0
        for shift in (-float(MINUTES), 0.0):  # what runs past Sunday night starts the week
            covered = np.clip(edges - (start + shift), 0.0, span)
            running += np.diff(covered)
    return np.minimum(running, 1.0)


@dataclass(frozen=True, slots=True, eq=False)
class WeekCourse:
    """Content of a tank through a repeating week, per minute edge (10 081 values).

    ``content`` is above the lowest point of the week; ``working_volume`` its highest value.
    """

    content: FloatArray
    working_volume: float
    age_mean: float
    age_worst: float


def _age_worst(cumulated: FloatArray, content: FloatArray, leaving: FloatArray) -> float:
    """Oldest sludge leaving when the tank works first in, first out (a tank that is not mixed)."""
    total = cumulated[-1]
    weeks = int(np.ceil(content.max() / total)) + 1
    times = np.arange(-weeks * MINUTES, MINUTES + 1, dtype=float)
    history = np.concatenate([cumulated[:-1] + k * total for k in range(-weeks, 1)] + [[total]])
    now = np.arange(MINUTES + 1, dtype=float)
    entered = np.interp(cumulated - content, history, times)
    return float(((now - entered)[1:] * (leaving > 0)).max() * MINUTE)


def week_course(inflow: FloatArray, outflow: FloatArray, dead_volume: float = 0.0) -> WeekCourse:
    """Working volume and ages of a tank filled and drawn by the given minute volumes. [m3]

    The two must move the same volume in a week; V = max - min of the cumulated difference.

    Raises
    ------
    OutOfRangeError
        If more comes in than goes out over the week: the tank would never empty.
    """
    arrives, leaves = float(inflow.sum()), float(outflow.sum())
    if arrives > leaves * (1 + 1e-9):
        raise OutOfRangeError(
            f"storage: got {arrives:.4g} m3 in and {leaves:.4g} m3 out per week; allowed: out at "
            "least in; the tank would never empty: lengthen the run hours or raise the run rate"
        )
    cumulated = np.concatenate([[0.0], np.cumsum(inflow)])
    drawn = outflow * (arrives / leaves if leaves else 1.0)
    net = cumulated - np.concatenate([[0.0], np.cumsum(drawn)])
    content = net - net.min()
    held = content + dead_volume
    mean_age = float(held[:-1].mean()) / (arrives / (MINUTES * MINUTE))
    worst = _age_worst(cumulated, content, drawn)
    return WeekCourse(content, float(content.max()), mean_age, worst)


def storage_volume_of_days(volume_flow: float, time: float) -> float:
    """Volume that holds a time of production. [m3]"""
    return volume_flow * time
