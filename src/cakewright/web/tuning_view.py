"""What the page of the tuning runs shows: what may be tried, the runs, what they show."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from cakewright.quantities import house_name
from cakewright.reports.content import Section
from cakewright.reports.numbers import Units
from cakewright.reports.running_words import label_of_indicator
from cakewright.running.signals import signal, signals
from cakewright.storage.logs.kept_tuning import KeptTuning, TuningInput, sheet_rows
from cakewright.storage.logs.trial_files import unit_of
from cakewright.web.chapters import CHAPTERS, Chapter
from cakewright.web.contexts import Headline, Shell
from cakewright.web.running_view import Shown
from cakewright.web.tasks import Task

__all__ = ["RunColumn", "SettingRow", "TuningPage", "grid_of", "setting_rows", "tuned_sections"]

_TITLE = re.compile(r"^\s*([a-z_0-9]+)\s*(?:\[([^\]]*)\])?\s*$")
_SAID = ("run", "kind")


def tuned_sections(found: Any, units: Units) -> tuple[Section, ...]:
    """The tuning runs as sections."""
    from cakewright.reports.running_commission import tuning_sections

    return tuning_sections(found, units)


@dataclass(frozen=True, slots=True)
class SettingRow:
    """One setting that may be tried, with an example of how its values are written."""

    key: str
    label: str
    unit: str
    tried: bool
    low: str
    high: str
    today: str


@dataclass(frozen=True, slots=True)
class RunColumn:
    """One column of the runs: its title in the sheet, and what a person reads."""

    title: str
    label: str
    unit: str
    fixed: bool


@dataclass(frozen=True, slots=True)
class TuningPage:
    """The page."""

    shell: Shell
    record: Any
    headline: Headline
    stage: str
    given: TuningInput
    settings: tuple[SettingRow, ...]
    columns: tuple[RunColumn, ...]
    rows: tuple[tuple[str, ...], ...]
    mark: str
    away: bool
    task: Task | None
    old: bool
    rules: tuple[Section, ...]
    chapters: tuple[Chapter, ...] = CHAPTERS

    def sections(self) -> tuple[Section, ...]:
        """What the runs show; before that what to mind while they are made."""
        if self.task is not None and self.task.done and isinstance(self.task.result, Shown):
            return self.task.result.sections(self.shell.units)
        return self.rules if self.rows else ()


def setting_rows(given: TuningInput) -> tuple[SettingRow, ...]:
    """Settings as typed."""
    return tuple(
        SettingRow(one.key, _label(one.key), unit_of(one.key)[1], one.tried, one.low, one.high,
                   one.today)
        for one in given.settings
    )  # fmt: skip


def grid_of(kept: KeptTuning) -> tuple[tuple[RunColumn, ...], tuple[tuple[str, ...], ...]]:
    """Columns and rows of the runs; nothing while there are none."""
    if not kept.sheet:
        return (), ()
    titles, *rows = sheet_rows(kept.sheet)
    return tuple(_column(title) for title in titles), tuple(tuple(row) for row in rows)


def _column(title: str) -> RunColumn:
    match = _TITLE.match(title)
    key, unit = (match[1], match[2] or "") if match else (title, "")
    known = match and (key in signals() or key in _known_besides())
    return RunColumn(title, _label(key) if known else title, unit if known else "", key in _SAID)


def _known_besides() -> Sequence[str]:
    return ("capture", "polymer_dose", "dry_solids_flow")


def _label(key: str) -> str:
    if key in signals():
        return signal(key).label
    return label_of_indicator(key) or house_name(key).label
