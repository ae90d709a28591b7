"""Minutes into shifts."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.running.cleaning import Block
from cakewright.running.shifts import ShiftPlan, join_shifts, shift_means, with_records

START = 1_709_532_000  # 2024-03-04 06:00 UTC
PLAN = ShiftPlan("UTC", 6, 8)


def _block(minutes: int, start: int = START) -> Block:
    time = start + 60 * np.arange(minutes, dtype=np.int64)
    on = (np.arange(minutes) % 480 < 360).astype(float)
    values = {
        "machine_on": on,
        "feed_flow": np.where(on > 0, 0.002 + 1e-6 * (np.arange(minutes) % 3), 0.0),
        "cake_solids": np.where(np.arange(minutes) % 2 == 0, 0.19, np.nan),
        "shaft_1_on": on,
    }
    return Block(np.arange(minutes), time, values)


def test_means_are_over_running_rows_only() -> None:
    """Zero flow at standstill does not dilute the mean; coverage counts running rows."""
    table = shift_means(_block(960), PLAN)
    assert table.size == 2
    assert table.run_time.tolist() == [360 * 60, 360 * 60]
    assert table.mean["feed_flow"] == pytest.approx(0.002001, rel=1e-3)
    assert table.coverage["cake_solids"] == pytest.approx(0.5)
    assert table.shaft_time[1].tolist() == [21600, 21600]


def test_starts_are_rises_within_the_log() -> None:
    """A machine that comes on once within a shift has one start."""
    table = shift_means(_block(960), PLAN)
    assert table.starts.tolist() == [0, 1]


def test_cut_shift_is_made_whole() -> None:
    """A shift over a month's end, loaded in two parts, gives the record of the whole."""
    block = _block(480)
    whole = shift_means(block, PLAN)
    first, second = block.take(np.arange(100)), block.take(np.arange(100, 480))
    joined = join_shifts([shift_means(first, PLAN), shift_means(second, PLAN)])
    assert joined.size == 1
    assert joined.run_time == pytest.approx(whole.run_time)
    assert joined.mean["feed_flow"] == pytest.approx(whole.mean["feed_flow"])
    assert joined.mean["cake_solids"] == pytest.approx(whole.mean["cake_solids"])
    assert joined.coverage["cake_solids"] == pytest.approx(whole.coverage["cake_solids"])


def test_shifts_follow_the_local_clock() -> None:
    """In Vienna the early shift begins at 5 UTC in winter and at 4 UTC in summer."""
    plan = ShiftPlan("Europe/Vienna", 6, 8)
    for day, hour in (("2024-01-15", 5), ("2024-07-15", 4)):
        moment = int(np.datetime64(f"{day}T{hour:02}:00", "s").astype(np.int64))
        start = plan.start_of(np.array([moment - 1, moment]))
        assert start[1] - start[0] == 8 * 3600


def test_records_win_over_minutes() -> None:
    """A laboratory value replaces the minute mean of its shift and covers it."""
    table = shift_means(_block(960), PLAN)
    records = Block(np.array([0]), np.array([START + 7200]), {"cake_solids": np.array([0.21])})
    joined = with_records(table, records, PLAN, daily=False)
    assert joined.mean["cake_solids"] == pytest.approx([0.21, 0.19])
    assert joined.coverage["cake_solids"] == pytest.approx([1.0, 0.5])
