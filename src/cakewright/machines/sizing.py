"""Sizing: machines and shafts for a load, what runs with one out, the choice of a frame."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from cakewright.machines.base import Machine
from cakewright.machines.interface import (
    Capacity,
    Duty,
    Frame,
    OneOut,
    Performance,
)
from cakewright.machines.plan import Plan
from cakewright.machines.plan_figures import plan_figures
from cakewright.sludge import Feed, RunLoad

__all__ = ["RULED_OUT", "USUAL_USE", "Plan", "choose", "size"]

RULED_OUT = "tests"
"""What binds a frame that has no cake by the tests of the sludge."""

USUAL_USE = (0.60, 0.90)
"""Share of the installed capacity a design week should use: below, the frame is too large. OWN."""


def _point(values: object) -> float:
    return float(np.atleast_1d(np.asarray(values, dtype=float))[0])


def _needed(load: RunLoad, duty: Duty, capacity: Capacity) -> tuple[float, str]:
    """Machines for the design week with spare, not rounded, and the limit that binds."""
    spare = 1.0 + _point(duty.spare_capacity)
    ratios = {
        "dry solids": _point(load.design_dry_solids_flow) / _point(capacity.dry_solids_flow),
        "water": _point(load.design_volume_flow) / _point(capacity.volume_flow),
    }
    binding = max(ratios, key=ratios.__getitem__)
    return ratios[binding] * spare, binding


def _unit_out(kind: Machine, frame: Frame) -> float:
    """Share of one machine that is lost with its largest shaft, or the machine itself, out."""
    return 1.0 / frame.shafts if kind.shaft_service else 1.0


def _count(kind: Machine, frame: Frame, load: RunLoad, duty: Duty, needed: float) -> int:
    """Machines so that what must still run does run with the largest unit out."""
    count = max(1, math.ceil(needed - 1e-9))
    lost = _unit_out(kind, frame)
    spare = 1.0 + _point(duty.spare_capacity)
    design = needed / spare
    mean = design / _point(load.peak_factor)
    if duty.one_out is OneOut.FULL:
        return max(count, math.ceil(design + lost - 1e-9))
    if duty.one_out is OneOut.REDUCED:
        longest = 1.0 / _point(duty.hours_per_day)
        return max(count, math.ceil(mean / longest + lost - 1e-9))
    return count


def size(
    kind: Machine,
    frame: Frame,
    feed: Feed,
    load: RunLoad,
    duty: Duty,
    performance: Performance,
) -> Plan:
    """One frame against this load.

    The number of machines is set on the point case (sample 0); everything else is over samples.
    """
    capacity = kind.capacity(frame, feed, duty, performance)
    needed, binding = _needed(load, duty, capacity)
    first = max(1, math.ceil(needed - 1e-9))
    count = _count(kind, frame, load, duty, needed)
    fault = _fault(frame, duty, capacity, count)
    if fault:
        return Plan(frame, False, count, count - first, fault[0], fault[1], {}, capacity)
    lost = _unit_out(kind, frame)
    figures = plan_figures(frame, feed, load, duty, capacity, first, count, lost)
    return Plan(frame, True, count, count - first, binding, "", figures, capacity)


def _fault(frame: Frame, duty: Duty, capacity: Capacity, count: int) -> tuple[str, str] | None:
    if count > duty.largest_number:
        return "number", f"would take {count} machines; at most {duty.largest_number} are allowed"
    if duty.floor_area is not None and count * frame.footprint > duty.floor_area:
        return "floor area", "the machines alone are larger than the floor available"
    if capacity.cycle_time is not None:
        day = _point(duty.hours_per_day) * 86400.0
        if day < _point(capacity.cycle_time):
            return "cycle", "not one whole cycle fits the hours of an operating day"
    return None


def choose(
    kind: Machine,
    frames: Iterable[Frame],
    feed: Feed,
    load: RunLoad,
    duty: Duty,
    performance: Performance,
) -> tuple[Plan, ...]:
    """Every frame of this kind: feasible ones in order of choice, then the others with why not.

    Order: fewest machines; then a design week that uses 60 to 90 % of the capacity; then the
    lowest budget price of all machines together; then the name.
    """
    mine = [frame for frame in frames if frame.machine is kind.kind]
    plans = [size(kind, frame, feed, load, duty, performance) for frame in mine]
    good = sorted((plan for plan in plans if plan.feasible), key=_order)
    bad = sorted((plan for plan in plans if not plan.feasible), key=lambda p: p.machines)
    only = len(mine) == 1
    ranked = [replace(p, chosen=i == 0, why=_why(p, good[0], only)) for i, p in enumerate(good)]
    return (*ranked, *bad)


def _use(plan: Plan) -> float:
    return plan.figures["utilisation"].point


def _order(plan: Plan) -> tuple[int, bool, float, str]:
    usual = USUAL_USE[0] <= _use(plan) <= USUAL_USE[1]
    price = plan.machines * plan.frame.budget_price
    return plan.machines, not usual, price, plan.frame.name


def _why(plan: Plan, best: Plan, only: bool) -> str:
    use = f"the design week uses {100 * _use(plan):.0f} % of the capacity"
    number = "one machine" if plan.machines == 1 else f"{plan.machines} machines"
    if only:
        return f"{number} of the only frame of this kind that was offered; {use}"
    if plan is best:
        return f"{number}, the fewest that do; {use}; lowest budget price among its equals"
    if plan.machines > best.machines:
        return f"does, but takes {number} instead of {best.machines}"
    if _order(plan)[1] and not _order(best)[1]:
        low = _use(plan) < USUAL_USE[0]
        return f"does, but is {'larger' if low else 'smaller'} than need be: {use}"
    return f"does; {use}; dearer than the chosen frame"
