"""What the running chapter of a study shows: its logs, their maps, the watch, the test."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cache
from typing import Any
from zoneinfo import available_timezones

from cakewright.reports.content import Section
from cakewright.reports.numbers import Units
from cakewright.running.signals import signals
from cakewright.storage.logs import ColumnMap
from cakewright.storage.logs.kept import KeptLog, KeptLogs
from cakewright.storage.logs.looking import TIME_FORMATS
from cakewright.web.tasks import Task

__all__ = [
    "LogView",
    "RunningView",
    "Shown",
    "judged_sections",
    "running_view",
    "signal_choices",
    "usual_unit",
    "watch_sections",
]


@dataclass
class Shown:
    """Findings with what they look like, drawn once for each kind of units."""

    findings: Any
    draw: Callable[[Any, Units], tuple[Section, ...]]
    made: dict[Units, tuple[Section, ...]] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def sections(self, units: Units) -> tuple[Section, ...]:
        """Findings as sections."""
        with self.lock:
            if units not in self.made:
                self.made[units] = self.draw(self.findings, units)
            return self.made[units]


def watch_sections(found: Any, units: Units) -> tuple[Section, ...]:
    """The operator's page first, then the engineer's report without what it repeats."""
    from cakewright.reports.running_engineer import engineer_sections
    from cakewright.reports.running_operator import operator_sections

    return (*operator_sections(found, units), *engineer_sections(found, units))


def judged_sections(found: Any, units: Units) -> tuple[Section, ...]:
    """The acceptance test, told apart from the watch on the same page."""
    from cakewright.reports.running_commission import acceptance_sections

    sections = acceptance_sections(found, units)[:-1]  # Nobody signs on a screen.
    titled = {"answer": "Acceptance test", "runs": "Runs of the test"}
    return tuple(
        replace(s, key=f"test-{s.key}", title=titled.get(s.key, s.title)) for s in sections
    )


@dataclass(frozen=True, slots=True)
class ColumnView:
    """One column of a log: its title, first cells, and what it is taken for."""

    title: str
    cells: str
    chosen: str
    unit: str
    held: bool


@dataclass(frozen=True, slots=True)
class LogView:
    """One log of the list, with its map as a form."""

    number: int
    name: str
    size: str
    settled: bool
    map: ColumnMap | None
    columns: tuple[ColumnView, ...]

    @property
    def used(self) -> int:
        """How many columns are read."""
        return sum(1 for column in self.columns if column.chosen not in ("", "time", "site"))


@dataclass(frozen=True, slots=True)
class RunningView:
    """What the chapter is filled with."""

    logs: tuple[LogView, ...]
    watch: Task | None
    old: bool
    test: Task | None
    choices: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    zones: tuple[str, ...]

    @property
    def time_formats(self) -> tuple[tuple[str, str], ...]:
        """Ways to write a time, each by the same afternoon; and what the maps here use besides."""
        used = [form for log in self.logs if log.map for form in log.map.time_formats]
        forms = dict.fromkeys((*TIME_FORMATS, "epoch s", "epoch ms", *used))
        return (("", "2026-01-31 13:45 (ISO 8601)"), *((form, _example(form)) for form in forms))

    @property
    def ready(self) -> bool:
        """True when every log has its map."""
        return bool(self.logs) and all(log.settled for log in self.logs)

    def sections(self, units: Units) -> tuple[Section, ...]:
        """The results: the watch, then the test."""
        found: list[Section] = []
        for task in (self.watch, self.test):
            if task is not None and task.done and isinstance(task.result, Shown):
                found += task.result.sections(units)
        return tuple(found)


def running_view(kept: KeptLogs, watch: Task | None, test: Task | None, mark: str) -> RunningView:
    """The chapter as it stands."""
    old = watch is not None and watch.done and watch.mark != mark
    logs = tuple(_log(log) for log in kept.logs())
    return RunningView(logs, watch, old, test, signal_choices(), _zones())


def _log(log: KeptLog) -> LogView:
    chosen = log.column_map or (log.look.draft if log.look else None)
    seen = log.look.titles if log.look else ()
    cells = log.look.cells if log.look else ()
    columns = tuple(
        _column(title, cells[i], chosen) for i, title in enumerate(seen) if chosen is not None
    )
    return LogView(
        log.number, log.name, _size(log.size), log.column_map is not None, chosen, columns
    )


def _column(title: str, cells: tuple[str, ...], chosen: ColumnMap) -> ColumnView:
    some = ", ".join(dict.fromkeys(cell for cell in cells if cell))[:48]
    if title in chosen.time_titles:
        return ColumnView(title, some, "time", "", False)
    if title == chosen.site_column:
        return ColumnView(title, some, "site", "", False)
    for key, column in chosen.columns.items():
        if column.title == title:
            return ColumnView(title, some, key, column.unit, column.held)
    return ColumnView(title, some, "", "", False)


def _example(form: str) -> str:
    seconds = {"epoch s": "1769867100 (seconds since 1970)",
               "epoch ms": "1769867100000 (milliseconds since 1970)"}  # fmt: skip
    return seconds.get(form) or datetime(2026, 1, 31, 13, 45).strftime(form)


def _size(size: int) -> str:
    return f"{size / 1e6:.1f} MB" if size >= 1e5 else f"{max(1, round(size / 1e3))} kB"


@cache
def signal_choices() -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
    """Signals by kind, each with its label and the unit usually shown."""
    titles = {
        "measured": "measured",
        "laboratory": "laboratory",
        "setting": "settings",
        "state": "running or not",
    }
    return tuple(
        (words, tuple((key, one.label) for key, one in signals().items() if one.kind == kind))
        for kind, words in titles.items()
    )


def usual_unit(key: str) -> str:
    """The unit a signal is usually shown in."""
    return signals()[key].house.shown


@cache
def _zones() -> tuple[str, ...]:
    return tuple(sorted(zone for zone in available_timezones() if not zone.startswith("posix")))
