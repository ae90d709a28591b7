"""The logbook of a site, kept beside its readings: one line an entry, written at once."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from cakewright.errors import DataError, Fault
from cakewright.quantities import to_si
from cakewright.running.diagnosis import causes, deciding_tests
from cakewright.running.logbook import Entry, EntryKind
from cakewright.running.signals import signal
from cakewright.storage.texts import read_text

__all__ = ["entry_from", "read_entries", "read_logbook", "write_entry"]


def _path(store: Path, site: str) -> Path:
    return store / "logbook" / f"site={site}.jsonl"


def read_logbook(store: Path, site: str) -> tuple[Entry, ...]:
    """Every entry, oldest first; a line cut by a power failure is left out."""
    path = _path(store, site)
    if not path.is_file():
        return ()
    found = []
    for line in path.read_text(encoding="utf-8").splitlines():
        try:
            row: Mapping[str, Any] = json.loads(line)
            found.append(Entry(**{**row, "kind": EntryKind(row["kind"])}))
        except (ValueError, TypeError, KeyError):
            continue
    return tuple(sorted(found, key=lambda one: one.time))


def write_entry(store: Path, site: str, entry: Entry) -> None:
    """One entry, on the disk before this returns."""
    path = _path(store, site)
    path.parent.mkdir(parents=True, exist_ok=True)
    cut = path.is_file() and path.stat().st_size > 0 and path.read_bytes()[-1:] != b"\n"
    with path.open("a", encoding="utf-8") as file:
        file.write(("\n" if cut else "") + json.dumps(asdict(entry), ensure_ascii=False) + "\n")
        file.flush()
        os.fsync(file.fileno())


def entry_from(kind: str, key: str, text: str, time: int, who: str = "") -> Entry:
    """An entry from what a person wrote; an answer by the words of its outcome or their beginning,
    a reading as number and unit.

    Raises
    ------
    DataError
        If the test, the outcome, the cause or the signal is not one that is known.
    """
    what = EntryKind(kind)
    if what is EntryKind.ANSWER:
        tests = deciding_tests()
        if key not in tests:
            raise _wrong("test", key, ", ".join(tests))
        words = tests[key].outcomes
        hits = [i for i, word in enumerate(words) if word.startswith(text.strip().lower())]
        if len(hits) != 1:
            raise _wrong(key, text, " or ".join(repr(word) for word in words))
        return Entry(time, what, words[hits[0]], who, key, float(hits[0]))
    if what is EntryKind.DONE and key and key not in causes():
        raise _wrong("cause", key, ", ".join(causes()))
    if what is EntryKind.READING:
        house = signal(key).house
        number, _, unit = text.strip().replace(",", ".").partition(" ")
        try:
            value = float(to_si(float(number), unit.strip() or house.shown, house.unit))
        except ValueError:
            raise _wrong(key, text, f"a number, with its unit if not {house.shown}") from None
        return Entry(time, what, text.strip(), who, key, value)
    return Entry(time, what, text.strip()[:2000], who, key)


def read_entries(path: Path) -> tuple[Entry, ...]:
    """Entries of a shift page, each checked as if typed.

    Raises
    ------
    DataError
        With every line that is none.
    """
    found, faults = [], []
    for n, line in enumerate(read_text(path, what="entries are text").splitlines(), 1):
        if not line.strip():
            continue
        try:
            row = json.loads(line)
            text, who = str(row["text"]), str(row.get("who", ""))[:40]
            found.append(entry_from(row["kind"], str(row["key"]), text, int(row["time"]), who))
        except DataError as error:
            faults += list(error.faults)
        except (ValueError, TypeError, KeyError):
            faults.append(Fault(f"line {n}", line[:60], "an entry of a shift page", "take it out"))
    if faults:
        raise DataError(str(path), faults)
    return tuple(found)


def _wrong(where: str, got: str, allowed: str) -> DataError:
    return DataError("logbook", [Fault(where, repr(got), allowed, "write it as one of these")])
