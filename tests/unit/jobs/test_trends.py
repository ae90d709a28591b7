"""Trends of the runs that a fitted machine does not follow."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from cakewright.jobs.trends import trend_gap, trends_missed
from cakewright.jobs.trial import Trial

SPEEDS = np.array([1.0, 2.0, 3.0, 4.0, 5.0, 6.0])


def _trial(cake: np.ndarray) -> Trial:
    runs = tuple(
        SimpleNamespace(
            speed=s, back_pressure=None, dry_solids_flow=0.01, feed_solids=0.02, dose=0.008
        )
        for s in SPEEDS
    )
    found = SimpleNamespace(
        runs=runs,
        observed=tuple((i, "cake_solids") for i in range(len(SPEEDS))),
        data=np.log(cake),
        reading_noise=np.full(len(SPEEDS), 0.02),
    )
    return cast(Trial, found)


def test_a_flattened_trend_is_named_and_a_followed_one_is_not() -> None:
    """Runs from 16.6 to 14.3 % against a machine that stays at 15.4 %; then a machine along."""
    cake = 0.166 * (0.143 / 0.166) ** (np.log(SPEEDS) / np.log(SPEEDS[-1]))
    flat = np.full((3, len(SPEEDS)), np.log(0.154))
    (told,) = trends_missed(_trial(cake), flat)
    assert "cake solids over speed" in told
    assert "16.6 to 14.3 %" in told
    assert "15.4 to 15.4 %" in told
    assert trends_missed(_trial(cake), np.log(cake)[None, :]) == ()


def test_scatter_beyond_the_readings_is_no_trend() -> None:
    """A slope in readings that scatter five times their noise counts a fifth."""
    x = np.linspace(-1.0, 1.0, 8)
    wild = 5.0 * np.array([1.0, -1.0, -1.0, 1.0, 1.0, -1.0, -1.0, 1.0])
    calm, tossed = (trend_gap(x, 3.0 * x + add, np.ones(8)) for add in (np.zeros(8), wild))
    assert calm == pytest.approx(3.0 * np.sqrt(np.sum(x**2)))
    assert abs(tossed) < calm / 4
