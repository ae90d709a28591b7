"""Storage: working volume, ages, shifts over midnight."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.line.lines_for_tests import small_line

from cakewright.errors import OutOfRangeError
from cakewright.line import design
from cakewright.line.inputs import RunPattern
from cakewright.line.storage import MINUTES, production_course, run_course, week_course


def _course(run: RunPattern, volume: float = 168.0) -> float:
    running = run_course(run)
    return week_course(
        production_course(()) * volume, running / running.sum() * volume
    ).working_volume


def test_running_as_it_comes_needs_no_storage() -> None:
    """Production and running alike leave the tank empty."""
    assert _course(RunPattern(24.0, 7, 0.0)) == pytest.approx(0.0, abs=1e-9)


def test_weekend_gap_sets_the_volume() -> None:
    """Constant production of q against five days: volume is the weekend gap times q."""
    for hours in (6.0, 8.0, 12.0):
        gap = (24.0 - hours) + 48.0
        assert _course(RunPattern(hours, 5, 8.0)) == pytest.approx(gap, rel=1e-9)


def test_shift_over_midnight_runs_all_its_hours() -> None:
    """A shift from 22:00 for 8 h on Sunday ends on Monday morning."""
    running = run_course(RunPattern(8.0, 7, 22.0))
    assert running.sum() == pytest.approx(7 * 480)
    assert running[:360].all()
    assert not running[360 : 22 * 60].any()


def test_parts_of_minutes_count() -> None:
    """7.51 h on one day are 450.6 minutes."""
    assert run_course(RunPattern(7.51, 1, 8.0)).sum() == pytest.approx(450.6)


def test_pattern_with_a_weekend_peak() -> None:
    """All of the week's sludge on Sunday night needs all of it stored."""
    pattern = np.zeros(168)
    pattern[-1] = 1.0
    running = run_course(RunPattern(8.0, 5, 8.0))
    inflow = production_course(tuple(pattern)) * 100.0
    found = week_course(inflow, running / running.sum() * 100.0)
    assert found.working_volume == pytest.approx(100.0)


def test_age_of_plug_flow_and_of_mixed_tank() -> None:
    """A steady content of V at flow q is V/q old, mixed or not."""
    steady = np.full(MINUTES, 1.0)
    found = week_course(steady, steady, dead_volume=1440.0)
    assert found.age_mean == pytest.approx(86400.0)
    gap = week_course(steady, run_course(RunPattern(24.0, 5, 0.0)) * 7 / 5)
    # two days stand still over the weekend; sludge of Saturday 0:00 leaves in turn after them
    assert gap.age_worst == pytest.approx(2 * 86400.0, rel=1e-3)


def test_tank_that_never_empties_is_refused() -> None:
    """More in than out over the week is refused with both volumes."""
    with pytest.raises(OutOfRangeError, match=r"got 200 m3 in and 100 m3 out .* never empty"):
        week_course(np.full(MINUTES, 200 / MINUTES), np.full(MINUTES, 100 / MINUTES))


def test_pattern_of_zeros_is_refused() -> None:
    """A pattern without production is refused."""
    with pytest.raises(OutOfRangeError, match="only zeros"):
        production_course((0.0,) * 168)


def test_a_line_that_always_runs_still_has_a_tank() -> None:
    """Production and running all week: no swing, but an hour of feed to start and stop on."""
    always = small_line(run=RunPattern(24.0, 7, 0.0), feed_tank_volume=None)
    found = design(always)
    assert found.feed_tank.working_volume == pytest.approx(0.0, abs=1e-6)
    assert found.feed_tank.volume >= 3600.0 * found.feed_pump.flow_high / 1.2
    assert all(p.length > 0 for p in found.footprints)
