"""Week patterns, run load, storage, peaks."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError, UnknownNameError
from cakewright.quantities import Mark
from cakewright.sludge import (
    Composition,
    Sludge,
    blend,
    mean_over_week,
    peak_factor,
    run_load,
    week_pattern,
)

FEED = blend([Sludge.of("one", "was", 0.01, Composition(0.01, 0.2))])


def test_pattern_has_mean_one_and_the_hours_asked_for() -> None:
    """Eight hours on five days are 40 of 168 hours."""
    pattern = week_pattern(8, 5)
    assert pattern.relative.mean() == pytest.approx(1.0)
    assert (pattern.relative > 0).mean() == pytest.approx(40 / 168)


def test_part_of_an_hour_and_of_a_day_count() -> None:
    """Broken hours and days keep their length in the mean."""
    pattern = week_pattern(7.6, 4.5)
    level = pattern.relative.max()
    assert 1.0 / level == pytest.approx(7.6 * 4.5 / 168, rel=1e-9)


def test_daily_shares_shape_the_week() -> None:
    """A day with twice the share carries twice the sludge; a zero day none."""
    pattern = week_pattern(16, 7, daily=[1, 1, 2, 1, 1, 0, 0])
    days = pattern.relative.reshape(7, -1).sum(axis=1)
    assert days[2] == pytest.approx(2 * days[0])
    assert days[5] == 0.0


def test_run_load_by_hand() -> None:
    """A week's solids over 40 hours, and the design week above it."""
    load = run_load(FEED, 8 / 24, 5, 1.25)
    assert load.dry_solids_flow == pytest.approx(0.01 * 168 / 40)
    assert load.design_dry_solids_flow == pytest.approx(0.01 * 168 / 40 * 1.25)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: run_load(FEED, 0.0, 5), "no hours"),
        (lambda: run_load(FEED, 0.3, 0.0), "no hours"),
        (lambda: run_load(FEED, 0.3, 5, 0.8), "1 or more"),
        (lambda: week_pattern(0, 5), "zero hours"),
        (lambda: week_pattern(8, 8), "7 days"),
        (lambda: week_pattern(8, 7, daily=[1, 1]), "seven"),
        (lambda: mean_over_week(1.0, 9.0), "producing days"),
    ],
)
def test_impossible_weeks_are_refused(call: object, words: str) -> None:
    """Zero hours, an eighth day or a peak below one are refused in words."""
    assert callable(call)
    with pytest.raises(OutOfRangeError, match=words):
        call()


def test_mean_over_week_spreads_producing_days() -> None:
    """Seven a day on five days is five a day over the week."""
    assert mean_over_week(7.0, 5.0) == pytest.approx(5.0)
    assert mean_over_week(np.array([7.0, 14.0]), 5.0) == pytest.approx([5.0, 10.0])


def test_peak_factors_are_marked_from_memory() -> None:
    """Shorter periods peak higher, and the mark says nothing was read."""
    month, week, day = (peak_factor(period) for period in ("month", "week", "day"))
    assert month.value < week.value < day.value
    assert week.mark is Mark.FROM_MEMORY
    with pytest.raises(UnknownNameError, match="peak"):
        peak_factor("century")
