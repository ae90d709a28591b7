"""Availability: up and down times, k out of n with unequal units, storage, maintenance windows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.line.case import Case, Part, line_of
from cakewright.line.feeding import FeedTank
from cakewright.line.inputs import point
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import HOUR

__all__ = [
    "LineAvailability",
    "ServicePlan",
    "availability_parallel",
    "availability_series",
    "line_availability",
    "service_plan",
    "steady_availability",
]


def _shares(values: Sequence[float]) -> FloatArray:
    found = np.asarray(values, dtype=float)
    if found.size == 0 or np.any((found < 0) | (found > 1) | ~np.isfinite(found)):
        raise OutOfRangeError(
            f"availability: got {found.tolist()}; allowed: at least one value, each 0 to 1; "
            "give up time over up plus down time"
        )
    return found


def steady_availability(up_time: float, down_time: float) -> float:
    """Share of time up: mean up time over mean up plus mean down time (all delays counted).

    Raises
    ------
    OutOfRangeError
        If a time is negative or both are zero.
    """
    if up_time < 0 or down_time < 0 or up_time + down_time <= 0:
        raise OutOfRangeError(
            f"availability: got up {up_time:g} s, down {down_time:g} s; allowed: both >= 0, not "
            "both zero; take operating time between stops and the whole time to restoration"
        )
    return up_time / (up_time + down_time)


def availability_series(values: Sequence[float]) -> float:
    """All must be up: the product."""
    return float(np.prod(_shares(values)))


def availability_parallel(values: Sequence[float]) -> float:
    """One is enough: one less the product of the unavailabilities."""
    return 1.0 - float(np.prod(1.0 - _shares(values)))


@dataclass(frozen=True, slots=True)
class ServicePlan:
    """Planned service, one shaft at a time: times per year [s], capacity left while one is out.

    ``in_idle`` is True when a service fits between two runs; ``hours_needed`` is the run time per
    day that makes the load with one shaft out (24 h at most, else ``possible`` is False).
    """

    per_year: float
    each: float
    in_idle: bool
    capacity_left: float
    hours_needed: float
    possible: bool


def service_plan(case: Case) -> ServicePlan:
    """Service shaft by shaft: does it fit between runs, and what runs on meanwhile."""
    shafts = sum(n for n, _ in case.capacity_shafts)
    each = case.book["service_time_per_shaft"]
    largest = max(point(c) for _, c in case.capacity_shafts)
    total, load = point(case.capacity_solids), case.needed_solids
    left = total - largest
    hours = case.inputs.run.hours_per_day * load / left if left > 0 else np.inf
    run = case.inputs.run
    idle = max((24.0 - run.hours_per_day), (7 - run.days) * 24.0 + 24.0 - run.hours_per_day)
    return ServicePlan(
        per_year=each * shafts,
        each=each,
        in_idle=each <= idle * HOUR,
        capacity_left=left / total,
        hours_needed=float(min(hours, 24.0)),
        possible=bool(hours <= 24.0),
    )


@dataclass(frozen=True, slots=True, eq=False)
class LineAvailability:
    """Availability of the line: presses alone, other items in series, with storage.

    ``presses`` is the share of the load met by the shafts that are up; ``others`` the chance that
    all single items are up; ``line`` their product; ``with_storage`` counts what the feed tank
    rides through; ``ride_through`` [s].
    """

    shaft: float
    machine: float
    presses: float
    all_shafts: float
    others: float
    line: float
    with_storage: float
    ride_through: float
    singles: tuple[str, ...]
    service: ServicePlan
    part: Part


def _presses_met(case: Case, demand: float) -> float:
    """Share of the load met: shafts within machines, machine stops taking all their shafts."""
    book = case.book
    shaft = steady_availability(book["shaft_up_time"], book["shaft_down_time"])
    machine = steady_availability(book["machine_up_time"], book["machine_down_time"])
    levels, chances = np.zeros(1), np.ones(1)
    for press, (_, each) in zip(case.inputs.presses, case.capacity_shafts, strict=True):
        up = machine * _counts(np.array([1.0 - shaft, shaft]), press.shafts)
        up[0] += 1.0 - machine
        many = _counts(up, press.units + press.standby)
        levels = np.add.outer(levels, point(each) * np.arange(many.size)).ravel()
        chances = np.outer(chances, many).ravel()
    return float(np.minimum(levels, demand) @ chances / demand)


def _counts(one: FloatArray, times: int) -> FloatArray:
    """Chances of each sum over ``times`` independent counts with the chances ``one``."""
    size = (one.size - 1) * times + 1
    return np.asarray(np.fft.irfft(np.fft.rfft(one, size) ** times, size))


def line_availability(case: Case, tank: FeedTank) -> LineAvailability:
    """The line's availability from the up and down times of the practice table or the study."""
    book, demand = case.book, case.needed_solids
    shaft = steady_availability(book["shaft_up_time"], book["shaft_down_time"])
    machine = steady_availability(book["machine_up_time"], book["machine_down_time"])
    item = steady_availability(book["item_up_time"], book["item_down_time"])
    spare = availability_parallel([item, item])
    pump = spare if case.inputs.standby_pumps else item
    singles = {"P-101": pump, "T-301 mixer": item, "H-501": item, "P-402": pump}
    for k in range(len(case.inputs.products)):
        singles[f"M-20{k + 1}"] = item
        singles[f"P-20{k + 1}"] = pump
    others = availability_series(list(singles.values()))
    presses = _presses_met(case, demand)
    shares = [shaft * machine] * sum((p.units + p.standby) * p.shafts for p in case.inputs.presses)
    line = presses * others
    free = max(tank.volume - float(tank.course.content.mean()), 0.0)
    ride = free / case.design_week
    stops_per_time = (1 - others) / book["item_down_time"]
    felt = book["item_down_time"] * float(np.exp(-ride / book["item_down_time"]))
    stored = 1 - stops_per_time * felt
    unmet = (1 - presses) * float(np.exp(-ride / book["shaft_down_time"]))
    calc = line_of(
        "availability.line",
        "Share of the load met without counting storage",
        "A",
        "A_presses A_others",
        (("A_presses", presses, "availability"), ("A_others", others, "availability")),
        ("availability", line),
        "OWN",
        marks=(book.mark("shaft_up_time"),),
        note="no source gives the availability of whole lines: put in plant data",
    )
    return LineAvailability(
        shaft=shaft,
        machine=machine,
        presses=presses,
        all_shafts=availability_series(shares),
        others=others,
        line=line,
        with_storage=stored * (1 - unmet),
        ride_through=ride,
        singles=tuple(singles),
        service=service_plan(case),
        part=Part(lines=(calc,)),
    )
