"""What the watch must know of a site beside its log: promise, prices, shifts, limits, service."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from cakewright.errors import DataError, Fault
from cakewright.running.indicators import Prices, Promise
from cakewright.running.reconcile import BalanceInput
from cakewright.running.shifts import ShiftPlan, ShiftTable
from cakewright.running.spares import Part, shipped_parts

__all__ = ["Site", "baseline_rows"]

FEWEST, USUAL = 45, 150


@dataclass(frozen=True, slots=True)
class Site:
    """One site's settings; SI. ``baseline`` is on the local clock (seconds since 1970).

    ``limits`` are the safe limits of each setting (signal key -> low, high), beyond which no
    trial and no advice goes; ``today`` is where they stand; ``stops``
    are readings no setting may surpass (torque, level ...); ``planned`` is the share of time the
    press is called to run; ``shaft_capacity`` is dry solids per time that one shaft can carry;
    ``replaced`` is the run time each part of ``parts`` had when the log begins, one per shaft.
    """

    key: str
    title: str
    frame: str = ""
    invented: bool = False
    plan: ShiftPlan = field(default_factory=ShiftPlan)
    baseline: tuple[int, int] | None = None
    promise: Promise = field(default_factory=lambda: Promise({}))
    prices: Prices = field(default_factory=Prices)
    balance: BalanceInput = field(default_factory=BalanceInput)
    limits: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    today: Mapping[str, float] = field(default_factory=dict)
    stops: Mapping[str, float] = field(default_factory=dict)
    planned: float = 1.0
    shafts: int = 1
    shaft_capacity: float = 0.0
    service_interval: float = 0.0
    serviced: Mapping[int, float] = field(default_factory=dict)
    parts: tuple[Part, ...] = field(default_factory=shipped_parts)
    replaced: Mapping[str, Sequence[float]] = field(default_factory=dict)
    sludge: str = ""
    cause_rates: Mapping[str, float] = field(default_factory=dict)


def baseline_rows(table: ShiftTable, site: Site) -> NDArray[np.bool_]:
    """Shifts of the good stretch: the site's own dates, or else the first running shifts.

    Raises
    ------
    DataError
        If the stretch holds too few running shifts.
    """
    run = table.run_time > 0
    if site.baseline is not None:
        first, last = site.baseline
        rows = run & (table.start >= first) & (table.start < last)
    else:
        count = min(max(FEWEST, int(run.sum()) // 3), USUAL)
        rows = run & (np.cumsum(run) <= count)
    if rows.sum() < FEWEST // 2:
        fault = Fault("baseline", f"{int(rows.sum())} running shifts", f"at least {FEWEST // 2}",
                      "give other dates in the site file, or load more of the log")  # fmt: skip
        raise DataError(site.title, [fault])
    return np.asarray(rows)
