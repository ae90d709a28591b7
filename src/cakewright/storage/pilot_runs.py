"""Runs of a press on trial from CSV or XLSX: one row a run, the unit in the column's title."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from cakewright.errors import DataError, Fault, InputFileError, OutOfRangeError, foreign
from cakewright.jobs.trial import PilotRun, calibration_table
from cakewright.physics.capture import capture_three_stream
from cakewright.physics.solids import density_slurry
from cakewright.storage.bench_cells import CellError, cell_text, heading, number_in, unit_in
from cakewright.storage.texts import read_bytes, read_text, rows_of
from cakewright.storage.workbooks import workbook_sheets

__all__ = ["PilotSheet", "pilot_template", "read_pilot_runs"]

_MOST_BYTES = 5_000_000
_MOST_RUNS = 500


@dataclass(frozen=True, slots=True)
class _Column:
    """One column: SI unit, what is allowed in SI, and what it means."""

    key: str
    unit: str
    low: float
    high: float
    meaning: str
    required: bool = False


_COLUMNS = {
    "speed": _Column("speed", "1/s", 0.0, 1.0, "screw speed, as 1/min", True),
    "back pressure": _Column("back_pressure", "Pa", 1e3, 5e6, "stress on the plate, as kPa"),
    "feed flow": _Column("feed_flow", "m3/s", 0.0, 1.0, "sludge fed, as m3/h"),
    "dry solids": _Column("dry_solids_flow", "kg/s", 0.0, 10.0, "dry solids fed, as kg/h"),
    "feed TS": _Column("feed_solids", "1", 0.0, 0.3, "total solids of the feed, as %", True),
    "dose": _Column("dose", "1", 0.0, 0.1, "active polymer per dry solids, as kg/t", True),
    "temperature": _Column("temperature", "K", 273.15, 373.15, "of the sludge, as degC"),
    "cake TS": _Column("cake_solids", "1", 0.0, 0.9, "total solids of the cake, as %"),
    "capture": _Column("capture", "1", 0.0, 1.0, "share of the solids in the cake, as %"),
    "filtrate TSS": _Column("filtrate", "1", 0.0, 0.2, "suspended solids, as mg/kg or %"),
    "power": _Column("power", "W", 0.0, 1e6, "drawn by the screw drives, as kW"),
    "torque": _Column("torque", "N*m", 0.0, 1e6, "of one screw shaft, as N*m"),
}
_SPREADS = {f"{name} sd": name for name in ("cake TS", "capture", "power", "torque")}
_OUTPUTS = {"cake TS": "cake_solids", "capture": "capture", "power": "power", "torque": "torque"}
_UNITS = {"mg/L": 1e-6, "mg/l": 1e-6, "g/L": 1e-3, "g/l": 1e-3}  # taken as water: 1 L is 1 kg


@dataclass(frozen=True, slots=True)
class PilotSheet:
    """Runs of one sheet; ``invented`` when the sheet says so; ``frame`` it names, or nothing."""

    runs: tuple[PilotRun, ...]
    invented: bool
    frame: str


def pilot_template() -> str:
    """Head row and one example row."""
    head = (
        "run,speed [1/min],back pressure [kPa],plate,feed flow [m3/h],feed TS [%],dose [kg/t],"
        "temperature [degC],cake TS [%],cake TS sd [%],capture [%],filtrate TSS [mg/L],power [kW],"
        "ran,day,note"
    )
    return f"# frame: disc 200 x 1\n{head}\n"


@foreign("a sheet of trial runs")
def read_pilot_runs(
    path: Path, solids_density: float = 1250.0, liquid_density: float = 998.2
) -> PilotSheet:
    """Runs of a sheet.

    Raises
    ------
    InputFileError
        If the file is missing, of another kind, or unreadable.
    DataError
        With every fault of the sheet: columns missing, units wrong, values impossible.
    """
    remarks, table = _table(path)
    faults: list[Fault] = []
    columns = _heads(table[0], faults)
    body = [] if faults else table[1:]
    if not table[1:]:
        faults.append(Fault(path.name, "no runs", "one row per run", "add the runs"))
    if len(body) > _MOST_RUNS:
        faults.append(Fault(path.name, f"{len(body)} rows", f"up to {_MOST_RUNS}", "split it"))
    runs: list[PilotRun] = []
    for number, row in enumerate(body[:_MOST_RUNS], start=1):
        run = _run(number, row, columns, faults, solids_density, liquid_density)
        if run is not None:
            runs.append(run)
    _twice(runs, faults)
    if faults:
        raise DataError(path.name, faults)
    words = " ".join(remarks)
    named = re.search(r"frame:\s*([^.;\n]+)", words)
    return PilotSheet(
        tuple(runs), "invented" in words.lower(), named[1].strip(" .") if named else ""
    )


def _twice(runs: Sequence[PilotRun], faults: list[Fault]) -> None:
    names = [run.name for run in runs]
    for name in sorted({n for n in names if names.count(n) > 1}):
        faults.append(Fault(f"run {name}", "the name twice", "each name once", "rename one"))


def _table(path: Path) -> tuple[list[str], list[list[Any]]]:
    """Remark lines (#) and the rows of the first sheet."""
    kind = path.suffix.lower()
    if kind == ".csv":
        text = read_text(path, _MOST_BYTES, "a sheet of runs is a table as text", "", path.name)
        rows: list[list[Any]] = [list(row) for row in rows_of(text, path.name, ",;", strict=True)]
    elif kind == ".xlsx":
        rows = _xlsx_rows(path)
    else:
        raise InputFileError(f"{path.name}: got {kind or 'no ending'}; allowed: .csv, .xlsx")
    remarks = [str(row[0]) for row in rows if row and str(row[0]).startswith("#")]
    rows = [r for r in rows if any(cell_text(c) for c in r) and not str(r[0]).startswith("#")]
    if not rows:
        raise InputFileError(f"{path.name}: empty; write a head row and one row per run")
    return remarks, rows


def _xlsx_rows(path: Path) -> list[list[Any]]:
    data = read_bytes(path, _MOST_BYTES, "a sheet of runs is smaller", path.name)
    sheets = workbook_sheets(data, path.name, 1)
    rows = sheets[0].rows[: _MOST_RUNS + 20] if sheets else []
    return [row for row in rows if any(cell_text(cell) for cell in row)]


def _heads(row: Sequence[Any], faults: list[Fault]) -> dict[str, tuple[int, str]]:
    """Place and unit of every known column."""
    lower = {k.lower(): k for k in (*_COLUMNS, *_SPREADS, "run", "plate", "ran", "day", "note")}
    found: dict[str, tuple[int, str]] = {}
    for at, title in enumerate(row):
        label, unit = heading(cell_text(title))
        key = lower.get(label.lower())
        if not label or label.startswith("+"):
            continue  # "+ ..." is kept for whoever pools trials; the fit does not read it
        if key is None:
            faults.append(
                Fault(f"column {label!r}", "an unknown title", ", ".join(lower.values()), "rename")
            )
        elif key in found:
            faults.append(Fault(f"column {key!r}", "twice", "each column once", "drop one"))
        else:
            found[key] = at, unit or ""
            _unit_known(key, unit, faults)
    _needed(found, faults)
    return found


def _unit_known(key: str, unit: str | None, faults: list[Fault]) -> None:
    column = _COLUMNS.get(_SPREADS.get(key, key))
    if column is None:
        return
    if unit is None:
        faults.append(
            Fault(
                f"column {key!r}", "no unit", f"{key} [unit]", f"write the unit: {column.meaning}"
            )
        )
        return
    if column.key == "filtrate" and unit in _UNITS:
        return
    try:
        unit_in(1.0, unit, column.unit)
    except CellError as error:
        faults.append(Fault(f"column {key!r}", error.got, column.meaning, error.try_this))


def _needed(found: Mapping[str, tuple[int, str]], faults: list[Fault]) -> None:
    for key, column in _COLUMNS.items():
        if column.required and key not in found:
            faults.append(Fault(f"column {key!r}", "nothing", column.meaning, "add the column"))
    readings = (*_OUTPUTS, "filtrate TSS")
    for group in (("feed flow", "dry solids"), ("back pressure", "plate"), readings):
        if not any(key in found for key in group):
            names = " or ".join(repr(key) for key in group)
            faults.append(Fault(f"column {names}", "nothing", "one of them", "add one"))


def _run(
    number: int,
    row: Sequence[Any],
    columns: Mapping[str, tuple[int, str]],
    faults: list[Fault],
    solids_density: float,
    liquid_density: float,
) -> PilotRun | None:
    def words(key: str) -> str:
        at = columns.get(key, (len(row), ""))[0]
        return cell_text(row[at]) if at < len(row) else ""

    name = words("run") or str(number)
    before = len(faults)
    values = {key: _value(key, row, columns, name, faults) for key in columns}
    found = {k: v for k, v in values.items() if v is not None and not math.isnan(v)}
    for key, column in _COLUMNS.items():
        if column.required and key in columns and key not in found and len(faults) == before:
            faults.append(Fault(f"run {name}: {key}", "nothing", column.meaning, "fill it in"))
    if "feed flow" not in found and "dry solids" not in found:
        faults.append(Fault(f"run {name}", "no feed", "feed flow or dry solids", "fill one in"))
    if "back pressure" not in found and not words("plate"):
        faults.append(
            Fault(f"run {name}", "no plate", "back pressure, or a plate setting", "fill one in")
        )
    ran = _ran(name, words("ran"), faults)
    readings = _readings(name, found, faults) if ran else {}
    if len(faults) > before:
        return None
    flow = found.get("dry solids")
    if flow is None:
        slurry = float(density_slurry(found["feed TS"], solids_density, liquid_density))
        flow = found["feed flow"] * slurry * found["feed TS"]
    return PilotRun(
        name=name,
        speed=found["speed"],
        dry_solids_flow=float(flow),
        feed_solids=found["feed TS"],
        dose=found["dose"],
        readings=readings,
        back_pressure=found.get("back pressure"),
        plate="" if "back pressure" in found else words("plate"),
        temperature=found.get("temperature", 293.15),
        note=words("note"),
        ran=ran,
        day=words("day"),
    )


def _ran(name: str, text: str, faults: list[Fault]) -> bool:
    """Whether the setting could be held; nothing written means that it could."""
    if text.lower() not in ("", "yes", "no"):
        allowed = "yes, or no for a setting that was tried and could not be held"
        faults.append(Fault(f"run {name}: ran", repr(text), allowed, "write yes or no"))
    return text.lower() != "no"


def _value(
    key: str,
    row: Sequence[Any],
    columns: Mapping[str, tuple[int, str]],
    name: str,
    faults: list[Fault],
) -> float | None:
    column = _COLUMNS.get(_SPREADS.get(key, key))
    at, unit = columns[key]
    if column is None or at >= len(row):
        return None
    try:
        number, written = number_in(row[at] if row[at] != "" else None)
        if math.isnan(number):
            return None
        factor = _UNITS.get(unit)
        if factor is not None and column.key == "filtrate":
            value = number * factor
        elif column.unit == "K" and key in _SPREADS:
            value = number
        else:
            value = unit_in(number, written or unit, column.unit)
    except CellError as error:
        faults.append(Fault(f"run {name}: {key}", error.got, error.allowed, error.try_this))
        return None
    low = 0.0 if key in _SPREADS else column.low
    if not low < value <= column.high:
        allowed = f"above {low:g} and up to {column.high:g} {column.unit}"
        faults.append(
            Fault(f"run {name}: {key}", f"{number:g} {unit}", allowed, "check value and unit")
        )
        return None
    return value


def _readings(
    name: str, found: Mapping[str, float], faults: list[Fault]
) -> dict[str, tuple[float, float]]:
    table = calibration_table()
    readings: dict[str, tuple[float, float]] = {}
    for key, output in _OUTPUTS.items():
        value = found.get(key)
        if value is None and key == "capture" and {"filtrate TSS", "cake TS"} <= found.keys():
            value = _capture(name, found, faults)
        if value is None:
            continue
        row = table[output]
        usual = row["noise"] if "noise" in row else row["noise_share"] * value
        readings[output] = value, found.get(f"{key} sd", float(usual))
    cake = found.get("cake TS")
    if cake is not None and "feed TS" in found and cake <= found["feed TS"]:
        got = f"{100 * cake:g} % from a feed of {100 * found['feed TS']:g} %"
        faults.append(Fault(f"run {name}: cake TS", got, "drier than the feed", "check the units"))
    if not readings:
        allowed = "cake TS, capture (or filtrate TSS), power or torque"
        faults.append(Fault(f"run {name}", "no reading", allowed, "add one, or drop the run"))
    return readings


def _capture(name: str, found: Mapping[str, float], faults: list[Fault]) -> float | None:
    feed = found.get("feed TS", math.nan)
    try:
        return float(
            np.asarray(capture_three_stream(feed, found["cake TS"], found["filtrate TSS"]))
        )
    except OutOfRangeError as error:
        faults.append(
            Fault(f"run {name}: filtrate TSS", str(error), "filtrate < feed < cake", "check units")
        )
        return None
