"""Hours, starts, wear and the quietest time."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.quantities import FloatArray
from cakewright.running.service import quiet_times, shaft_states, wear_trend
from cakewright.running.shifts import ShiftTable


def _table(shifts: int, torque: FloatArray | None = None) -> ShiftTable:
    run = np.full(shifts, 6 * 3600.0)
    span = np.full(shifts, 8 * 3600.0)
    mean = {} if torque is None else {"screw_torque": torque}
    start = 19_724 * 86400 + np.arange(shifts, dtype=np.int64) * 8 * 3600
    return ShiftTable(
        start, span, run, span, np.ones(shifts), mean, {},
        {1: run, 2: run / 2}, {1: np.ones(shifts), 2: np.zeros(shifts)},
    )  # fmt: skip


def test_hours_starts_and_due_date() -> None:
    """Run time adds to what was there, and the due date follows the recent pace."""
    table = _table(100)
    first, second = shaft_states(table, np.ones(100), 1000 * 3600.0, {1: 100 * 3600.0})
    assert first.run_time == pytest.approx(600 * 3600)
    assert first.left == pytest.approx(300 * 3600)
    assert first.due_in == pytest.approx(300 * 3600 / 0.75)
    assert (first.starts, second.starts) == (100, 0)
    assert second.run_time == pytest.approx(300 * 3600)


def test_no_interval_no_due_date() -> None:
    """Without an agreed interval nothing is made up."""
    state = shaft_states(_table(10), np.ones(10))[0]
    assert state.left is None
    assert state.due_in is None


def test_wear_shows_as_falling_torque_at_equal_duty() -> None:
    """A torque that falls 10 % per 1000 h is found although the load wanders."""
    rng = np.random.default_rng(1)
    load = np.exp(0.2 * rng.standard_normal(400))
    hours = np.cumsum(np.full(400, 6.0))
    torque = 0.5 * load**0.4 * np.exp(-0.1 * hours / 1000 + 0.02 * rng.standard_normal(400))
    trend = shaft_states(_table(400, torque), load)[0].torque_trend
    assert trend is not None
    assert trend[0] == pytest.approx(-0.1, abs=3 * trend[1])
    assert trend[1] < 0.01


def test_wear_error_counts_memory() -> None:
    """A residual that resembles itself leaves the trend less certain."""
    rng = np.random.default_rng(2)
    hours: FloatArray = np.asarray(np.arange(300) * 6.0, dtype=np.float64)
    fresh: FloatArray = np.asarray(0.02 * rng.standard_normal(300), dtype=np.float64)
    smooth = np.convolve(fresh, np.ones(8), mode="same")
    slow: FloatArray = np.asarray(smooth * (fresh.std() / smooth.std()), dtype=np.float64)
    independent, alike = wear_trend(fresh, hours), wear_trend(slow, hours)
    assert independent is not None
    assert alike is not None
    assert alike[1] > 1.5 * independent[1]


def test_quietest_time_is_the_weekend_shift() -> None:
    """With a light shift once a week, that is when a shaft can go out; the rest must carry."""
    table = _table(210)
    load = np.where(np.arange(210) % 21 == 20, 0.01, 0.05)
    best = quiet_times(table, load, 2, 0.02)[0]
    slot = (best.start - table.start[0]) // (8 * 3600) % 21
    assert slot == 20
    assert best.carried == 1.0
    assert quiet_times(table, load, 1, 0.02)[0].carried == 0.0
