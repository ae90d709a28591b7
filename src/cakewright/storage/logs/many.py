"""A folder of sites, each with site file, maps and logs: watched by workers, pooled by frame."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cakewright.errors import CakewrightError, DataError, Fault, InputFileError, foreign
from cakewright.jobs.learn import learn_fleet, learn_site
from cakewright.jobs.portfolio import Outcome, Task
from cakewright.jobs.watch import WatchFindings
from cakewright.quantities.toml_text import parse_toml
from cakewright.running.learning import FEWEST_SITES, Contribution, FleetPrior
from cakewright.storage.logs.column_map import ColumnMap, read_column_map
from cakewright.storage.logs.fleet_table import write_fleet
from cakewright.storage.logs.site_file import read_site
from cakewright.storage.logs.store import read_shifts
from cakewright.storage.logs.watching import watch_logs
from cakewright.storage.outputs import write_outputs
from cakewright.storage.texts import read_text

__all__ = ["SITE_FILE", "WatchWork", "find_sites", "learn_sites", "logs_of_site"]

SITE_FILE = "site.toml"
Render = Callable[[WatchFindings], Mapping[str, str | bytes]]
Logs = list[tuple[list[Path], ColumnMap]]


def find_sites(folder: Path) -> list[Task]:
    """Every folder below (or this one) that holds a site file, in order of name.

    Raises
    ------
    InputFileError
        If there is none.
    """
    paths = sorted(folder.rglob(SITE_FILE)) if folder.is_dir() else []
    if not paths:
        raise InputFileError(f"{folder}: no {SITE_FILE} in it or below; one folder per site")
    return [_task(folder, path) for path in paths]


def _task(folder: Path, path: Path) -> Task:
    name = path.parent.relative_to(folder).as_posix()
    name = folder.resolve().name if name == "." else name
    return Task(name, hashlib.sha256(name.encode()).hexdigest()[:16], str(path.resolve()))


@foreign("a site file")
def logs_of_site(path: Path) -> Logs:
    """Log files and maps a site file names under ``[logs]``: map = pattern or patterns of files.

    Raises
    ------
    DataError
        With every fault: no section, a map that is not there, a pattern nothing fits.
    """
    table = parse_toml(read_text(path, what="a site file is TOML text")).get("logs", {})
    faults: list[Fault] = []
    found: Logs = []
    if not isinstance(table, dict) or not table:
        example = '[logs]\n"minutes.toml" = "minutes-*.csv"'
        faults.append(Fault("logs", "none", "a column map and the files it fits", example))
        table = {}
    for name, raw in table.items():
        patterns = [raw] if isinstance(raw, str) else list(raw)
        files = sorted({file for p in patterns for file in path.parent.glob(str(p))})
        place = path.parent / name
        if not place.is_file():
            faults.append(Fault(f"logs.{name}", "no such file", "a column map", "correct it"))
        if not files:
            faults.append(
                Fault(f"logs.{name}", repr(raw), "a pattern some file fits", "correct it")
            )
        if place.is_file() and files:
            found.append((files, read_column_map(place)))
    if faults:
        raise DataError(str(path), faults)
    return found


@dataclass(frozen=True, slots=True)
class WatchWork:
    """The watch of one site in a worker: reports into ``out``/name, the store beside them.

    ``render`` must be a plain function that processes can be sent.
    """

    out: Path
    now: int
    render: Render

    def __call__(self, task: Task) -> Outcome:
        """One site; its faults come back as words."""
        try:
            path, place = Path(task.path), self.out / task.name
            site = read_site(path)
            findings, _ = watch_logs(logs_of_site(path), site, place / "store", self.now)
            write_outputs(place, self.render(findings))
            write_fleet(findings, self.out / "fleet")
        except CakewrightError as error:
            return Outcome(task.name, task.key, failed=str(error))
        return _outcome(task, findings)


def _outcome(task: Task, findings: WatchFindings) -> Outcome:
    drift = findings.current[0] if findings.current else None
    study: dict[str, Any] = {
        "title": findings.site.title, "frame": findings.site.frame,
        "invented": findings.site.invented, "shifts": findings.table.size,
        "until": int(findings.table.start[-1]),
        "not_kept": [p.name for p in findings.promise if p.chance <= 0.1],
        "cause": drift.explained.causes[0].cause.label if drift else "",
        "since": int(findings.table.start[drift.began]) if drift else None,
        "stop": findings.stop.shaft if findings.stop else None,
        "stop_in": findings.stop.due_in if findings.stop else None,
    }  # fmt: skip
    figures = tuple(
        {"name": name, "value": one.value, "spread": one.spread, "coverage": one.coverage}
        for name, one in findings.month.items()
    )
    return Outcome(task.name, task.key, study=study, figures=figures)


def _contribution(task: Task, watched: Path) -> Contribution:
    site = read_site(Path(task.path))
    table = read_shifts(watched / task.name / "store", site.key, site.plan)
    return learn_site(table, site)


def learn_sites(
    tasks: Sequence[Task], watched: Path
) -> tuple[dict[str, FleetPrior], dict[str, str]]:
    """Fleets by frame from the stores of a watched folder, and why a site or frame is left out.

    Nothing in a fleet names a site.
    """
    frames: dict[str, list[Contribution]] = defaultdict(list)
    left: dict[str, str] = {}
    for task in tasks:
        try:
            one = _contribution(task, watched)
            frames[one.frame].append(one)
        except CakewrightError as error:
            left[task.name] = str(error)
    fleets = {}
    for frame, some in sorted(frames.items()):
        if len({one.token for one in some}) < FEWEST_SITES:
            left[f"frame {frame}"] = f"{len(some)} sites, at least {FEWEST_SITES} are needed"
        else:
            fleets[frame] = learn_fleet(some)
    return fleets, left
