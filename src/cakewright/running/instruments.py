"""Instruments first: readings that froze, died, spike or drift, and slips of the laboratory.

What cannot be trusted is told before anything is concluded from it, with what it hides.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from cakewright.quantities import FloatArray
from cakewright.running.shifts import ShiftTable
from cakewright.running.signals import SignalKind, signal, signals

__all__ = ["HIDES", "InstrumentFault", "Removed", "Trouble", "instrument_faults", "joined"]

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]
_LABORATORY = ("feed_solids", "cake_solids", "filtrate_solids", "polymer_strength")
_DAY = 86_400

# What is said with less sureness, or not at all, while a reading cannot be trusted.
HIDES: Mapping[str, tuple[str, ...]] = {
    "feed_flow": ("dry_solids_flow", "capture", "polymer_dose"),
    "feed_solids": ("dry_solids_flow", "capture", "polymer_dose", "specific_energy"),
    "feed_solids_meter": ("dry_solids_flow", "polymer_dose"),
    "polymer_flow": ("polymer_dose",), "polymer_strength": ("polymer_dose",),
    "filtrate_flow": ("capture",), "filtrate_solids": ("capture",),
    "filtrate_turbidity": ("capture",), "cake_flow": ("capture",),
    "cake_solids": ("cake_solids", "cost_specific"), "drive_power": ("specific_energy",),
    "wash_flow": ("wash_water_specific",), "machine_on": ("run_hours_per_day",),
}  # fmt: skip


class Trouble(StrEnum):
    """What is wrong with a reading."""

    FROZEN = "frozen"
    DEAD = "dead"
    SPIKING = "spiking"
    BEYOND = "beyond"
    DRIFTING = "drifting"
    TENFOLD = "tenfold"
    MOISTURE = "moisture"
    SWAPPED = "swapped"
    ODD = "odd"
    UNREAD = "unread"


@dataclass(frozen=True, slots=True)
class Removed:
    """One line of what cleaning took out: signal, reason, readings, first and last (UTC s)."""

    signal: str
    reason: str
    count: int
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class InstrumentFault:
    """One reading not to be trusted: since when (clock of the table), what it hides.

    ``count`` are readings taken out; ``size`` a natural logarithm where one makes sense;
    ``ended`` where it reads again.
    """

    key: str
    kind: Trouble
    since: int
    until: int
    count: int = 0
    size: float = 0.0
    ended: bool = False

    @property
    def alarm(self) -> bool:
        """Whether somebody must go and look: a reading stands still or is gone."""
        return self.kind in (Trouble.FROZEN, Trouble.DEAD)

    @property
    def hides(self) -> tuple[str, ...]:
        """Indicators that stand on this reading."""
        return HIDES.get(self.key, ())


def _last_running(table: ShiftTable) -> IntArray:
    return np.flatnonzero(table.run_time > 0.1 * table.span)


def _gone(table: ShiftTable, frozen: frozenset[str]) -> list[InstrumentFault]:
    """Signals usually read that stand still, are silent, or read nothing but zero for long."""
    found = []
    run = _last_running(table)
    for key, mean in table.mean.items():
        base = key.removesuffix("_meter")
        if base not in signals() or signal(base).kind is SignalKind.STATE or run.size < 8:
            continue
        sampled = base in _LABORATORY and not _by_minutes(table, key)
        read = np.isfinite(mean[run]) & ((mean[run] != 0) | (signal(base).low < 0))
        read &= sampled | (table.cover(key)[run] > 0.3)
        often = float(read.mean())
        least = max(10, int(np.ceil(6.0 / often))) if sampled and often else 3
        if often < 0.2:
            continue
        for begin, end in _merged(_stretches(~read, least)):
            kind = Trouble.FROZEN if base in frozen and not sampled else Trouble.DEAD
            since, until = int(table.start[run[begin]]), int(table.start[run[end - 1]])
            found.append(InstrumentFault(base, kind, since, until, 0, 0.0, end < run.size - 4))
    return found


def _by_minutes(table: ShiftTable, key: str) -> bool:
    cover = table.cover(key)
    return bool(((cover > 0) & (cover < 1)).any())


def _merged(parts: list[tuple[int, int]], apart: int = 12) -> list[tuple[int, int]]:
    """Stretches with little between them are one."""
    found: list[tuple[int, int]] = []
    for begin, end in parts:
        if found and begin - found[-1][1] <= apart:
            found[-1] = (found[-1][0], end)
        else:
            found.append((begin, end))
    return found


def _stretches(flag: BoolArray, least: int) -> list[tuple[int, int]]:
    """Runs of True of at least this length, as begin and end."""
    edges = np.flatnonzero(np.diff(np.r_[0, flag.astype(np.int8), 0]))
    return [
        (int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= least
    ]


_UNCHANGED, _SPIKE = "unchanged for", "spike"


def _from_cleaning(table: ShiftTable, removed: Sequence[Removed]) -> list[InstrumentFault]:
    """Faults told by what cleaning had to take out, if it is more than a trifle."""
    found = []
    hours = float(table.run_time.sum()) / 3600.0
    for one in removed:
        if one.signal not in signals():
            continue
        key = one.signal
        if _SPIKE in one.reason and one.count > max(5, 0.02 * hours):
            kind = Trouble.SPIKING
        elif one.reason == "outside the possible" and one.count > 20:
            kind = Trouble.BEYOND
        elif one.reason == "not a number" and one.count > 20:
            kind = Trouble.UNREAD
        else:
            continue
        until = min(one.last, int(table.start[-1] + table.span[-1]))
        ended = int(table.start[-1]) - one.last > 2 * _DAY
        found.append(InstrumentFault(key, kind, one.first, until, one.count, 0.0, ended))
    return found


def _slip_kind(key: str, value: float, usual: float, others: Mapping[str, float]) -> Trouble | None:
    """What a laboratory value far from its neighbours looks like."""
    with np.errstate(all="ignore"):
        off = float(np.log(value / usual))
    for factor in (10.0, 100.0, 1000.0):
        if abs(abs(off) - np.log(factor)) < 0.25:
            return Trouble.TENFOLD
    if key in ("cake_solids", "feed_solids") and abs(np.log((1 - value) / usual)) < 0.2:
        return Trouble.MOISTURE
    for other, level in others.items():
        if other != key and abs(np.log(value / level)) < 0.25:
            return Trouble.SWAPPED
    return Trouble.ODD


# How far one sample may honestly lie from its neighbours (natural log; judgement).
_SWING = {"feed_solids": 0.5, "cake_solids": 0.25, "filtrate_solids": 1.2, "polymer_strength": 0.5}


def _laboratory(table: ShiftTable) -> tuple[ShiftTable, list[InstrumentFault]]:
    """Single laboratory values that no sludge could give are set aside, with what they look like.

    A value counts as a slip if it lies far from its neighbours on both sides and they agree.
    """
    mean, found = dict(table.mean), []
    usual: dict[str, float] = {
        key: float(np.nanmedian(mean[key]))
        for key in ("feed_solids", "cake_solids")
        if key in mean and np.isfinite(mean[key]).any()
    }
    for key in _LABORATORY:
        x = mean.get(key)
        if x is None or np.isfinite(x).sum() < 12:
            continue
        at = np.flatnonzero(np.isfinite(x) & (x > 0))
        # A value carried over a day is one sample.
        first = at[np.concatenate([[True], np.diff(x[at]) != 0])]
        line = np.log(x[first])
        bad = _far_out(line, _SWING[key])
        for i in np.flatnonzero(bad):
            near = np.r_[line[max(0, i - 4) : i], line[i + 1 : i + 5]]
            level = float(np.exp(np.median(near)))
            kind = _slip_kind(key, float(x[first[i]]), level, usual)
            size = float(line[i] - np.log(level))
            when = int(table.start[first[i]])
            found.append(InstrumentFault(key, kind or Trouble.ODD, when, when, 1, size, True))
            end = first[i + 1] if i + 1 < first.size else x.size
            same = np.zeros(x.shape, dtype=bool)
            same[first[i] : end] = x[first[i] : end] == x[first[i]]
            mean[key] = np.where(same, np.nan, mean[key])
    return replace(table, mean=mean), found


def _far_out(line: FloatArray, least: float, half: int = 4) -> BoolArray:
    """Values far from the median of their neighbours while those agree among themselves."""
    n = line.size
    left = np.clip(np.arange(n)[:, None] + np.r_[-half:0, 1 : half + 1], 0, n - 1)
    near = line[left]
    middle = np.median(near, axis=1)
    spread = 1.4826 * np.median(np.abs(near - middle[:, None]), axis=1)
    return np.asarray(np.abs(line - middle) > np.maximum(least, 5 * np.maximum(spread, 0.02)))


def joined(table: ShiftTable, baseline: BoolArray) -> ShiftTable:
    """Meter and laboratory of one quantity side by side: ``feed_solids_best`` is the meter, put
    right by the usual ratio of the two, and the sample where the meter is silent."""
    if "feed_solids_meter" not in table.mean:
        return table
    meter, sample = table.get("feed_solids_meter"), table.get("feed_solids")
    both = baseline & np.isfinite(meter) & np.isfinite(sample) & (meter != sample) & (meter > 0)
    if both.sum() < 6:
        return table
    ratio = float(np.median(sample[both] / meter[both]))
    best = np.where(np.isfinite(meter) & (meter > 0), ratio * meter, sample)
    filled = np.where(np.isfinite(sample) & (sample != meter), sample, ratio * meter)
    sampled = (np.isfinite(sample) & (sample != meter)).astype(float)
    mean = {
        **table.mean, "feed_solids_best": best, "feed_solids": filled,
        "feed_solids_sampled": sampled,
    }  # fmt: skip
    return replace(table, mean=mean)


def instrument_faults(
    table: ShiftTable, removed: Sequence[Removed] = ()
) -> tuple[ShiftTable, tuple[InstrumentFault, ...]]:
    """The table without laboratory slips, and every reading not to be trusted, newest first."""
    table, slips = _laboratory(table)
    frozen = frozenset(one.signal for one in removed if one.reason.startswith(_UNCHANGED))
    found = [*_from_cleaning(table, removed), *_gone(table, frozen), *slips]
    return table, tuple(sorted(found, key=lambda one: (one.ended, -one.until, one.key)))
