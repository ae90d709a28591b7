"""Minute rows -> one record per shift: means while running, coverage, hours, starts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from cakewright.quantities import FloatArray
from cakewright.running.cleaning import Block, machine_on
from cakewright.running.clock import local_from_utc, utc_from_local
from cakewright.running.signals import SHAFTS

__all__ = ["ShiftPlan", "ShiftTable", "join_shifts", "shift_means", "with_records"]

IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class ShiftPlan:
    """When shifts begin: first start after local midnight and length, both in hours."""

    zone: str = "UTC"
    first_hour: float = 6.0
    hours: float = 8.0

    def start_of(self, utc: IntArray) -> IntArray:
        """Start of the shift each moment falls in, as seconds on the local clock."""
        local = local_from_utc(utc, self.zone)
        first, length = int(self.first_hour * 3600), int(self.hours * 3600)
        return (local - first) // length * length + first


@dataclass(frozen=True, slots=True, eq=False)
class ShiftTable:
    """One row per shift; everything SI; NaN where nothing usable was read.

    ``start`` is on the local clock (seconds since 1970), so that dates read as on site;
    ``coverage`` is the share of the run time with a usable reading, per signal.
    """

    start: IntArray
    span: FloatArray
    run_time: FloatArray
    seen_time: FloatArray
    starts: FloatArray
    mean: Mapping[str, FloatArray]
    coverage: Mapping[str, FloatArray]
    shaft_time: Mapping[int, FloatArray] = field(default_factory=dict)
    shaft_starts: Mapping[int, FloatArray] = field(default_factory=dict)

    @property
    def size(self) -> int:
        """Number of shifts."""
        return int(self.start.size)

    def get(self, key: str) -> FloatArray:
        """Means of one signal; all NaN if the log does not carry it."""
        found = self.mean.get(key)
        return np.full(self.start.shape, np.nan) if found is None else found

    def cover(self, key: str) -> FloatArray:
        """Coverage of one signal; zero if the log does not carry it."""
        found = self.coverage.get(key)
        return np.zeros(self.start.shape) if found is None else found

    def take(self, index: NDArray[np.generic]) -> ShiftTable:
        """The shifts of an index or mask."""
        return ShiftTable(
            self.start[index],
            self.span[index],
            self.run_time[index],
            self.seen_time[index],
            self.starts[index],
            {k: v[index] for k, v in self.mean.items()},
            {k: v[index] for k, v in self.coverage.items()},
            {k: v[index] for k, v in self.shaft_time.items()},
            {k: v[index] for k, v in self.shaft_starts.items()},
        )


def _step(time: IntArray) -> float:
    """Usual seconds between rows."""
    if time.size < 2:
        return 60.0
    return float(np.median(np.diff(time)[:5000]))


def _sum(values: FloatArray, first: IntArray) -> FloatArray:
    return np.add.reduceat(values, first) if first.size else np.zeros(0)


def _rises(on: NDArray[np.bool_], first: IntArray) -> FloatArray:
    """Starts per group: rows that are on after a row that is off."""
    rise = np.concatenate([[False], on[1:] & ~on[:-1]])
    return _sum(rise.astype(float), first)


def shift_means(block: Block, plan: ShiftPlan) -> ShiftTable:
    """One record per shift from clean rows in time order.

    Means are taken over the rows in which the machine runs; a shift without a running row has no
    means. Seen time counts rows, so that a gap shows as missing time and not as standstill.
    """
    start = plan.start_of(block.time)
    first = np.flatnonzero(np.concatenate([[True], np.diff(start) != 0])[: start.size])
    on = machine_on(block.values, block.time.size)
    step = _step(block.time)
    rows_on = _sum(on.astype(float), first)
    mean: dict[str, FloatArray] = {}
    coverage: dict[str, FloatArray] = {}
    for key, value in block.values.items():
        if key.endswith("_on"):
            continue
        good = np.isfinite(value) & on
        count = _sum(good.astype(float), first)
        total = _sum(np.where(good, value, 0.0), first)
        mean[key] = np.divide(total, count, out=np.full(count.shape, np.nan), where=count > 0)
        coverage[key] = np.divide(count, rows_on, out=np.zeros(count.shape), where=rows_on > 0)
    shafts = _shafts(block)
    rows = np.diff(np.append(first, start.size)).astype(float)
    return ShiftTable(
        start=start[first],
        span=np.full(first.shape, plan.hours * 3600.0),
        run_time=rows_on * step,
        seen_time=np.minimum(rows * step, plan.hours * 3600.0),
        starts=_rises(on, first),
        mean=mean,
        coverage=coverage,
        shaft_time={n: _sum(state.astype(float), first) * step for n, state in shafts.items()},
        shaft_starts={n: _rises(state, first) for n, state in shafts.items()},
    )


def _shafts(block: Block) -> dict[int, NDArray[np.bool_]]:
    keys = {n: f"shaft_{n}_on" for n in range(1, SHAFTS + 1)}
    return {n: block.values[key] > 0.5 for n, key in keys.items() if key in block.values}


def _stack(
    parts: Sequence[Mapping[str, FloatArray]], sizes: Sequence[int], fill: float
) -> dict[str, FloatArray]:
    keys = dict.fromkeys(key for part in parts for key in part)
    return {
        key: np.concatenate(
            [p.get(key, np.full(n, fill)) for p, n in zip(parts, sizes, strict=True)]
        )
        for key in keys
    }


def _stack_shafts(
    parts: Sequence[Mapping[int, FloatArray]], sizes: Sequence[int]
) -> dict[int, FloatArray]:
    named = [{str(n): v for n, v in part.items()} for part in parts]
    return {int(n): v for n, v in sorted(_stack(named, sizes, 0.0).items())}


def _merge_split(table: ShiftTable) -> ShiftTable:
    """One record where a shift was cut in two (at a month's end), weighted by run time."""
    order = np.argsort(table.start, kind="stable")
    table = table.take(order)
    first = np.flatnonzero(np.concatenate([[True], np.diff(table.start) != 0])[: table.size])
    if first.size == table.size:
        return table
    run = _sum(table.run_time, first)
    mean, coverage = {}, {}
    for key, value in table.mean.items():
        weight = np.where(np.isfinite(value), table.run_time * table.cover(key), 0.0)
        heavy = _sum(weight, first)
        total = _sum(np.where(weight > 0, value, 0.0) * weight, first)
        mean[key] = np.divide(total, heavy, out=np.full(heavy.shape, np.nan), where=heavy > 0)
        coverage[key] = np.divide(heavy, run, out=np.zeros(run.shape), where=run > 0)
    return ShiftTable(
        table.start[first],
        table.span[first],
        run,
        np.minimum(_sum(table.seen_time, first), table.span[first]),
        _sum(table.starts, first),
        mean,
        coverage,
        {n: _sum(v, first) for n, v in table.shaft_time.items()},
        {n: _sum(v, first) for n, v in table.shaft_starts.items()},
    )


def join_shifts(parts: Sequence[ShiftTable]) -> ShiftTable:
    """One table from several stretches of one site, in time order, cut shifts made whole."""
    sizes = [part.size for part in parts]

    def line(name: str) -> FloatArray:
        return np.concatenate([getattr(part, name) for part in parts])

    table = ShiftTable(
        np.concatenate([part.start for part in parts]),
        line("span"),
        line("run_time"),
        line("seen_time"),
        line("starts"),
        _stack([part.mean for part in parts], sizes, np.nan),
        _stack([part.coverage for part in parts], sizes, 0.0),
        _stack_shafts([part.shaft_time for part in parts], sizes),
        _stack_shafts([part.shaft_starts for part in parts], sizes),
    )
    return _merge_split(table)


_CARRIED = frozenset({"feed_solids", "polymer_strength"})


def with_records(
    table: ShiftTable, records: Block, plan: ShiftPlan, *, daily: bool,
    meters: frozenset[str] | None = None,
) -> ShiftTable:  # fmt: skip
    """The table with laboratory or day records put beside the minute means.

    A record goes to the shift it was taken in (a day record without a clock time to the shift of
    that local day which ran longest), so that one sample counts once; what the press is fed with
    is taken to hold for the whole day. A record wins over the mean of minute readings of the same
    signal, which is kept beside it as ``<signal>_meter``; ``meters`` are the signals read by the
    minute, for a table that has taken in records before.
    """
    mean, coverage = dict(table.mean), dict(table.coverage)
    meters = frozenset(table.mean) if meters is None else meters
    place, day = _places(table, records, plan, daily=daily)
    for key, value in records.values.items():
        good = np.isfinite(value) & (place >= 0)
        if not good.any():
            continue
        if key in meters and np.isfinite(table.get(key)).any() and f"{key}_meter" not in mean:
            mean[f"{key}_meter"], coverage[f"{key}_meter"] = table.get(key), table.cover(key)
        slot = np.full(table.size, np.nan)
        count = np.bincount(place[good], minlength=table.size)
        total = np.bincount(place[good], weights=value[good], minlength=table.size)
        np.divide(total, count, out=slot, where=count > 0)
        if daily:
            slot, covered = _over_the_day(slot, day, carried=key in _CARRIED)
        else:
            covered = np.isfinite(slot)
        mean[key] = np.where(np.isfinite(slot), slot, mean.get(key, np.nan))
        coverage[key] = np.where(covered, 1.0, table.cover(key))
    return replace(table, mean=mean, coverage=coverage)


def _places(
    table: ShiftTable, records: Block, plan: ShiftPlan, *, daily: bool
) -> tuple[IntArray, IntArray]:
    """Shift of each record (-1: none), and the local day of each shift."""
    want = plan.start_of(records.time)
    place = np.clip(np.searchsorted(table.start, want), 0, table.size - 1)
    hit = table.start[place] == want
    if not daily:
        return np.where(hit, place, -1), table.start // 86400
    local, day = local_from_utc(records.time, plan.zone), table.start // 86400
    timed = (local % 86400 != 0) & hit & (table.run_time[place] > 0)
    days, first = np.unique(day, return_index=True)
    last = np.append(first[1:], day.size)
    longest = np.array([a + int(np.argmax(table.run_time[a:b]))
                        for a, b in zip(first, last, strict=True)], dtype=np.int64)  # fmt: skip
    found = np.clip(np.searchsorted(days, local // 86400), 0, days.size - 1)
    same = np.where(days[found] == local // 86400, longest[found], -1)
    return np.where(timed, place, same), day


def _over_the_day(
    slot: FloatArray, day: IntArray, *, carried: bool
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """A day's sample covers its day; what it says is carried over the day only for the feed."""
    have = np.flatnonzero(np.isfinite(slot))
    days, last = np.unique(day[have][::-1], return_index=True)
    value = slot[have[::-1][last]] if have.size else np.zeros(0)
    at = np.clip(np.searchsorted(days, day), 0, max(days.size - 1, 0))
    covered = days[at] == day if days.size else np.zeros(day.shape, dtype=bool)
    if carried and days.size:
        slot = np.where(np.isfinite(slot), slot, np.where(covered, value[at], np.nan))
    return slot, covered


def shift_utc(table: ShiftTable, plan: ShiftPlan) -> IntArray:
    """UTC seconds at which each shift begins."""
    return utc_from_local(table.start, plan.zone).utc
