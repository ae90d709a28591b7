"""The cases a line is worked out for: what flows in each, for how long, and why.

One place. Every flow, load, size, hour and price belongs to one of these cases and says which.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = ["CaseKey", "LoadCase", "LoadCases", "load_cases"]

Floats = float | FloatArray

# The worst week is the peak week that nine in ten of the drawn ones stay below: OWN.
_WORST = 0.9


class CaseKey(StrEnum):
    """The five cases."""

    MEAN_YEAR = "mean year"
    RUNNING = "running"
    DESIGN = "design"
    PROMISED = "promised"
    WORST_WEEK = "worst week"


@dataclass(frozen=True, slots=True, eq=False)
class LoadCase:
    """One case: what flows while it flows [kg/s, m3/s], and for how long.

    ``hours_per_day`` is the share of an operating day (8 h is 1/3) it flows in, ``days_per_week``
    the operating days; ``why`` says what the case is for.
    """

    key: CaseKey
    dry_solids_flow: FloatArray
    volume_flow: FloatArray
    hours_per_day: FloatArray
    days_per_week: FloatArray
    why: str

    @property
    def run_share(self) -> FloatArray:
        """Share of the week in which it flows. [1]"""
        return np.asarray(self.hours_per_day * self.days_per_week / 7.0)

    @property
    def weekly_solids(self) -> FloatArray:
        """Dry solids as a mean over the week. [kg/s]"""
        return np.asarray(self.dry_solids_flow * self.run_share)

    @property
    def weekly_volume(self) -> FloatArray:
        """Sludge as a mean over the week. [m3/s]"""
        return np.asarray(self.volume_flow * self.run_share)


@dataclass(frozen=True, slots=True, eq=False)
class LoadCases:
    """All cases of one line; ``promised`` of None where nothing is promised."""

    mean_year: LoadCase
    running: LoadCase
    design: LoadCase
    worst_week: LoadCase
    promised: LoadCase | None = None

    def __iter__(self) -> Iterator[LoadCase]:
        """The cases in the order they are told."""
        cases = (self.mean_year, self.running, self.design, self.promised, self.worst_week)
        return (case for case in cases if case is not None)

    def __getitem__(self, key: CaseKey) -> LoadCase:
        """One case.

        Raises
        ------
        KeyError
            If nothing is promised and the promised case is asked for.
        """
        return {case.key: case for case in self}[key]

    def with_promise(self, dry_solids_flow: float) -> LoadCases:
        """The same cases with the throughput of the acceptance test. [kg/s]"""
        design = self.design
        share = dry_solids_flow / design.dry_solids_flow
        promised = LoadCase(
            CaseKey.PROMISED,
            np.full(design.dry_solids_flow.shape, dry_solids_flow),
            np.asarray(design.volume_flow * share),
            np.asarray(design.hours_per_day / share),
            design.days_per_week,
            "what the acceptance test asks of the line; the hours are those of the peak week",
        )
        return replace(self, promised=promised)


def load_cases(
    dry_solids_flow: Floats,
    volume_flow: Floats,
    hours_per_day: Floats,
    days_per_week: Floats,
    peak_factor: Floats = 1.0,
    run_hours: Floats | None = None,
) -> LoadCases:
    """The cases that follow from the sludge of a mean week and the hours given.

    Flows are means over the whole week; hours are shares of a day. ``run_hours`` are those the
    press runs in a mean week (None: all that are given). The line is set to one rate: that of the
    running press or, where it is higher, the one that takes the peak week in the hours given. Weeks
    differ by their hours; those of the worst week may be more than the hours given.

    Raises
    ------
    OutOfRangeError
        If there are no hours, no sludge, or the peak week is below the mean one.
    """
    given = (dry_solids_flow, volume_flow, hours_per_day, days_per_week, peak_factor)
    run = hours_per_day if run_hours is None else run_hours
    wide = np.broadcast_arrays(*np.atleast_1d(*given, run))
    dry, volume, hours, days, peak, running = (np.asarray(x, dtype=float) for x in wide)
    _checked(dry, volume, hours, days, peak, running)
    worst = peak
    if dry.size > 1:
        heavy = max(dry[0] * peak[0], float(np.quantile(dry[1:] * peak[1:], _WORST)))
        worst = heavy / dry
    at_rate = np.minimum(hours / peak, running)

    def week(key: CaseKey, load: FloatArray, hours: FloatArray, why: str) -> LoadCase:
        share = hours * days / 7.0
        return LoadCase(key, dry * load / share, volume * load / share, hours, days, why)

    one = np.ones_like(dry)
    return LoadCases(
        mean_year=LoadCase(
            CaseKey.MEAN_YEAR,
            dry,
            volume,
            one,
            np.full_like(dry, 7.0),
            "mean over the year: amounts, money and carbon",
        ),
        running=week(
            CaseKey.RUNNING, one, running, "what flows while the press runs in a mean week"
        ),
        design=week(
            CaseKey.DESIGN,
            peak,
            at_rate * peak,
            "the peak week within the hours given: sizes tanks, pumps, conveyor and stations",
        ),
        worst_week=week(
            CaseKey.WORST_WEEK,
            worst,
            at_rate * worst,
            "the peak week that nine in ten of those drawn stay below: checks what was sized",
        ),
    )


def _checked(
    dry: FloatArray,
    volume: FloatArray,
    hours: FloatArray,
    days: FloatArray,
    peak: FloatArray,
    running: FloatArray,
) -> None:
    if not ((dry > 0.0) & (volume > 0.0) & np.isfinite(dry) & np.isfinite(volume)).all():
        raise OutOfRangeError(
            f"load: got {float(np.min(volume)):g} m3/s of sludge; allowed: above 0 in every "
            "sample; a line without feed has no size: check the flow and its unit"
        )
    timed = (hours > 0.0) & (hours <= 1.0) & (days > 0.0) & (days <= 7.0)
    if not (timed & (running > 0.0) & (running <= 1.0)).all():
        raise OutOfRangeError(
            "load: hours: allowed: above 0 to 24 hours on above 0 to 7 days; no hours press nothing"
        )
    if not (peak >= 1.0).all():
        raise OutOfRangeError("load: peak factor: allowed: 1 or more; 1 means no peak week")
