"""Files in, findings out: load logs into the store, read the shifts back, run the watch."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from cakewright.jobs.watch import LogTally, WatchFindings, watch_site
from cakewright.running.signals import signals
from cakewright.running.site import Site
from cakewright.storage.logs.column_map import ColumnMap
from cakewright.storage.logs.store import (
    LoadReport,
    LogJob,
    Tally,
    load_logs,
    read_shifts,
    read_tallies,
)

__all__ = ["tallies_of", "watch_logs"]


def tallies_of(tallies: Iterable[Tally], gaps: int = 0) -> tuple[LogTally, ...]:
    """What cleaning did, in words, most frequent first."""
    labels = {key: one.label for key, one in signals().items()}
    found = [
        LogTally(f"{one.action}: {one.reason}", labels.get(one.signal, "whole row"), one.count)
        for one in tallies
    ]
    if gaps:
        found.append(LogTally("gap in the log (nothing was filled in)", "whole row", gaps))
    return tuple(sorted(found, key=lambda tally: -tally.count))


def _notes(report: LoadReport) -> tuple[str, ...]:
    labels = {key: one.label for key, one in signals().items()}
    empty = tuple(f"{labels[key]}: the column holds no number at all." for key in report.empty)
    return (*report.notes, *empty)


def watch_logs(
    logs: Sequence[tuple[Sequence[Path], ColumnMap]],
    site: Site,
    store: Path,
    now: int,
    tell: Callable[[str], None] = lambda words: None,
) -> tuple[WatchFindings, tuple[LoadReport, ...]]:
    """Load each group of files by its map, then watch the whole store of the site."""
    reports = []
    for paths, column_map in logs:
        tell(f"reading {len(paths)} file{'s' if len(paths) > 1 else ''} of {column_map.site}")
        reports.append(load_logs(LogJob(tuple(paths), column_map, store, now)))
    tell("reckoning shifts")
    table = read_shifts(store, site.key, site.plan)
    tell("reconciling, watching and explaining")
    tallies = tallies_of(read_tallies(store, site.key), sum(len(report.gaps) for report in reports))
    notes = [note for report in reports for note in _notes(report)]
    return watch_site(table, site, tallies=tallies, load_notes=notes), tuple(reports)
