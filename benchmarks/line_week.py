"""A thousand simulated weeks and one line design, against what a user would write instead.

Rival of the week: the same rules for one week at a time in plain Python numbers, minute by minute,
as one would write with a clock and a few if's. It plays without chance, so both must end with the
same tank, hours and skips; its time is multiplied by the number of weeks.
Rival of the design: none, only the limit of 50 ms.

Run: python benchmarks/line_week.py [weeks]
"""

from __future__ import annotations

import json
import platform
import sys
import time
from pathlib import Path

from cakewright.line import (
    Cake,
    FeedSludge,
    LineInputs,
    Press,
    Product,
    RunPattern,
    Scenario,
    design,
    simulate_weeks,
    storage_at_risk,
    week_plan,
)
from cakewright.line.week_plan import WeekPlan

RESULTS = Path(__file__).parent / "results" / "line_week.json"
LINE = LineInputs(
    feed=FeedSludge(volume_flow=48 / 86400, total_solids=0.012),
    presses=(
        Press(
            "invented",
            "multi_disc_screw_press",
            1,
            35 / 3600,
            5 / 3600,
            300.0,
            shafts=3,
            wash_flow=20 / 60000,
        ),
    ),
    products=(Product("polymer", "powder", 0.006, dose_low=0.004, dose_high=0.009),),
    run=RunPattern(10.0, 5, 7.0),
    cake=Cake(0.18, 0.95),
)


def plain_week(plan: WeekPlan) -> tuple[float, float, int]:
    """The rival: one calm week in plain Python; content left, seconds run, skips filled."""
    group = plan.groups[0]
    concentration = plan.total_solids * plan.density
    each = min(group.solids_capacity / concentration, group.flow_capacity)
    capacity = each * group.machines * group.shafts
    draw = min(capacity, plan.pump_flow) * 60.0
    content, running, ran = plan.start_content, False, 0.0
    ready, making, skip, full, filled, changing = plan.batch_volume, 0.0, 0.0, 0, 0, 0.0
    for minute in range(10080):
        content += float(plan.inflow[minute]) * plan.volume_per_week
        content = min(content, plan.tank_volume)
        day, clock = divmod(minute, 1440)
        if clock == 720 and day < plan.trip_days:
            full = 0
        making, shift = max(making - 60.0, 0.0), plan.running[minute] > 0
        if not shift:
            running, changing = False, max(changing - 60.0, 0.0)
            continue
        need = draw * concentration * plan.dose * plan.solution_per_active
        if ready < need and making <= 0:
            ready, making = ready + plan.batch_volume, plan.batch_time
        able = ready >= need and changing <= 0 and skip < plan.skip_load
        level = draw if running else max(draw, plan.start_level)
        running = able and content >= level
        if running:
            content -= draw
            ready -= need
            ran += 60.0
            skip += draw * concentration * plan.cake_per_solids
        changing = max(changing - 60.0, 0.0)
        if skip >= plan.skip_load and full < plan.skips - 1:
            skip, full, filled = skip - plan.skip_load, full + 1, filled + 1
            changing = plan.skip_change_time
    return content, ran, filled


def main(weeks: int = 1000) -> None:
    """Time both, compare their calm week, write the result."""
    design(LINE)
    repeats = 20
    start = time.perf_counter()
    for _ in range(repeats):
        line = design(LINE)
    design_s = (time.perf_counter() - start) / repeats
    plan = week_plan(line)

    calm = simulate_weeks(
        plan, Scenario("calm", breakdowns=False, spread=False), weeks=1, warm_up=0
    )
    start = time.perf_counter()
    content, ran, filled = plain_week(plan)
    rival_s = (time.perf_counter() - start) * weeks
    theirs = (float(calm.end_content[0]), float(calm.run_time[0]), int(calm.skips_filled[0]))
    if max(abs(a - b) for a, b in zip((content, ran, filled), theirs, strict=True)) > 1e-6:
        raise SystemExit(f"the two weeks differ: {(content, ran, filled)} and {theirs}")

    start = time.perf_counter()
    outcome = simulate_weeks(plan, weeks=weeks, warm_up=0)
    bare_s = time.perf_counter() - start
    start = time.perf_counter()
    simulate_weeks(plan, weeks=weeks)
    warm_s = time.perf_counter() - start
    result = {
        "machine": platform.platform(),
        "python": platform.python_version(),
        "weeks": weeks,
        "design_ms": round(1000 * design_s, 1),
        "weeks_s": round(bare_s, 2),
        "weeks_with_warm_up_week_s": round(warm_s, 2),
        "plain_python_s": round(rival_s, 1),
        "ratio_plain_over_arrays": round(rival_s / bare_s, 1),
        "overflow_risk": outcome.overflow_risk,
        "storage_at_5_percent_m3": round(storage_at_risk(plan, risk=0.05, weeks=weeks), 1),
        "note": "the rival knows no breakdowns and no chance, so the ratio flatters it",
    }
    print(json.dumps(result, indent=1))
    RESULTS.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
