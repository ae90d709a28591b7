"""Receipts: what was read of each file, with its fingerprint, and what was left out and why."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

__all__ = ["FileSeen", "Receipt", "fingerprint", "keep_receipts", "read_receipts"]

IntArray = NDArray[np.int64]
_MOST = 400


@dataclass(frozen=True, slots=True)
class Receipt:
    """What was read of one file.

    ``first`` and ``last`` are UTC seconds; ``clock`` says how its times were taken; ``left_out``
    are rows with the reason they were dropped, ``removed`` readings blanked or altered.
    """

    file: str
    sha256: str
    rows: int
    kept: int
    first: int
    last: int
    zone: str
    clock: str
    left_out: tuple[tuple[str, int], ...] = ()
    removed: tuple[tuple[str, int], ...] = ()
    notes: tuple[str, ...] = ()

    def text(self) -> str:
        """The receipt in one paragraph."""
        span = f"{_local(self.first, self.zone)} to {_local(self.last, self.zone)}"
        head = f"{self.file} (sha256 {self.sha256[:12]}): {self.rows} rows, {self.kept} kept"
        when = f", {span}; {self.clock}" if self.last else ""
        left = "; ".join(f"{n} x {why}" for why, n in self.left_out)
        told = " ".join(f"{note}." for note in self.notes)
        return f"{head}{when}.{f' Left out: {left}.' if left else ''}{f' {told}' if told else ''}"


def _local(moment: int, zone: str) -> str:
    return (
        datetime.fromtimestamp(moment, UTC).astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M %Z")
    )


@dataclass(slots=True)
class FileSeen:
    """What is met while one file is read; becomes its receipt."""

    file: str
    sha256: str
    rows: int
    zone: str
    notes: list[str]
    first: int = 2**62
    last: int = 0
    told: int = 0
    by_zone: int = 0
    skipped: list[int] = field(default_factory=list)
    before: int = 0
    dropped: Counter[str] = field(default_factory=Counter)
    changed: Counter[str] = field(default_factory=Counter)
    back: list[tuple[int, int]] = field(default_factory=list)

    def see(self, utc: IntArray, aware: NDArray[np.bool_], never: NDArray[np.bool_]) -> None:
        """Times of one stretch, in the order they were written."""
        if not utc.size:
            return
        self.first, self.last = min(self.first, int(utc.min())), max(self.last, int(utc.max()))
        self.told += int(aware.sum())
        self.by_zone += int((~aware).sum())
        self.skipped += utc[never].tolist()[:1]
        step = np.diff(utc, prepend=self.before or utc[0])
        self.before = int(utc[-1])
        turned = np.flatnonzero(step < 0)
        if turned.size and turned.size < 0.02 * utc.size + 2 and (step > 0).mean() > 0.5:
            self.back += [(int(utc[i]), int(-step[i])) for i in turned]

    def _clock(self) -> str:
        if self.told and self.by_zone:
            return (
                f"{self.told} times carry their own offset, {self.by_zone} carry none and were "
                f"taken as {self.zone}"
            )
        return "times carry their own offset" if self.told else f"times taken as {self.zone}"

    def _hints(self) -> Iterable[str]:
        if self.told and self.by_zone:
            yield "Two kinds of time in one file: look whether they mean the same clock"
        if self.skipped:
            date = datetime.fromtimestamp(self.skipped[0], UTC).date()
            yield (
                f"Rows stand in the hour that clocks in {self.zone} skip on {date}: the log may "
                "keep standard time all year; then give a zone without change, such as Etc/GMT-1"
            )
        if self.back:
            at, by = self.back[0]
            more = f", and {len(self.back) - 1} more" if len(self.back) > 1 else ""
            yield f"The clock was set back by {by} s at {_local(at, self.zone)}{more}"

    def receipt(self) -> Receipt:
        """What was read of the file."""
        dropped = tuple(sorted(self.dropped.items(), key=lambda pair: -pair[1]))
        changed = tuple(sorted(self.changed.items(), key=lambda pair: -pair[1]))
        kept = self.rows - sum(self.dropped.values())
        if self.rows and self.dropped["row repeated"] > 0.9 * self.rows:
            self.notes.append("Nearly every row was there already: was this file read before")
        first = self.first if self.last else 0
        return Receipt(
            self.file, self.sha256, self.rows, kept, first, self.last, self.zone, self._clock(),
            dropped, changed, (*self.notes, *self._hints()),
        )  # fmt: skip


def fingerprint(path: Path) -> str:
    """SHA-256 of a file."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _place(store: Path, site: str) -> Path:
    return store / "receipts" / f"site={site}.json"


def keep_receipts(store: Path, site: str, fresh: Iterable[Receipt]) -> None:
    """Keep receipts beside the readings; a file read again replaces its older receipt."""
    held = {(r.file, r.sha256): r for r in read_receipts(store, site)}
    for one in fresh:
        held.pop((one.file, one.sha256), None)
        held[one.file, one.sha256] = one
    path = _place(store, site)
    path.parent.mkdir(parents=True, exist_ok=True)
    partial = path.with_name(f".{path.name}.part")
    rows = [asdict(one) for one in list(held.values())[-_MOST:]]
    partial.write_text(json.dumps(rows, indent=1, ensure_ascii=False), encoding="utf-8")
    partial.replace(path)


def read_receipts(store: Path, site: str) -> tuple[Receipt, ...]:
    """Receipts of everything ever read into a store for a site, oldest first."""
    path = _place(store, site)
    if not path.is_file():
        return ()
    try:
        rows: list[Mapping[str, Any]] = json.loads(path.read_text(encoding="utf-8"))
        return tuple(_receipt(row) for row in rows)
    except (ValueError, TypeError, KeyError):
        return ()  # a receipt lost to a power cut must not stop the watch


def _receipt(row: Mapping[str, Any]) -> Receipt:
    pairs = {
        key: tuple((str(why), int(n)) for why, n in row[key]) for key in ("left_out", "removed")
    }
    return Receipt(**{**row, **pairs, "notes": tuple(row["notes"])})
