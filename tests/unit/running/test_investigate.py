"""From shifts to dated drifts with causes (seeds here were not used to set up the table)."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from cakewright.errors import DataError, UnknownNameError
from cakewright.running.investigate import Watching, investigate
from cakewright.running.practice_plant import PlantLog, invented_runs, invented_shifts
from cakewright.running.reconcile import BalanceTable, reconcile_shifts

Watched = Callable[[str | None, int], tuple[PlantLog, BalanceTable, Watching]]
START = 220


@pytest.mark.parametrize(
    "fault",
    [
        "polymer_aged",
        "wash_fault",
        "screw_too_fast",
        "under_dose",
        "fibre_surge",
        "sensor_feed_flow_high",
        "sensor_cake_solids_high",
    ],
)
def test_hidden_fault_is_found_dated_and_named(watched: Watched, fault: str) -> None:
    """The first drift after the fault began is near it and names it among the first three."""
    log, _, watching = watched(fault, 7001)
    assert log.fault is not None
    after = [d for d in watching.drifts if d.alarm.shift >= START]
    assert after
    assert after[0].alarm.shift - START <= 12
    assert abs(after[0].began - START) <= 5
    ranked = [one.cause.key for one in after[0].explained.causes[:3]]
    assert fault in ranked


def test_a_quiet_plant_raises_few_alarms(watched: Watched) -> None:
    """Over eight quiet plants believed alarms stay near the number announced."""
    months = believed = 0.0
    announced = 0.0
    for seed in range(7100, 7108):
        log, _, watching = watched(None, seed)
        believed += sum(d.explained.nothing < 0.5 for d in watching.drifts)
        months += (log.table.size - 150) / 91
        announced = watching.false_alarms_per_month
    assert believed / months < 2.5 * announced


def test_residuals_do_not_follow_the_feed(watched: Watched) -> None:
    """A much thicker feed is told as such, not as a press that lost its strength."""
    _, _, watching = watched("feed_thicker", 7002)
    first = next(d for d in watching.drifts if d.alarm.shift >= START)
    assert first.feature in ("feed_solids", "solids_load")


def test_a_press_model_may_stand_in(watched: Watched) -> None:
    """Any object with the interface replaces the baseline law."""
    log, balance, watching = watched(None, 7001)
    baseline = np.arange(log.table.size) < 150
    again = investigate(log.table, balance, baseline, expectation=watching.expectation)
    assert again.expectation is watching.expectation
    assert set(again.watched) == set(watching.watched)


def test_what_is_not_read_is_not_watched_and_said() -> None:
    """Without torque the chart is absent and its absence is told."""
    log = invented_shifts(None, seed=7003, shifts=200)
    mean = {k: v for k, v in log.table.mean.items() if k != "screw_torque"}
    table = type(log.table)(
        log.table.start, log.table.span, log.table.run_time, log.table.seen_time,
        log.table.starts, mean, log.table.coverage,
    )  # fmt: skip
    watching = investigate(table, reconcile_shifts(table), np.arange(200) < 120)
    assert "r_torque" not in watching.watched
    assert any("torque" in words for words in watching.not_watched)


def test_baseline_too_short(watched: Watched) -> None:
    """Ten shifts of baseline are refused."""
    log, balance, _ = watched(None, 7001)
    with pytest.raises(DataError, match="baseline"):
        investigate(log.table, balance, np.arange(log.table.size) < 10)


def test_invented_plant_repeats_itself() -> None:
    """The same seed gives the same log; another gives another; unknown faults are refused."""
    one, two = invented_shifts("ring_wear", seed=1), invented_shifts("ring_wear", seed=1)
    other = invented_shifts("ring_wear", seed=2)
    assert np.array_equal(one.table.mean["feed_flow"], two.table.mean["feed_flow"])
    assert not np.array_equal(one.table.mean["feed_flow"], other.table.mean["feed_flow"])
    with pytest.raises(UnknownNameError, match="rust"):
        invented_shifts("rust")


def test_invented_runs_follow_known_trends() -> None:
    """In the invented press too, slower is drier, and too little polymer loses solids."""
    many = 60
    usual = {"screw_speed": 0.02, "plate_pressure": 6e4, "polymer_dose": 0.0095}
    base = {key: np.full(many, value) for key, value in usual.items()}
    plain = invented_runs(base, seed=1)
    slow = invented_runs({**base, "screw_speed": np.full(many, 0.012)}, seed=1)
    poor = invented_runs({**base, "polymer_dose": np.full(many, 0.005)}, seed=1)
    assert slow["cake_solids"].mean() > plain["cake_solids"].mean()
    assert poor["filtrate_solids"].mean() > 1.3 * plain["filtrate_solids"].mean()
