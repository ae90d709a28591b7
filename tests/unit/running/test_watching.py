"""Charts with limits that are honest about memory."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lfilter

from cakewright.errors import DataError
from cakewright.quantities import FloatArray
from cakewright.running.watching import (
    ChartKind,
    Shape,
    Usual,
    alarms_of,
    change_point,
    chart_limit,
    expected_false_alarms,
    usual_level,
    watch,
)


def _series(count: int, memory: float = 0.0, seed: int = 0) -> FloatArray:
    noise = np.random.default_rng(seed).standard_normal(count)
    noise[1:] *= np.sqrt(1 - memory**2)
    return np.asarray(lfilter([1.0], [1.0, -memory], noise))


def _first(count: int, marked: int) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    return np.arange(count) < marked


def test_usual_level_of_a_known_series() -> None:
    """Level, scatter and memory of a long made-up series come back."""
    usual = usual_level(5 + 2 * _series(4000, 0.5), _first(4000, 4000))
    assert usual.level == pytest.approx(5, abs=0.2)
    assert usual.scatter == pytest.approx(2, rel=0.05)
    assert usual.memory == pytest.approx(0.5, abs=0.05)


def test_usual_level_ignores_a_wild_reading() -> None:
    """One absurd reading in the baseline does not widen the limits."""
    series = _series(100)
    wild = series.copy()
    wild[10] = 500.0
    assert (
        usual_level(wild, _first(100, 100)).scatter
        < 1.1 * usual_level(series, _first(100, 100)).scatter
    )


def test_short_baseline_is_refused() -> None:
    """Nineteen shifts are too few to say what is usual."""
    with pytest.raises(DataError, match="12 shifts"):
        usual_level(_series(50), _first(50, 12))


@pytest.mark.parametrize("kind", list(ChartKind))
@pytest.mark.parametrize("memory", [0.0, 0.5])
def test_false_alarms_are_as_rare_as_promised(kind: ChartKind, memory: float) -> None:
    """On fresh series, judged by a known level, alarms come no more often than asked for."""
    limit = chart_limit(kind, memory, 400, between=300)
    count, total = 0, 0
    usual = Usual(0.0, 1.0, memory, 400)
    for seed in range(40):
        series = _series(600, memory, 1000 + seed)
        chart = watch(series, usual, 300, (kind,))[0]
        hits = np.flatnonzero(np.abs(chart.statistic) > limit)
        count += int(hits.size > 0)
        total += int(hits[0]) + 1 if hits.size else 600
    assert 200 < total / max(count, 1) < 700


def test_memory_widens_the_limits() -> None:
    """A series that resembles itself needs wider limits on charts that add up."""
    for kind in (ChartKind.EWMA, ChartKind.CUSUM):
        assert chart_limit(kind, 0.6, 140) > 1.3 * chart_limit(kind, 0.0, 140)


def test_short_baseline_widens_the_limits() -> None:
    """Less is known from thirty shifts than from four hundred."""
    assert chart_limit(ChartKind.EWMA, 0.0, 30) > chart_limit(ChartKind.EWMA, 0.0, 400)


def test_expected_false_alarms() -> None:
    """Twenty charts, one false alarm in a thousand shifts each, ninety shifts a month."""
    assert expected_false_alarms(20, 1000, 90) == pytest.approx(1.8)


def test_a_step_is_seen_and_dated() -> None:
    """A step of two standard deviations is seen within a week and dated to within two shifts."""
    series = _series(300, 0.3, 4)
    series[200:] += 2.0
    charts = watch(series, usual_level(series, _first(300, 150)))
    alarm = alarms_of(charts, 150)[0]
    point = change_point(series, alarm.shift)
    assert 200 <= alarm.shift <= 215
    assert alarm.direction == 1
    assert point is not None
    assert abs(point.shift - 200) <= 2
    assert point.earliest <= 200 <= point.latest
    assert point.shape is Shape.STEP
    assert point.size == pytest.approx(2, abs=0.7)


def test_a_drift_and_a_pulse_are_named() -> None:
    """A slow climb is a drift; a bump that goes away is a pulse."""
    drift = _series(160, 0.0, 5)
    drift[80:] += 0.08 * np.arange(80)
    pulse = _series(160, 0.0, 6)
    pulse[100:112] += 5.0
    got = change_point(drift, 130, back=90), change_point(pulse, 105)
    assert [g.shape if g else None for g in got] == [Shape.DRIFT, Shape.PULSE]


def test_missing_readings_do_not_alarm() -> None:
    """A stretch without readings leaves sums as they were."""
    series = _series(200)
    series[100:150] = np.nan
    charts = watch(series, Usual(0.0, 1.0, 0.0, 150))
    assert not any(chart.beyond[100:150].any() for chart in charts)


def test_alarms_close_together_are_one() -> None:
    """A chart in and out of its limit within a few shifts is one alarm."""
    series = np.zeros(100)
    series[[20, 24, 28, 60]] = 9.0
    chart = watch(series, Usual(0.0, 1.0, 0.0, 150), kinds=(ChartKind.INDIVIDUALS,))
    assert [alarm.shift for alarm in alarms_of(chart)] == [20, 60]
