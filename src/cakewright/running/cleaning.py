"""Readings -> usable readings: order, duplicates, limits, unit slips, stuck sensors, gaps.

Nothing disappears in silence: every row dropped and every reading blanked or altered comes back
as a `Change` with its reason. A missing reading is NaN inside these arrays and NULL in files.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import cache

import numpy as np
from numpy.typing import NDArray

from cakewright.quantities import FloatArray
from cakewright.quantities.tables import packaged_table
from cakewright.running.signals import SignalKind, signal

__all__ = [
    "Action",
    "Block",
    "Change",
    "Gap",
    "Memory",
    "UnitSlip",
    "clean",
    "find_gaps",
    "machine_on",
    "unit_slips",
]

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
_BLOCK_SECONDS = 4 * 3600
_HOLE = 900.0  # seconds without a reading that end an unchanged run
_NEAR_FACTOR = 0.15  # a block is a unit slip if it lies this near (natural log) to the ratio
_SLIP_RANGE = 0.6  # ... and at least this far (natural log) from what is usual


class Action(StrEnum):
    """What was done."""

    DROPPED = "row dropped"
    BLANKED = "reading removed"
    ALTERED = "reading altered"


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Rows of one site: row number in its file, UTC seconds, one array per signal (NaN: none)."""

    row: IntArray
    time: IntArray
    values: Mapping[str, FloatArray]

    def take(self, index: NDArray[np.generic]) -> Block:
        """The rows of an index or mask, in that order."""
        picked = {key: value[index] for key, value in self.values.items()}
        return Block(self.row[index], self.time[index], picked)


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """Rows dropped or readings changed for one reason; ``signal`` is empty for whole rows."""

    action: Action
    reason: str
    signal: str
    row: IntArray
    time: IntArray
    before: FloatArray
    after: FloatArray


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch without any row, in UTC seconds."""

    start: int
    end: int


@dataclass(frozen=True, slots=True)
class UnitSlip:
    """written = factor * true + shift."""

    factor: float
    label: str
    shift: float = 0.0


@dataclass(frozen=True, slots=True)
class Run:
    """A value that has not moved: since when, and when it was last read."""

    value: float
    since: int
    seen: int


@dataclass(slots=True)
class Memory:
    """What cleaning must remember from one stretch of a site to the next."""

    usual: dict[str, float] = field(default_factory=dict)
    last: dict[str, Run] = field(default_factory=dict)


@cache
def unit_slips() -> Mapping[str, tuple[UnitSlip, ...]]:
    """Known ratios between mistaken units, by house name."""
    return {
        k: tuple(UnitSlip(**e) for e in v)
        for k, v in packaged_table("cakewright.running", "unit_slips.toml").items()
    }


def _rows(block: Block, index: NDArray[np.generic], action: Action, reason: str) -> Change:
    nothing = np.full(block.row[index].shape, np.nan)
    return Change(action, reason, "", block.row[index], block.time[index], nothing, nothing)


def _readings(
    block: Block, key: str, index: NDArray[np.generic], reason: str, after: FloatArray | None = None
) -> Change:
    before = block.values[key][index]
    action = Action.BLANKED if after is None else Action.ALTERED
    then = np.full(before.shape, np.nan) if after is None else after
    return Change(action, reason, key, block.row[index], block.time[index], before, then)


def machine_on(values: Mapping[str, FloatArray], size: int) -> BoolArray:
    """Rows in which the machine runs: by its flag, else by feed flow, else all."""
    if "machine_on" in values and np.isfinite(values["machine_on"]).any():
        return np.asarray(values["machine_on"] > 0.5)
    if "feed_flow" in values and np.isfinite(values["feed_flow"]).any():
        return np.asarray(values["feed_flow"] > 0.0)
    return np.ones(size, dtype=bool)


def _drop_times(block: Block, now: int, earliest: int) -> tuple[Block, list[Change]]:
    late, early = block.time > now, block.time < earliest
    changes = []
    if late.any():
        changes.append(_rows(block, late, Action.DROPPED, "time lies in the future"))
    if early.any():
        changes.append(_rows(block, early, Action.DROPPED, "time lies before records began"))
    return (block.take(~(late | early)) if changes else block), changes


def _same_rows(block: Block, index: IntArray) -> BoolArray:
    """Whether each row says the same as the row before it."""
    same = np.ones(index.shape, dtype=bool)
    for value in block.values.values():
        here, before = value[index], value[index - 1]
        same &= (here == before) | (np.isnan(here) & np.isnan(before))
    return same


def _order(block: Block) -> tuple[Block, list[Change]]:
    """Rows in time order, one per time."""
    if block.time.size > 1 and (np.diff(block.time) < 0).any():
        block = block.take(np.argsort(block.time, kind="stable"))
    again = np.flatnonzero(np.diff(block.time) == 0) + 1
    if not again.size:
        return block, []
    same = _same_rows(block, again)
    changes = []
    if same.any():
        changes.append(_rows(block, again[same], Action.DROPPED, "row repeated"))
    if not same.all():
        reason = "second row for the same time that says otherwise"
        changes.append(_rows(block, again[~same], Action.DROPPED, reason))
    keep = np.ones(block.time.shape, dtype=bool)
    keep[again] = False
    return block.take(keep), changes


def _block_starts(time: IntArray) -> IntArray:
    number = time // _BLOCK_SECONDS
    return np.flatnonzero(np.concatenate([[True], np.diff(number) != 0])).astype(np.int64)


def _slip_of(
    ratio: float, level: float, usual: float, slips: Iterable[UnitSlip]
) -> UnitSlip | None:
    """The known unit slip that takes ``level`` back to what is usual, if there is one."""
    for slip in slips:
        if slip.shift:
            if abs((level - slip.shift) / slip.factor - usual) < 0.03 * usual and ratio > 1.08:
                return slip
            continue
        for factor in (slip.factor, 1.0 / slip.factor):
            if abs(math.log(ratio / factor)) < _NEAR_FACTOR and abs(math.log(ratio)) > _SLIP_RANGE:
                return UnitSlip(factor, slip.label)
    return None


def _slipped(
    block: Block, key: str, good: BoolArray, memory: Memory
) -> dict[str, tuple[UnitSlip, BoolArray]]:
    """Rows of one signal written in another unit, by label of the slip."""
    slips = unit_slips().get(signal(key).name, ())
    value = block.values[key]
    starts = _block_starts(block.time)
    count = np.add.reduceat(good.astype(float), starts)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.add.reduceat(np.where(good, value, 0.0), starts) / count
    usual = memory.usual.get(key, float("nan"))
    known = mean[np.isfinite(mean)]
    if not np.isfinite(usual) and known.size:
        one = signal(key)
        likely = known[(known >= one.low) & (known <= one.high)]
        usual = float(np.median(likely if likely.size else known))
    found: dict[str, tuple[UnitSlip, BoolArray]] = {}
    ends = np.append(starts[1:], value.size)
    gate = 0.05 if any(slip.shift for slip in slips) else 0.7 * _SLIP_RANGE
    for i in np.flatnonzero(np.isfinite(mean)):
        part = slice(starts[i], ends[i])
        level = float(mean[i])
        if slips and abs(math.log(level / usual)) > gate:
            level = float(np.median(value[part][good[part]]))
            slip = _slip_of(level / usual, level, usual, slips)
            if slip is not None:
                _, mask = found.setdefault(
                    f"{slip.label}|{slip.factor:.4g}", (slip, np.zeros(value.shape, dtype=bool))
                )
                mask[part] = good[part]
                level = (level - slip.shift) / slip.factor
            elif abs(math.log(level / usual)) > _SLIP_RANGE:
                continue  # neither usual nor a known slip: no reason to move the usual level
        usual += 0.1 * (level - usual)
    memory.usual[key] = usual
    return found


def _refine(value: FloatArray, usual: float, slip: UnitSlip, mask: BoolArray) -> BoolArray:
    """Within and beside slipped blocks, the rows that lie nearer to the slip than to the usual."""
    # Cut from the full result: a block shorter than the window must keep its own length.
    spread = np.convolve(mask.astype(float), np.ones(481))[240 : 240 + mask.size] > 0.5
    if slip.shift:
        fixed = (value - slip.shift) / slip.factor
        return np.asarray(spread & (np.abs(fixed - usual) < np.abs(value - usual)))
    with np.errstate(invalid="ignore", divide="ignore"):
        away = np.log(value / usual)
    nearer = np.abs(away - np.log(slip.factor)) < np.abs(away)
    return np.asarray(spread & nearer & (value > 0))


def _undo_slips(block: Block, on: BoolArray, memory: Memory) -> tuple[Block, list[Change]]:
    values, changes = dict(block.values), []
    for key, value in block.values.items():
        if signal(key).kind is SignalKind.STATE or not block.time.size:
            continue
        good = np.isfinite(value) & (value > 0) & on
        for slip, mask in _slipped(block, key, good, memory).values():
            rows = np.flatnonzero(_refine(value, memory.usual[key], slip, mask))
            if not rows.size:
                continue
            after = (values[key][rows] - slip.shift) / slip.factor
            reason = f"unit slip by {slip.label}"
            changes.append(_readings(block, key, rows, reason, after))
            values[key] = values[key].copy()
            values[key][rows] = after
    return replace(block, values=values), changes


def _blank_impossible(block: Block) -> tuple[Block, list[Change]]:
    values, changes = dict(block.values), []
    for key, value in block.values.items():
        one = signal(key)
        wrong = (value < one.low) | (value > one.high)
        if one.kind is not SignalKind.STATE and "machine_on" in values:
            wrong &= ~(values["machine_on"] < 0.5)  # a press that stands reads what it likes
        bad = np.flatnonzero(wrong)
        if bad.size:
            changes.append(_readings(block, key, bad, "outside the possible"))
            values[key] = value.copy()
            values[key][bad] = np.nan
    return replace(block, values=values), changes


_TIMES = 2.5  # a reading this many times what is usual may be a spike
_SPIKE_ROWS, _SPIKE_SECONDS = 10, 900


def _blank_spikes(block: Block, on: BoolArray, memory: Memory) -> tuple[Block, list[Change]]:
    """Short leaps away from what stands on both sides, of a size the press cannot do.

    A press takes minutes to change; a reading that leaps to a multiple of the usual and back
    within a quarter of an hour is the instrument's. One that stays is believed.
    """
    values, changes = dict(block.values), []
    for key, value in block.values.items():
        usual = memory.usual.get(key, float("nan"))
        one = signal(key)
        if (one.kind is not SignalKind.MEASURED and key not in _METERS) or not usual > 0:
            continue
        high = np.flatnonzero((value > _TIMES * usual) & on)
        bad = _short_leaps(block.time, value, high)
        if bad.size:
            reason = "spike, beyond the range of this press"
            changes.append(_readings(block, key, bad, reason))
            values[key] = value.copy()
            values[key][bad] = np.nan
    return replace(block, values=values), changes


_METERS = frozenset({"feed_solids", "cake_solids", "filtrate_solids"})


def _short_leaps(time: IntArray, value: FloatArray, high: IntArray) -> IntArray:
    """Those of the high rows that stand in short runs with much lower readings on both sides."""
    if not high.size:
        return high
    cut = np.flatnonzero(np.diff(high) > 1) + 1
    bad = []
    for run in np.split(high, cut):
        if run.size > _SPIKE_ROWS or time[run[-1]] - time[run[0]] > _SPIKE_SECONDS:
            continue
        near = np.r_[value[max(0, run[0] - 6) : run[0]], value[run[-1] + 1 : run[-1] + 7]]
        near = near[np.isfinite(near)]
        if near.size >= 2 and value[run].min() > 2.0 * np.median(near):
            bad.append(run)
    return np.concatenate(bad) if bad else high[:0]


def _stuck_rows(
    time: IntArray, value: FloatArray, on: BoolArray, limit: float, last: Run | None
) -> tuple[BoolArray, Run | None]:
    """Rows of unchanged runs longer than ``limit`` seconds, and the run still open at the end.

    A hole in the log ends a run: nobody knows what the sensor did meanwhile.
    """
    have = np.flatnonzero(np.isfinite(value) & on)
    stuck = np.zeros(value.shape, dtype=bool)
    if not have.size:
        return stuck, last
    x, t = value[have], time[have]
    step = np.diff(t)
    hole = max(_HOLE, 5 * float(np.median(step))) if step.size else _HOLE
    first = np.flatnonzero(np.concatenate([[True], (np.diff(x) != 0) | (step > hole)]))
    length = np.diff(np.append(first, x.size))
    begin = t[first].copy()
    carried = last is not None and last.value == x[0] and t[0] - last.seen <= hole
    if last is not None and carried:
        begin[0] = last.since
    long = t[first + length - 1] - begin >= limit
    mask = np.repeat(long, length)
    own = first if not carried else first[1:]
    mask[own] = False  # the first reading of a run may be right
    stuck[have[mask]] = True
    return stuck, Run(float(x[-1]), int(begin[-1]), int(t[-1]))


def _blank_stuck(
    block: Block, on: BoolArray, held: frozenset[str], memory: Memory
) -> tuple[Block, list[Change]]:
    values, changes = dict(block.values), []
    for key, value in block.values.items():
        limit = signal(key).stuck_minutes * 60
        if not limit or key in held:
            continue
        stuck, last = _stuck_rows(block.time, value, on, limit, memory.last.get(key))
        if last is not None:
            memory.last[key] = last
        bad = np.flatnonzero(stuck)
        if bad.size:
            reason = f"unchanged for more than {signal(key).stuck_minutes:g} min"
            changes.append(_readings(block, key, bad, reason))
            values[key] = value.copy()
            values[key][bad] = np.nan
    return replace(block, values=values), changes


def clean(
    block: Block,
    *,
    now: int,
    earliest: int = 0,
    held: frozenset[str] = frozenset(),
    memory: Memory | None = None,
    minutes: bool = True,
) -> tuple[Block, tuple[Change, ...]]:
    """Usable rows in time order, and every change made on the way.

    ``held`` names signals that repeat their last value by design (a laboratory value written
    every minute); ``memory`` carries usual levels and open runs from one stretch to the next;
    ``minutes`` False (shift or day records) leaves out the search for stuck sensors.
    """
    memory = memory if memory is not None else Memory()
    block, changes = _drop_times(block, now, earliest)
    block, more = _order(block)
    changes += more
    on = machine_on(block.values, block.time.size)
    block, more = _undo_slips(block, on, memory)
    changes += more
    block, more = _blank_impossible(block)
    changes += more
    if minutes:
        block, more = _blank_spikes(block, on, memory)
        changes += more
        block, more = _blank_stuck(block, on, held, memory)
        changes += more
    return block, tuple(changes)


def find_gaps(time: IntArray, step: float, longest: float = 5.0) -> tuple[Gap, ...]:
    """Stretches longer than ``longest`` steps without a row; ``time`` in order, UTC seconds."""
    wide = np.flatnonzero(np.diff(time) > longest * step)
    return tuple(Gap(int(time[i]), int(time[i + 1])) for i in wide)
