"""Minute rows -> one record per shift: means while running, coverage, hours, starts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

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


def with_records(table: ShiftTable, records: Block, plan: ShiftPlan, *, daily: bool) -> ShiftTable:
    """The table with laboratory or day records put beside the minute means.

    A shift record goes to the shift it falls in; a day record to every shift of that local day.
    A record wins over the mean of minute readings of the same signal, and covers the whole shift.
    """
    have, want = plan.start_of(records.time), table.start
    if daily:
        have = local_from_utc(records.time, plan.zone) // 86400
        want = want // 86400
    mean, coverage = dict(table.mean), dict(table.coverage)
    for key, value in records.values.items():
        good = np.isfinite(value)
        slots, inverse = np.unique(have[good], return_inverse=True)
        if not slots.size:
            continue
        total = np.bincount(inverse, weights=value[good]) / np.bincount(inverse)
        place = np.clip(np.searchsorted(slots, want), 0, slots.size - 1)
        hit = slots[place] == want
        mean[key] = np.where(hit, total[place], table.get(key))
        coverage[key] = np.where(hit, 1.0, table.cover(key))
    return ShiftTable(
        table.start,
        table.span,
        table.run_time,
        table.seen_time,
        table.starts,
        mean,
        coverage,
        table.shaft_time,
        table.shaft_starts,
    )


def shift_utc(table: ShiftTable, plan: ShiftPlan) -> IntArray:
    """UTC seconds at which each shift begins."""
    return utc_from_local(table.start, plan.zone).utc
