"""The simulated week against what is known without it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.line.lines_for_tests import small_line

from cakewright.errors import OutOfRangeError
from cakewright.line import (
    Outlet,
    RunPattern,
    Scenario,
    Severity,
    design,
    simulate_weeks,
    storage_at_risk,
    week_plan,
)
from cakewright.line.week_checks import judged_by_weeks, week_findings
from cakewright.line.week_plan import ShaftGroup, WeekPlan

CALM = Scenario("calm", breakdowns=False, spread=False)
PLAN = week_plan(design(small_line()))


def _plain(**changes: object) -> WeekPlan:
    """A plan without levels, polymer or skips in the way."""
    given = {"start_level": 0.0, "batch_volume": 0.0, "skip_load": 1e12, **changes}
    return replace(PLAN, **given)  # type: ignore[arg-type]


def test_calm_week_repeats_the_design() -> None:
    """Without chance the peak is the working volume, the hours are volume over pump flow."""
    tank = design(small_line()).feed_tank
    found = simulate_weeks(_plain(pump_flow=PLAN.pump_flow / 1.15), CALM, weeks=1, warm_up=0)
    assert found.peak_content[0] == pytest.approx(tank.working_volume, abs=0.3)
    # what is less than a minute of the pump stays in the tank
    assert found.run_time[0] == pytest.approx(336 / (PLAN.pump_flow / 1.15), rel=2e-3)
    assert found.overflow_risk == 0.0
    assert found.wait_polymer[0] == 0.0


def test_volumes_close_in_every_week() -> None:
    """Start plus in less pressed less spilled is the end, in every random week."""
    found = simulate_weeks(replace(PLAN, tank_volume=80.0), weeks=60, warm_up=0)
    gap = found.start_content + found.arrived - found.pressed - found.spilled - found.end_content
    assert np.abs(gap).max() < 1e-8
    assert found.spilled.max() > 0
    assert found.peak_content.max() <= 80.0 + 1e-9
    assert found.closure < 1e-10


def test_cake_polymer_and_solution_follow_the_solids() -> None:
    """What was pressed carries its cake and its dose."""
    found = simulate_weeks(PLAN, weeks=20, warm_up=0)
    assert found.active_polymer == pytest.approx(found.pressed_solids * PLAN.dose)
    assert found.solution == pytest.approx(found.active_polymer * PLAN.solution_per_active)
    assert found.cake == pytest.approx(found.pressed_solids * PLAN.cake_per_solids)
    # batches cover the solution used, but for what the tank held at the start
    assert np.all(found.batches * PLAN.batch_volume >= found.solution - 2 * PLAN.batch_volume)


def test_wash_water_is_its_mean_over_the_run() -> None:
    """Bursts add up to the mean rate times the hours run, within one burst a shaft."""
    found = simulate_weeks(PLAN, CALM, weeks=1, warm_up=0)
    burst = PLAN.groups[0].wash_per_burst * 3
    assert found.wash_water[0] == pytest.approx(PLAN.wash_mean * found.run_time[0], abs=2 * burst)


def test_no_storage_meets_the_throughput_identity() -> None:
    """Running round the clock without storage the share met is E[min(capacity, demand)]/demand."""
    need, up, down = 30 / 3600, 40 * 3600.0, 10 * 3600.0
    volume = need / (PLAN.total_solids * PLAN.density) * 604800
    plan = _plain(
        running=np.ones(10080),
        inflow=np.full(10080, 1 / 10080),
        volume_per_week=volume,
        start_content=0.0,
        tank_volume=volume / 10080 * 2,
        pump_flow=volume / 604800 * 1.0001,
        groups=(ShaftGroup(1, 3, need / 2, 1.0, 0.0, 600.0),),
        shaft_times=(up, down),
        machine_times=(1e15, 1.0),
        item_times=(1e15, 1.0),
    )
    found = simulate_weeks(plan, Scenario("busy", spread=False), weeks=250, seed=3, warm_up=0)
    met = found.pressed_solids / found.arrived_solids
    # shafts age only while the line runs, which the identity does not know: it is the lower bound
    share = up / (up + down)  # two of three shafts carry the need
    expected = share**3 + 3 * share**2 * (1 - share) + 1.5 * share * (1 - share) ** 2
    error = float(met.std()) / np.sqrt(met.size)
    assert float(met.mean()) == pytest.approx(expected, abs=max(4 * error, 0.004))


def test_stops_come_and_go_within_a_week() -> None:
    """One shaft, no storage: the share met scatters as the mean of a two-state process does."""
    need, up, down, week = 30 / 3600, 40.0, 10.0, 168.0
    volume = need / (PLAN.total_solids * PLAN.density) * 604800
    plan = _plain(
        running=np.ones(10080),
        inflow=np.full(10080, 1 / 10080),
        volume_per_week=volume,
        start_content=0.0,
        tank_volume=volume / 10080 * 2,
        pump_flow=volume / 604800 * 1.0001,
        groups=(ShaftGroup(1, 1, 2 * need, 1.0, 0.0, 600.0),),
        shaft_times=(up * 3600, down * 3600),
        machine_times=(1e15, 1.0),
        item_times=(1e15, 1.0),
    )
    found = simulate_weeks(plan, Scenario("one", spread=False), weeks=400, seed=9, warm_up=0)
    met = found.pressed_solids / found.arrived_solids
    a, tau = up / (up + down), 1 / (1 / up + 1 / down)
    variance = 2 * a * (1 - a) * tau / week * (1 - tau / week * (1 - np.exp(-week / tau)))
    assert float(met.std()) == pytest.approx(float(np.sqrt(variance)), rel=0.12)


def test_same_seed_same_weeks() -> None:
    """One seed is one answer; another seed another."""
    first = simulate_weeks(PLAN, weeks=5, warm_up=0, seed=11).pressed
    assert np.array_equal(first, simulate_weeks(PLAN, weeks=5, warm_up=0, seed=11).pressed)
    assert not np.array_equal(first, simulate_weeks(PLAN, weeks=5, warm_up=0, seed=12).pressed)


def test_smaller_tank_runs_over_more_often() -> None:
    """Overflow risk falls with the tank, and storage at a risk keeps that risk."""
    risks = [
        simulate_weeks(replace(PLAN, tank_volume=v), weeks=40, warm_up=0).overflow_risk
        for v in (90.0, 125.0, 180.0)
    ]
    assert risks[0] > risks[1] > risks[2]


def test_storage_at_risk_holds_the_risk() -> None:
    """The volume asked for at 10 % runs over in at most 10 % of the same weeks."""
    volume = storage_at_risk(PLAN, risk=0.1, weeks=40, seed=5, warm_up=0)
    again = simulate_weeks(
        replace(PLAN, tank_volume=volume * 1.000001), weeks=40, seed=5, warm_up=0
    )
    assert again.overflow_risk <= 0.1
    smaller = simulate_weeks(replace(PLAN, tank_volume=volume * 0.8), weeks=40, seed=5, warm_up=0)
    assert smaller.overflow_risk > 0.1


def test_shaft_out_and_worst_week_are_harder() -> None:
    """Fewer shafts or more load fill the tank further than the calm week."""
    calm = simulate_weeks(PLAN, CALM, weeks=1, warm_up=0).peak_content[0]
    for scenario in (
        Scenario("out", shafts_out=2, breakdowns=False, spread=False),
        Scenario("worst", load_factor=1.3, breakdowns=False, spread=False),
    ):
        assert simulate_weeks(PLAN, scenario, weeks=1, warm_up=0).peak_content[0] > calm + 1.0


def test_slow_batches_make_the_line_wait() -> None:
    """When a batch takes longer than drawing one, the press waits for polymer."""
    slow = replace(PLAN, batch_time=5 * PLAN.batch_time)
    found = simulate_weeks(slow, CALM, weeks=1, warm_up=0)
    assert found.wait_polymer[0] > 3600.0


def test_no_truck_stops_the_line() -> None:
    """With one skip and one trip day the press waits for the skip."""
    line = small_line(outlet=Outlet(skips=2, skip_volume=3.0, trip_days=1))
    found = simulate_weeks(week_plan(design(line)), CALM, weeks=1, warm_up=0)
    assert found.wait_skip[0] > 6 * 3600.0
    daily = replace(line, outlet=replace(line.outlet, trip_days=5))
    often = simulate_weeks(week_plan(design(daily)), CALM, weeks=1, warm_up=0)
    assert often.wait_skip[0] < found.wait_skip[0]
    assert often.skips_filled[0] > found.skips_filled[0]


def test_hourly_courses_add_up() -> None:
    """Run shares per hour add up to the hours run; content is there at every hour."""
    found = simulate_weeks(PLAN, weeks=3, warm_up=0)
    assert found.running_hourly.sum(axis=0) * 3600 == pytest.approx(found.run_time)
    assert found.content_hourly.shape == (168, 3)
    assert found.content_hourly[-1] == pytest.approx(found.end_content)


def test_bad_questions_are_refused() -> None:
    """No weeks, too many shafts out, a negative load, a risk finer than the weeks."""
    with pytest.raises(OutOfRangeError, match="got 0 weeks"):
        simulate_weeks(PLAN, weeks=0)
    with pytest.raises(OutOfRangeError, match="got 9 shafts out of 3"):
        simulate_weeks(PLAN, Scenario("x", shafts_out=9), weeks=1)
    with pytest.raises(OutOfRangeError, match="load factor -1"):
        Scenario("x", load_factor=-1.0)
    with pytest.raises(OutOfRangeError, match=r"risk: got 0\.001 with 10 weeks"):
        storage_at_risk(PLAN, risk=0.001, weeks=10)


def test_night_shift_runs_into_the_next_week() -> None:
    """A shift over midnight on Sunday runs in the first hours of the week."""
    night = week_plan(design(small_line(run=RunPattern(10.0, 7, 20.0))))
    found = simulate_weeks(night, CALM, weeks=1, warm_up=0)
    assert found.running_hourly[:3, 0].sum() > 0


def test_a_tank_that_runs_over_is_a_finding_with_one_that_would_not() -> None:
    """Half the tank runs over in most weeks; the volume named then holds in nineteen of twenty."""
    whole = design(small_line())
    small = design(small_line(feed_tank_volume=0.5 * whole.feed_tank.volume))
    plan = week_plan(small)
    outcomes = (simulate_weeks(plan, weeks=60),)
    judged = judged_by_weeks(small, plan, outcomes)
    found = next(f for f in judged.findings if f.key == "weeks.as_designed")
    assert found.severity is Severity.CHANGE
    wanted = float(found.change.split(" m3")[0].split()[-1])
    assert wanted > small.feed_tank.volume
    dead = small.feed_tank.volume - plan.tank_volume
    again = simulate_weeks(replace(plan, tank_volume=wanted + 1 - dead), weeks=60)
    assert again.overflow_risk <= 0.05
    assert not week_findings(whole, week_plan(whole), (again,))
