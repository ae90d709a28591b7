"""Local clock to UTC and back, with the hours that happen twice or never."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
from numpy.typing import NDArray

from cakewright.errors import UnknownNameError

__all__ = ["LocalTimes", "local_from_utc", "utc_from_local", "zone_steps"]

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
_FIRST, _LAST = 1970, 2100


@dataclass(frozen=True, slots=True, eq=False)
class LocalTimes:
    """UTC seconds of local clock readings, and which readings were special.

    ``never`` marks readings the clock skipped in spring; ``twice`` those of the repeated autumn
    hour that the order of the rows could not tell apart (taken as the first pass).
    """

    utc: IntArray
    never: BoolArray
    twice: BoolArray


def _offset(zone: ZoneInfo, moment: datetime) -> int:
    step = moment.astimezone(zone).utcoffset()
    return 0 if step is None else int(step.total_seconds())


def _step_between(zone: ZoneInfo, low: datetime, high: datetime) -> int:
    """UTC second at which the offset changes between two moments."""
    before = _offset(zone, low)
    while high - low > timedelta(seconds=1):
        middle = low + (high - low) / 2
        middle = middle.replace(microsecond=0)
        if middle == low:
            break
        low, high = (middle, high) if _offset(zone, middle) == before else (low, middle)
    return int(high.timestamp())


@cache
def zone_steps(zone_name: str) -> tuple[IntArray, IntArray]:
    """UTC seconds at which a zone's offset changes, and the offset from then on (s).

    The first entry is the earliest moment looked at (1970).

    Raises
    ------
    UnknownNameError
        If the zone is not in the time-zone database.
    """
    try:
        zone = ZoneInfo(zone_name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise UnknownNameError(
            f"{zone_name!r} is not a time zone; use a name such as 'Europe/Vienna' or 'UTC'"
        ) from None
    moment = datetime(_FIRST, 1, 1, tzinfo=UTC)
    steps, offsets = [int(moment.timestamp())], [_offset(zone, moment)]
    while moment.year < _LAST:
        later = moment + timedelta(days=14)
        if _offset(zone, later) != offsets[-1]:
            steps.append(_step_between(zone, moment, later))
            offsets.append(_offset(zone, later))
        moment = later
    return np.array(steps, dtype=np.int64), np.array(offsets, dtype=np.int64)


def local_from_utc(utc: IntArray, zone_name: str) -> IntArray:
    """Local clock reading, as seconds since 1970 on that clock."""
    steps, offsets = zone_steps(zone_name)
    return utc + offsets[np.clip(np.searchsorted(steps, utc, side="right") - 1, 0, None)]


def utc_from_local(local: IntArray, zone_name: str) -> LocalTimes:
    """UTC of local clock readings given in the order they were written.

    In the repeated hour a reading is of the second pass once the clock has been seen to jump
    back within that hour, or if it is the second of two with one time while every reading of that
    hour comes twice; without such a sign it is taken as the first pass and marked.
    """
    steps, offsets = zone_steps(zone_name)
    guess = offsets[np.clip(np.searchsorted(steps + offsets, local, side="right") - 1, 0, None)]
    utc = local - guess
    never = local_from_utc(utc, zone_name) != local
    twice = np.zeros(local.shape, dtype=bool)
    for step, new, old in zip(steps[1:], offsets[1:], offsets[:-1], strict=True):
        width = int(old - new)
        start = int(step + new)
        if width > 0 and local.size and local.min() < start + width and local.max() >= start:
            inside = np.flatnonzero((local >= start) & (local < start + width))
            _first_pass(local, utc, twice, inside, int(old))
    return LocalTimes(utc=utc, never=never, twice=twice)


def _first_pass(
    local: IntArray, utc: IntArray, twice: BoolArray, inside: IntArray, old: int
) -> None:
    """Rows of a repeated hour before the clock jumps back take the offset of the first pass."""
    back = np.flatnonzero(np.diff(local[inside]) < -60)
    first = inside[: back[0] + 1] if back.size else inside[~_second_of_pair(local, inside)]
    utc[first] = local[first] - old
    twice[first] = first.size == inside.size


def _second_of_pair(local: IntArray, inside: IntArray) -> BoolArray:
    """Rows written as the second of two with one time, where all of the hour come in pairs.

    So do hourly rows and rows put in order by the clock. Where the rows beside that hour come in
    pairs too, somebody wrote everything twice, and nothing can be told.
    """
    values, place, count = np.unique(local[inside], return_inverse=True, return_counts=True)
    second = np.zeros(inside.shape, dtype=bool)
    width = 3600
    near = (local >= values[0] - width) & (local < values[-1] + 2 * width)
    near[inside] = False
    beside = np.unique(local[near], return_counts=True)[1]
    if (count == 2).mean() < 0.8 or (beside.size and (beside == 2).mean() > 0.2):
        return second
    order = np.argsort(place, kind="stable")
    repeats = np.flatnonzero(np.diff(place[order]) == 0) + 1
    second[order[repeats]] = True
    return second
