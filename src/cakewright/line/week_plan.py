"""What a simulated week is played with: plain numbers taken from a design."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.line.case import case_of
from cakewright.line.design import LineDesign
from cakewright.line.inputs import point
from cakewright.line.storage import production_course, run_course
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import WEEK

__all__ = ["Scenario", "ShaftGroup", "WeekPlan", "week_plan"]


@dataclass(frozen=True, slots=True)
class Scenario:
    """One question put to the week.

    ``solids_factor`` thickens (above 1) or thins the feed at equal dry solids; ``load_factor``
    scales production (the worst week of the year); ``shafts_out`` are out for the whole week.
    """

    name: str = "as designed"
    shafts_out: int = 0
    solids_factor: float = 1.0
    load_factor: float = 1.0
    breakdowns: bool = True
    spread: bool = True

    def __post_init__(self) -> None:
        """Refuse factors without meaning."""
        if self.solids_factor <= 0 or self.load_factor < 0 or self.shafts_out < 0:
            raise OutOfRangeError(
                f"scenario {self.name!r}: got solids factor {self.solids_factor:g}, load factor "
                f"{self.load_factor:g}, {self.shafts_out} shafts out; allowed: above 0, >= 0, >= 0"
            )


@dataclass(frozen=True, slots=True)
class ShaftGroup:
    """Equal shafts: number of machines and shafts each, capacity per shaft [kg/s, m3/s]."""

    machines: int
    shafts: int
    solids_capacity: float
    flow_capacity: float
    wash_per_burst: float
    wash_interval: float


@dataclass(frozen=True, slots=True, eq=False)
class WeekPlan:
    """Everything the week needs, in SI.

    ``inflow`` is the share of the week's volume per minute, ``running`` whether each minute lies
    in a run shift. ``worst_load`` is the worst week over the mean one (1.3 where the line has no
    peak, a judgement). Volumes count above the level at which the feed pump stops.
    """

    volume_per_week: float
    inflow: FloatArray
    running: FloatArray
    total_solids: float
    density: float
    tank_volume: float
    start_content: float
    start_level: float
    pump_flow: float
    groups: tuple[ShaftGroup, ...]
    shaft_times: tuple[float, float]
    machine_times: tuple[float, float]
    item_times: tuple[float, float]
    dose: float
    solution_per_active: float
    batch_volume: float
    batch_time: float
    cake_per_solids: float
    skip_load: float
    skips: int
    skip_change_time: float
    trip_days: int
    solids_spread: float
    flow_spread: float
    wash_mean: float
    worst_load: float = 1.3

    @property
    def shafts(self) -> int:
        """Number of duty shafts."""
        return sum(g.machines * g.shafts for g in self.groups)


def _groups(design: LineDesign) -> tuple[ShaftGroup, ...]:
    return tuple(
        ShaftGroup(
            machines=p.units + p.standby,
            shafts=p.shafts,
            solids_capacity=p.solids_capacity,
            flow_capacity=p.flow_capacity,
            wash_per_burst=p.wash_flow * (p.interval if p.burst is None else p.burst),
            wash_interval=p.interval,
        )
        for p in design.inputs.presses
    )


def week_plan(design: LineDesign, *, tank_volume: float | None = None) -> WeekPlan:
    """The plan of a designed line, point case; ``tank_volume`` replaces the usable volume. [m3]"""
    inputs, book = design.inputs, case_of(design.inputs).book
    feed, tank = inputs.feed, design.feed_tank
    polymer = next((p for p in design.products if p.tanks), design.products[0])
    usable = tank.volume - tank.working_volume * book["tank_dead_share"]
    times = book["make_down_fill_time"] + book["make_down_wetting_time"] + polymer.ageing
    solids = point(design.balance.stream("feed measured").dry_solids_flow)
    singles = len(design.availability.singles)
    case = case_of(inputs)
    highest = case.highest_flow
    return WeekPlan(
        volume_per_week=point(feed.volume_flow) * WEEK,
        inflow=production_course(feed.pattern),
        running=run_course(inputs.run),
        total_solids=point(feed.total_solids),
        density=point(case.density),
        tank_volume=usable if tank_volume is None else tank_volume,
        # the tank of a mean week stands lower than that of the design week it is sized for
        start_content=float(tank.course.content[0]) * point(feed.volume_flow) / case.design_week,
        start_level=highest * book["start_level_time"],
        pump_flow=highest,
        groups=_groups(design),
        shaft_times=(book["shaft_up_time"], book["shaft_down_time"]),
        machine_times=(book["machine_up_time"], book["machine_down_time"]),
        item_times=(book["item_up_time"] / singles, book["item_down_time"]),
        dose=point(polymer.dose),
        solution_per_active=1.0 / (polymer.stock * polymer.product.density),
        batch_volume=polymer.tank_volume,
        batch_time=times if polymer.tanks else 0.0,
        cake_per_solids=point(design.balance.cake_mass) / solids,
        skip_load=design.skips.load,
        skips=inputs.outlet.skips or design.skips.number,
        skip_change_time=book["skip_change_time"],
        trip_days=inputs.outlet.trip_days,
        solids_spread=book["feed_solids_spread"],
        flow_spread=book["feed_flow_spread"],
        wash_mean=point(design.balance.wash),
        worst_load=_worst(design),
    )


def _worst(design: LineDesign) -> float:
    cases = design.cases
    ratio = point(cases.worst_week.weekly_solids) / point(cases.mean_year.weekly_solids)
    return ratio if ratio > 1.0 + 1e-9 else 1.3


def scenario_plan(plan: WeekPlan, scenario: Scenario) -> WeekPlan:
    """The plan with the scenario put in; shafts are taken from the largest group.

    Raises
    ------
    OutOfRangeError
        If more shafts are out than there are.
    """
    if scenario.shafts_out > plan.shafts:
        raise OutOfRangeError(
            f"scenario {scenario.name!r}: got {scenario.shafts_out} shafts out of {plan.shafts}; "
            "allowed: at most as many as there are"
        )
    return replace(
        plan,
        volume_per_week=plan.volume_per_week * scenario.load_factor / scenario.solids_factor,
        total_solids=plan.total_solids * scenario.solids_factor,
        start_content=plan.start_content * min(scenario.load_factor / scenario.solids_factor, 1.0),
        solids_spread=plan.solids_spread if scenario.spread else 0.0,
        flow_spread=plan.flow_spread if scenario.spread else 0.0,
        density=float(np.asarray(plan.density)),
    )
