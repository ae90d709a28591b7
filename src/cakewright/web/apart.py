"""What is done in a process of its own: each takes plain arguments and a function to tell.

Loaded there without the rest of the workbench.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from cakewright.errors import CakewrightError, DataError, Fault, FaultsError, InputFileError

if TYPE_CHECKING:
    from cakewright.jobs.commission import CommissionFindings
    from cakewright.jobs.watch import WatchFindings
    from cakewright.line.week import WeekOutcome
    from cakewright.line.week_plan import WeekPlan
    from cakewright.running.acceptance import AcceptanceResult, Protocol
    from cakewright.running.shifts import ShiftTable
    from cakewright.running.site import Site
    from cakewright.storage.logs import ColumnMap
    from cakewright.storage.logs.looking import LogLook
    from cakewright.web.tasks import Tell

__all__ = ["judge_runs", "judge_samples", "look_at_log", "play_weeks", "watch_kept"]


def play_weeks(plan: WeekPlan, weeks: int, tell: Tell) -> tuple[WeekOutcome, ...]:
    """The usual questions put to a line, each through many random weeks."""
    from cakewright.line.week import worst_weeks

    return worst_weeks(plan, weeks=weeks, progress=tell)


def look_at_log(path: Path, site: str, tell: Tell) -> LogLook:
    """Titles, first rows and a drafted map of an uploaded log."""
    from cakewright.storage.logs.looking import look_over

    tell("reading its titles", None)
    with tempfile.TemporaryDirectory(prefix="cakewright-") as scratch, _plainly(path.parent):
        return look_over(path, site, Path(scratch))


def watch_kept(folder: Path, site_text: str, key: str, mark: str, tell: Tell) -> WatchFindings:
    """Every log kept beside a study, cleaned, reconciled, watched and explained."""
    from cakewright.storage.logs.kept import KeptLogs
    from cakewright.storage.logs.site_file import parse_site
    from cakewright.storage.logs.watching import watch_logs

    kept = KeptLogs(folder)
    with _plainly(folder):
        tell("looking at the logs", 0.0)
        maps = [(log.path, log.column_map) for log in kept.logs() if log.column_map is not None]
        named = _named([column_map for _, column_map in maps], key)
        groups = [([path], replace(m, site=named)) for path, m in maps]
        site = replace(parse_site(site_text, "the site"), key=named)
        seen: list[str] = []

        def step(words: str) -> None:
            seen.append(words)
            tell(words.removesuffix(f" of {named}"), min(0.95, len(seen) / (len(groups) + 3)))

        def load(store: Path) -> WatchFindings:
            fresh = groups if store != kept.store else []
            return watch_logs(fresh, site, store, int(time.time()), step)[0]

        return kept.rebuilt(load, mark)  # type: ignore[no-any-return]


def _named(maps: list[ColumnMap], key: str) -> str:
    """The one name of the site in all its logs."""
    names = sorted({one.site for one in maps if one.site_column})
    if len(names) > 1:
        fault = Fault("site_column", ", ".join(names), "one site in all logs", "name the same site")
        raise DataError("the column maps", [fault])
    return names[0] if names else key


def judge_samples(path: Path, protocol: Protocol | str, tell: Tell) -> AcceptanceResult:
    """Samples of an acceptance test judged by a protocol, given as such or as its text."""
    from cakewright.jobs.acceptance import judge_test
    from cakewright.storage.logs.trial_files import parse_protocol, read_runs

    tell("judging the test", None)
    with _plainly(path.parent):
        agreed = parse_protocol(protocol) if isinstance(protocol, str) else protocol
        return judge_test(agreed, read_runs(path))


def judge_runs(
    folder: Path, site: Site, least: tuple[float, float], key: str, tell: Tell
) -> CommissionFindings:
    """What the tuning runs kept beside a study show; with the coming weeks where logs were read."""
    from cakewright.jobs.commission import evaluate_tuning
    from cakewright.storage.logs.kept_tuning import KeptTuning
    from cakewright.storage.logs.trial_files import read_results

    tell("fitting the surfaces", None)
    with _plainly(folder):
        results = read_results(KeptTuning(folder).sheet_path)
        log = _shifts_of(folder, site, key)
        try:
            return evaluate_tuning(site, results, (), *least, log)
        except DataError:
            if log is None:
                raise
            found = evaluate_tuning(site, results, (), *least)
            note = "The logs read are too short to tell the coming weeks."
            return replace(found, notes=(*found.notes, note))


def _shifts_of(folder: Path, site: Site, key: str) -> ShiftTable | None:
    """Shifts of the logs that the watch read, if it did."""
    from cakewright.storage.logs import read_shifts
    from cakewright.storage.logs.kept import KeptLogs

    kept = KeptLogs(folder)
    maps = [log.column_map for log in kept.logs() if log.column_map is not None]
    try:
        read = (kept.store / "mark.txt").is_file()
        return read_shifts(kept.store, _named(maps, key), site.plan) if read else None
    except CakewrightError:
        return None


@contextmanager
def _plainly(folder: Path) -> Iterator[None]:
    """Errors told by the file's name: where it lies on the server is nobody's business."""
    try:
        yield
    except FaultsError as error:
        faults = [replace(f, where=_short(f.where, folder), got=_short(f.got, folder))
                  for f in error.faults]  # fmt: skip
        raise DataError(_short(error.subject, folder), faults) from None
    except CakewrightError as error:
        raise InputFileError(_short(str(error), folder)) from None


def _short(words: str, folder: Path) -> str:
    return words.replace(f"{folder}/", "").replace(f"{folder}\\", "").replace(str(folder), "")
