"""Feed side: sludge feed tank with its mixer, transfer pump and feed pump."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from cakewright.line.case import Case, Part, datum, line_of, motor_of, parts_joined
from cakewright.line.duty_numbers import duty_numbers, sized
from cakewright.line.findings import Finding, Severity
from cakewright.line.inputs import PipeRun, point
from cakewright.line.items import Item, ItemKind
from cakewright.line.piping import Fluid
from cakewright.line.pumping import PumpDesign, PumpDuty, pump_design
from cakewright.line.storage import (
    WeekCourse,
    production_course,
    run_course,
    storage_volume_of_days,
    week_course,
)
from cakewright.quantities.constants import DAY, WEEK

__all__ = ["FeedTank", "feed_fluid", "feed_pump", "feed_tank", "transfer_pump"]

_TANK_CAUTIONS = (
    "Confined space: entry by permit only; hydrogen sulphide, methane, ammonia and carbon dioxide "
    "leave stored sludge when it is stirred. Smell is no alarm.",
    "Under a cover an explosive atmosphere can form: area classification by a competent person.",
    "Falls: rails, covers, ladders and lighting at openings.",
)


@dataclass(frozen=True, slots=True, eq=False)
class FeedTank:
    """Feed tank: volumes [m3], ages [s], power [W]; ``course`` is the content of the week."""

    working_volume: float
    outage_volume: float
    volume: float
    volume_given: bool
    diameter: float
    height: float
    age_mean: float
    age_worst: float
    mixing_power: float
    course: WeekCourse
    spare_covers: bool
    part: Part


def feed_fluid(case: Case) -> Fluid:
    """The sludge as pumped, point case."""
    feed = case.inputs.feed
    return Fluid(
        medium="sludge",
        density=point(case.density),
        consistency=point(feed.consistency),
        yield_stress=point(feed.yield_stress),
        flow_index=point(feed.flow_index),
        sludge=True,
        total_solids=point(feed.total_solids),
    )


def _spare_covers(case: Case) -> bool:
    """True when the design load is met with the largest shaft out, in the same run hours."""
    largest = max(point(each) for _, each in case.capacity_shafts)
    spare = sum(p.standby * p.shafts for p in case.inputs.presses) > 0
    left = point(case.capacity_solids) - largest
    return spare or left >= case.needed_solids * (1 - 1e-9)


def _course(case: Case) -> WeekCourse:
    volume = case.design_week * WEEK
    # at most the hours given: with more than that no week would be in balance
    hours = min(24.0 * point(case.cases.design.hours_per_day), case.inputs.run.hours_per_day)
    running = run_course(replace(case.inputs.run, hours_per_day=hours))
    inflow = production_course(case.inputs.feed.pattern) * volume
    outflow = running / running.sum() * volume
    swing = week_course(inflow, outflow).working_volume
    return week_course(inflow, outflow, swing * case.book["tank_dead_share"])


def _run_finding(case: Case) -> tuple[Finding, ...]:
    """The run hours against the load: the tank would never empty when they are too short."""
    need, have = case.needed_solids, point(case.capacity_solids)
    if need <= have * (1 + 1e-9):
        return ()
    run = case.inputs.run
    hours = run.hours_per_day * need / have
    change = (
        f"run {hours:.1f} h/d on {run.days} days"
        if hours <= 24
        else f"even 24 h/d on {run.days} days is too short: add machines"
    )
    return (
        Finding(
            key="feed_tank.never_empties",
            severity=Severity.INFEASIBLE,
            item="T-101",
            got=f"{3600 * need:.1f} kg DS/h needed in {run.hours_per_day:g} h/d on {run.days} d",
            allowed=f"{3600 * have:.1f} kg DS/h, what all duty {case.shaft_word}s take",
            why="more sludge comes in than the presses take in the run hours: the tank only fills",
            change=f"{change}, or add {int(np.ceil(need / have * 100 - 100))} % press capacity",
            margin=need / have,
        ),
    )


def _age_finding(case: Case, worst: float) -> tuple[Finding, ...]:
    limit = case.book["stored_age_limit"]
    if worst <= limit:
        return ()
    return (
        Finding(
            key="feed_tank.age",
            severity=Severity.CAUTION,
            item="T-101",
            got=f"sludge up to {worst / DAY:.1f} d old",
            allowed=f"about {limit / DAY:.1f} d without air",
            why="septic sludge smells, gives off hydrogen sulphide, dewaters worse and takes more "
            "polymer",
            change="run on more days, aerate or keep the tank low before the weekend; extract and "
            "treat the air",
            source=case.book.source("stored_age_limit"),
            margin=worst / limit,
        ),
    )


def _volume_finding(case: Case, wanted: float) -> tuple[Finding, ...]:
    have = case.inputs.feed_tank_volume
    if have is None or have >= wanted * (1 - 1e-9):
        return ()
    return (
        Finding(
            key="feed_tank.too_small",
            severity=Severity.INFEASIBLE,
            item="T-101",
            got=f"{have:.1f} m3 to the brim",
            allowed=f"at least {wanted:.1f} m3",
            why="the week's swing between production and running does not fit",
            change="run on more days or longer hours, add a tank, or shift production",
            margin=wanted / have,
        ),
    )


def feed_tank(case: Case) -> FeedTank:
    """Volume from production and run pattern, or from an outage when nothing stands by."""
    book, flow = case.book, case.design_week
    course = _course(case)
    covers = _spare_covers(case)
    outage = 0.0 if covers else storage_volume_of_days(flow, book["outage_storage_time"])
    gross = 1 + book["tank_freeboard_share"] + book["tank_dead_share"]
    swing = course.working_volume * gross
    # a line that runs when sludge comes still needs what lets the feed pump start and stop
    least = case.highest_flow * book["start_level_time"]
    wanted = max(swing, outage * gross, least * gross)
    given = case.inputs.feed_tank_volume
    volume = wanted if given is None else given
    diameter = (4 * volume / np.pi) ** (1 / 3)
    power = volume * book["feed_tank_mixing_power"]
    motor = motor_of(
        book, "M-A-101", "A-101", "feed tank mixer", power, idle_share=book["feed_tank_mixing_idle"]
    )
    lines = (
        line_of(
            "feed_tank.working",
            "Working volume of the feed tank",
            "V_w",
            "",
            (("q", flow, "volume_flow"), ("Q_run", case.design_flow, "volume_flow")),
            ("working_volume", course.working_volume),
            "OWN",
            model="highest less lowest of what came in less what went out, over the week",
        ),
        line_of(
            "feed_tank.volume",
            "Feed tank to the brim",
            "V",
            "max(V_w, q t_out) (1 + f_b + f_d)" if not covers else "V_w (1 + f_b + f_d)",
            (
                ("V_w", course.working_volume, "working_volume"),
                ("q", flow, "volume_flow"),
                ("t_out", book["outage_storage_time"], "outage_storage_time"),
                ("f_b", book["tank_freeboard_share"], "tank_freeboard_share"),
                ("f_d", book["tank_dead_share"], "tank_dead_share"),
            ),
            ("tank_volume", wanted),
            book.source("outage_storage_time"),
            marks=(book.mark("tank_freeboard_share"),),
            note=f"no outage storage: the load is met with the largest {case.shaft_word} out"
            if covers
            else "outage storage counted: nothing stands by",
        ),
        line_of(
            "feed_tank.mixing",
            "Mixing power of the feed tank",
            "P",
            "(P/V) V",
            (
                ("P/V", book["feed_tank_mixing_power"], "feed_tank_mixing_power"),
                ("V", volume, "tank_volume"),
            ),
            ("power", power),
            book.source("feed_tank_mixing_power"),
        ),
    )
    item = Item(
        tag="T-101",
        kind=ItemKind.TANK,
        label="sludge feed tank",
        service="sludge",
        duty=1,
        standby=0,
        data=(
            datum("tank_volume", volume),
            datum("working_volume", course.working_volume),
            datum("pipe_length", diameter, label="diameter"),
            datum("pipe_length", diameter, label="height"),
            datum("stored_age", course.age_mean, label="mean age"),
            datum("stored_age", course.age_worst, label="oldest sludge, unmixed"),
        ),
        material="concrete, coated steel or plastic; check chloride and septicity",
        cautions=_TANK_CAUTIONS,
        note="covered, air extracted" if case.inputs.feed_tank_covered else "open",
    )
    mixer = Item(
        tag="A-101",
        kind=ItemKind.MIXER,
        label="feed tank mixer",
        service="keeps sludge uniform",
        duty=1,
        standby=0,
        data=(datum("power", power, book.source("feed_tank_mixing_power")),),
        cautions=("Interlocked with the cover and with low level.",),
    )
    findings = (
        *_run_finding(case),
        *_age_finding(case, course.age_worst),
        *_volume_finding(case, wanted),
    )
    return FeedTank(
        working_volume=course.working_volume,
        outage_volume=outage,
        volume=volume,
        volume_given=given is not None,
        diameter=diameter,
        height=diameter,
        age_mean=course.age_mean,
        age_worst=course.age_worst,
        mixing_power=power,
        course=course,
        spare_covers=covers,
        part=parts_joined(
            [Part(items=(item, mixer), motors=(motor,), findings=findings, lines=lines)]
        ),
    )


def feed_pump(case: Case) -> PumpDesign:
    """Pump from the feed tank to where the chosen way begins; above demand only for a weir."""
    over, way = 1 + case.surplus_share, case.chosen.way
    numbers = duty_numbers(case)
    run = case.inputs.pipe("feed")
    if way.pressure is not None:
        run = PipeRun(run.length, run.static_head, sized(way.pressure, numbers))
    if way.flow is not None:
        over = sized(way.flow, numbers) / case.design_flow
    return pump_design(
        PumpDuty(
            tag="P-101",
            service="feed",
            flow_design=case.design_flow * over,
            flow_high=case.highest_flow * over,
            flow_low=case.lowest_flow * over,
            fluid=feed_fluid(case),
            pipe_tag="L-101",
            source="T-101",
            target=way.target,
            run=run,
            standby=case.inputs.standby_pumps,
            # A pump that only fills hands over to the one that presses.
            running_share=1.0 if way.flow is None else numbers.get("fill_share", 1.0),
            temperature=point(case.inputs.feed.temperature),
        ),
        case.book,
    )


def transfer_pump(case: Case) -> PumpDesign | None:
    """Pump that fills the feed tank at the peak of production, where one is wanted."""
    if not case.inputs.with_transfer_pump:
        return None
    flow = case.design_week
    course = production_course(case.inputs.feed.pattern)
    peak = flow * float(course.max() * course.size)
    return pump_design(
        PumpDuty(
            tag="P-100",
            service="transfer",
            flow_design=peak,
            flow_high=peak * (1 + case.book["pump_margin"]),
            flow_low=min(flow, peak),
            fluid=feed_fluid(case),
            pipe_tag="L-100",
            source="works",
            target="T-101",
            run=case.inputs.pipe("transfer"),
            standby=case.inputs.standby_pumps,
            running_share=flow / peak,
            idle_share=flow / peak,
            temperature=point(case.inputs.feed.temperature),
        ),
        case.book,
    )
