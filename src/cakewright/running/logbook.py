"""What people wrote down: answers to deciding tests, what was done, acknowledgements, readings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from cakewright.running.diagnosis import causes, deciding_tests

__all__ = ["Entry", "EntryKind", "answers_at", "learnt_rates"]

_VALID = 21 * 86_400  # an answer speaks of alarms of the three weeks before it
_PRIOR_YEARS = 2.0  # how many years of a site's own record outweigh the table of rates


class EntryKind(StrEnum):
    """What an entry is."""

    ANSWER = "answer"
    DONE = "done"
    SEEN = "seen"
    NOTE = "note"
    READING = "reading"


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the logbook: when (UTC s), who, what.

    ``key`` is the test answered, the cause that was put right, the signal read; ``value`` the
    number of the outcome, or the reading in SI.
    """

    time: int
    kind: EntryKind
    text: str
    who: str = ""
    key: str = ""
    value: float | None = None


def answers_at(entries: Sequence[Entry], alarm: int) -> Mapping[str, int]:
    """Outcomes of deciding tests that speak of an alarm that rang at this moment (UTC s)."""
    found = {}
    for one in sorted(entries, key=lambda entry: entry.time):
        near = alarm - 86_400 <= one.time <= alarm + _VALID
        if one.kind is EntryKind.ANSWER and near and one.key in deciding_tests():
            found[one.key] = int(one.value or 0)
    return found


def learnt_rates(
    entries: Sequence[Entry], years: float, table: Mapping[str, float]
) -> Mapping[str, float]:
    """Events a year of each cause after what was found and put right here; the table counts as two
    years of record."""
    counts: dict[str, int] = {}
    for one in entries:
        if one.kind is EntryKind.DONE and one.key in causes():
            key = one.key.removesuffix("_high").removesuffix("_low")
            counts[key] = counts.get(key, 0) + 1
    if not counts:
        return table
    total = _PRIOR_YEARS + max(years, 0.0)
    fixed = ("nothing", "other")
    return {
        key: rate if key in fixed else (rate * _PRIOR_YEARS + counts.get(key, 0)) / total
        for key, rate in table.items()
    }
