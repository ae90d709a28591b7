"""Files in, findings out: load logs into the store, read the shifts back, run the watch."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from cakewright.errors import DataError, Fault
from cakewright.jobs.watch import LogTally, WatchFindings, press_response, watch_site
from cakewright.running.clock import local_from_utc
from cakewright.running.expectation import ExpectedResponse
from cakewright.running.instruments import Removed
from cakewright.running.learning import FleetPrior
from cakewright.running.signals import signals
from cakewright.running.site import Site
from cakewright.storage.logs.column_map import ColumnMap
from cakewright.storage.logs.logbook import read_logbook
from cakewright.storage.logs.receipts import read_receipts
from cakewright.storage.logs.store import (
    LoadReport,
    LogJob,
    Tally,
    load_logs,
    read_shifts,
    read_tallies,
    stage_apart,
)
from cakewright.storage.logs.trial_files import read_fleet

__all__ = ["slopes_of", "tallies_of", "watch_logs"]


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


def _removed(tallies: Sequence[Tally], zone: str) -> list[Removed]:
    """What cleaning took out per signal, on the site's clock."""
    found = [one for one in tallies if one.signal and one.first]
    ends = np.array([[one.first, one.last] for one in found], dtype=np.int64).reshape(-1, 2)
    local = local_from_utc(ends.ravel(), zone).reshape(-1, 2).tolist()
    return [
        Removed(one.signal, one.reason, one.count, first, last)
        for one, (first, last) in zip(found, local, strict=True)
    ]


def _zones(logs: Sequence[tuple[Sequence[Path], ColumnMap]], site: Site) -> list[str]:
    """Maps whose clock is not the site's: right for a control system in UTC, else a slip."""
    return [
        f"Times without an offset in {paths[0].name} are taken as {one.time_zone}, the shifts of "
        f"the site begin by {site.plan.zone}: look whether that is meant."
        for paths, one in logs
        if one.time_zone != site.plan.zone and paths
    ]


def slopes_of(
    site: Site, fleet: Path | None, study: Path | None, tell: Callable[[str], None]
) -> ExpectedResponse | None:
    """What the watch starts from: a study's press model, a fleet, both joined, or the table.

    Raises
    ------
    InputFileError, DataError
        If a file is not what it should be, or the fleet is of another frame than the site's press.
    """
    press = _press_of(study, tell) if study else None
    if fleet is None:
        return press
    prior = read_fleet(fleet)
    if site.frame != prior.frame:
        fault = Fault("site.frame", repr(site.frame), repr(prior.frame), "give its own fleet")
        raise DataError(str(fleet), [fault])
    return replace(prior, under=press)


def _press_of(study: Path, tell: Callable[[str], None]) -> ExpectedResponse:
    from cakewright.storage.evaluation import evaluate_file

    tell("reading the slopes of the press model")
    found = evaluate_file(study, "", lambda words: None, samples=0, with_press=True)
    if found.press is None or not found.press.figures:
        fault = Fault("study", "no press prediction", "a study that chooses a screw press", "")
        raise DataError(str(study), [fault])
    return press_response(found.press)


def _start(slopes: ExpectedResponse | None) -> tuple[str, ...]:
    """What the slopes start from where the log cannot tell, when it is not the table."""
    words = []
    if isinstance(slopes, FleetPrior):
        words.append(f"{slopes.sites} presses of frame {slopes.frame}, without their names")
        slopes = slopes.under
    if slopes is not None:
        words.append("the press model of the study")
    return (f"Slopes start from {' and '.join(words)}.",) if words else ()


def watch_logs(
    logs: Sequence[tuple[Sequence[Path], ColumnMap]],
    site: Site,
    store: Path,
    now: int,
    tell: Callable[[str], None] = lambda words: None,
    slopes: ExpectedResponse | None = None,
) -> tuple[WatchFindings, tuple[LoadReport, ...]]:
    """Load each group of files by its map, then watch the whole store of the site."""
    reports = []
    for paths, column_map in logs:
        tell(f"reading {len(paths)} file{'s' if len(paths) > 1 else ''} of {column_map.site}")
        reports.append(load_logs(LogJob(tuple(paths), column_map, store, now), stage_apart))
    tell("reckoning shifts")
    table = read_shifts(store, site.key, site.plan)
    tell("reconciling, watching and explaining")
    sums = read_tallies(store, site.key)
    tallies = tallies_of(sums, sum(len(report.gaps) for report in reports))
    book = read_logbook(store, site.key)
    notes = [*_start(slopes), *(note for report in reports for note in _notes(report))]
    notes += _zones(logs, site)
    findings = watch_site(
        table, site, slopes=slopes, tallies=tallies, load_notes=notes,
        receipts=[one.text() for one in read_receipts(store, site.key)],
        removed=_removed(sums, site.plan.zone), book=book,
    )  # fmt: skip
    return findings, tuple(reports)
