"""Tuning runs of one study kept beside its logs: what was typed, the sheet of runs, old sheets."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from cakewright.errors import DataError, Fault, InputFileError, QuantityError
from cakewright.running.signals import signals
from cakewright.running.site import Site
from cakewright.storage.logs.kept import swap
from cakewright.storage.logs.trial_files import unit_of
from cakewright.storage.texts import rows_of
from cakewright.study import parse_quantity

__all__ = [
    "KeptTuning",
    "TriedSetting",
    "TuningInput",
    "least_kept",
    "measured",
    "sheet_rows",
    "sheet_text",
    "tuned_site",
]

USUAL = ("screw_speed", "plate_pressure", "polymer_dose", "mixer_speed")
_MOST_ROWS, _MOST_COLUMNS = 200, 40


@dataclass(frozen=True, slots=True)
class TriedSetting:
    """One setting of the press as typed: tried or not, its safe limits, where it stands today."""

    key: str
    tried: bool = False
    low: str = ""
    high: str = ""
    today: str = ""


@dataclass(frozen=True, slots=True)
class TuningInput:
    """What the runs are planned and judged by, as typed."""

    settings: tuple[TriedSetting, ...] = ()
    curved: bool = True
    centres: int = 5
    order: int = 1
    least_capture: str = ""
    least_load: str = ""


class KeptTuning:
    """The folder's tuning runs."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    @property
    def sheet_path(self) -> Path:
        """Where the sheet of runs lies."""
        return self.folder / "tuning-runs.csv"

    @property
    def old_path(self) -> Path:
        """Where the sheet lies that was put away last."""
        return self.folder / "tuning-runs-put-away.csv"

    @property
    def sheet(self) -> str:
        """The runs with what was measured; empty while none are planned."""
        path = self.sheet_path
        return path.read_text(encoding="utf-8") if path.is_file() else ""

    def keep_sheet(self, text: str) -> None:
        """Keep the runs as they are filled in.

        Raises
        ------
        InputFileError
            If it is no table, or too large a one.
        """
        rows = sheet_rows(text)
        self.folder.mkdir(parents=True, exist_ok=True)
        swap(self.sheet_path, sheet_text(rows))

    def put_away(self) -> None:
        """Make room for other runs; these stay to be looked at."""
        if self.sheet_path.is_file():
            self.sheet_path.replace(self.old_path)

    def given(self, site: Site) -> TuningInput:
        """What was typed; before that what the site says."""
        path = self.folder / "tuning.json"
        if path.is_file():
            told = json.loads(path.read_text(encoding="utf-8"))
            return TuningInput(tuple(TriedSetting(**s) for s in told.pop("settings")), **told)
        keys = dict.fromkeys((*USUAL[:3], *site.limits, *USUAL[3:]))
        return TuningInput(tuple(_as_told(key, site) for key in keys))

    def keep_given(self, given: TuningInput) -> None:
        """Keep what was typed."""
        self.folder.mkdir(parents=True, exist_ok=True)
        swap(self.folder / "tuning.json", json.dumps(asdict(given), ensure_ascii=False))


def _as_told(key: str, site: Site) -> TriedSetting:
    from cakewright.quantities import from_si

    def typed(value: float) -> str:
        si, shown = unit_of(key)
        return f"{float(from_si(value, si, shown)):.4g} {shown}"

    low, high = map(typed, site.limits[key]) if key in site.limits else ("", "")
    today = typed(site.today[key]) if key in site.today else ""
    return TriedSetting(key, key in site.limits, low, high, today)


def sheet_rows(text: str) -> list[list[str]]:
    """Rows of a sheet, titles first, cut at semicolons, commas or tabs.

    Raises
    ------
    InputFileError
        If there is no row below the titles, or far too many cells.
    """
    rows = [row for row in rows_of(text, "the runs", ";\t,") if any(row)]
    if len(rows) < 2 or len(rows[0]) < 2:
        raise InputFileError("the runs: a title line with several columns and a row below it")
    if len(rows) > _MOST_ROWS or max(map(len, rows)) > _MOST_COLUMNS:
        raise InputFileError(
            f"the runs: got {len(rows) - 1} runs of up to {max(map(len, rows))} columns; at most "
            f"{_MOST_ROWS - 1} runs of {_MOST_COLUMNS} columns are taken"
        )
    width = len(rows[0])
    return [[cell.strip() for cell in row[:width]] + [""] * (width - len(row)) for row in rows]


def sheet_text(rows: Sequence[Sequence[str]]) -> str:
    """Rows as a sheet, cut at semicolons whatever they came in with."""
    out = io.StringIO()
    csv.writer(out, delimiter=";", lineterminator="\n").writerows(rows)
    return out.getvalue()


def tuned_site(site: Site, given: TuningInput) -> Site:
    """The site with the limits and settings that were typed.

    Raises
    ------
    DataError
        With every fault, each at ``limits.<setting>`` or ``today.<setting>``.
    """
    faults: list[Fault] = []
    tried = [one for one in given.settings if one.tried]
    if not tried:
        faults.append(Fault("settings", "none", "one to four settings", "tick one to be tried"))
    if len(tried) > 4:
        faults.append(
            Fault("settings", f"{len(tried)}", "one to four settings", "try fewer at a time")
        )
    limits = {one.key: _limits(one, faults) for one in tried}
    today = {one.key: _value(f"today.{one.key}", one.today, one.key, faults)
             for one in tried if one.today.strip()}  # fmt: skip
    if faults:
        raise DataError("the tuning runs", faults)
    return replace(site, limits=limits, today={**site.today, **today})


def _limits(one: TriedSetting, faults: list[Fault]) -> tuple[float, float]:
    where = f"limits.{one.key}"
    before = len(faults)
    low, high = (_value(where, typed, one.key, faults) for typed in (one.low, one.high))
    if len(faults) == before and not 0 < low < high:
        faults.append(
            Fault(where, f"{one.low} to {one.high}", "above nothing, and low below high",
                  "the limits the supplier and the site allow")
        )  # fmt: skip
    return low, high


def _value(where: str, typed: str, key: str, faults: list[Fault]) -> float:
    if key not in signals() and key != "polymer_dose":
        faults.append(Fault(where, key, ", ".join(USUAL), "a setting of the press"))
        return 0.0
    si, shown = unit_of(key)
    try:
        return parse_quantity(typed, si).value
    except QuantityError as error:
        faults.append(Fault(where, repr(typed), f"a quantity like 10 {shown}", str(error)))
        return 0.0


def least_kept(given: TuningInput) -> tuple[float, float]:
    """Least capture and least dry solids per time that a setting must keep.

    Raises
    ------
    DataError
        With every fault found.
    """
    faults: list[Fault] = []
    found = []
    for where, typed, unit, like in (
        ("least_capture", given.least_capture, "1", "90 %"),
        ("least_load", given.least_load, "kg/s", "200 kg/h"),
    ):
        try:
            found.append(parse_quantity(typed, unit).value if typed.strip() else 0.0)
        except QuantityError as error:
            faults.append(Fault(where, repr(typed), f"a quantity like {like}", str(error)))
    if faults:
        raise DataError("the tuning runs", faults)
    return found[0], found[1]


def measured(text: str, settings: Sequence[str]) -> bool:
    """Whether anything stands in the columns of a sheet that a plan leaves empty."""
    titles, *rows = sheet_rows(text)
    planned = ("run", "kind", *settings)
    own = [i for i, title in enumerate(titles) if title.partition(" ")[0] not in planned]
    return any(row[i] for row in rows for i in own)
