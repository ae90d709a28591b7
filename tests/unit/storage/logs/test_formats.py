"""Every format and way of writing comes to the same SI readings."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xlsxwriter

from cakewright.running.shifts import ShiftPlan
from cakewright.storage.logs import (
    Column,
    ColumnMap,
    Grain,
    LoadReport,
    read_changes,
    read_month,
    read_shifts,
    read_tallies,
)

Load = Callable[..., tuple[LoadReport, list[Mapping[str, Any]]]]
Write = Callable[..., Path]
Clock = Callable[..., list[str]]
NOW = 1_900_000_000


def _flow(tmp_path: Path, site: str = "a", month: str = "2024-03") -> np.ndarray[Any, Any]:
    return read_month(tmp_path / "store", site, month).values["feed_flow"]


def test_json_lines(tmp_path: Path, load: Load, column_map: ColumnMap) -> None:
    """JSON lines are read; a broken line is kept with its text."""
    path = tmp_path / "log.jsonl"
    good = json.dumps({"time": "2024-03-04T06:00:00+00:00", "flow": 36, "cake": None})
    path.write_text(good + '\n{"time": "2024-03', encoding="utf-8")
    report, changes = load(path, mapping=column_map)
    assert _flow(tmp_path).tolist() == pytest.approx([0.01])
    assert report.rows_kept == 1
    assert changes[0]["text"] == '{"time": "2024-03'


def test_workbook(tmp_path: Path, load: Load, column_map: ColumnMap) -> None:
    """A workbook's sheet is read by name, with real dates and empty cells."""
    path = tmp_path / "log.xlsx"
    book = xlsxwriter.Workbook(path)
    book.add_worksheet("other")
    sheet = book.add_worksheet("minutes")
    sheet.write_row(0, 0, ["time", "flow", "cake"])
    date = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
    sheet.write_datetime(1, 0, __import__("datetime").datetime(2024, 3, 4, 6, 0), date)
    sheet.write_number(1, 1, 36)
    book.close()
    report, _ = load(path, mapping=replace(column_map, sheet="minutes"))
    assert report.rows_kept == 1
    assert _flow(tmp_path).tolist() == pytest.approx([0.01])


def test_decimal_comma_and_two_time_columns(
    write: Write, load: Load, column_map: ColumnMap, tmp_path: Path
) -> None:
    """Decimal commas, thousands marks, and date and clock in two columns."""
    rows = [["Datum", "Uhr", "flow", "cake"], ["04.03.2024", "06:00", "1.036,5", "18,5"]]
    mapping = replace(
        column_map, decimal=",", thousands=".", time_titles=("Datum", "Uhr"),
        time_formats=("%d.%m.%Y %H:%M",),
        columns={"feed_flow": Column("flow", "L/h"), "cake_solids": Column("cake", "%")},
    )  # fmt: skip
    load(write(rows, mark=";"), mapping=mapping)
    block = read_month(tmp_path / "store", "a", "2024-03")
    assert block.values["feed_flow"].tolist() == pytest.approx([1.0365 / 3600])
    assert block.values["cake_solids"].tolist() == pytest.approx([0.185])


def test_epoch_times(write: Write, load: Load, column_map: ColumnMap, tmp_path: Path) -> None:
    """Seconds since 1970 are a time."""
    rows = [["time", "flow", "cake"], ["1709532000", "10", "18"]]
    load(write(rows), mapping=replace(column_map, time_formats=("epoch s",)))
    assert read_month(tmp_path / "store", "a", "2024-03").time.tolist() == [1709532000]


def test_daylight_saving(write: Write, load: Load, column_map: ColumnMap, tmp_path: Path) -> None:
    """The hour that never was is dropped, the hour that was twice becomes two hours."""
    spring = [f"2024-03-31 {h:02}:{m:02}" for h in (1, 2, 3) for m in (0, 30)]
    autumn = [f"2024-10-27 {h}" for h in ("01:30", "02:00", "02:30", "02:00", "02:30", "03:00")]
    rows = [
        ["time", "flow", "cake"],
        *([t, str(10 + i), "18"] for i, t in enumerate(spring + autumn)),
    ]
    report, changes = load(write(rows), mapping=replace(column_map, time_zone="Europe/Vienna"))
    march = read_month(tmp_path / "store", "a", "2024-03").time
    october = read_month(tmp_path / "store", "a", "2024-10").time
    assert {c["reason"] for c in changes} == {"time skipped by the clock in spring"}
    assert len(changes) == 2
    assert np.diff(march).tolist() == [1800, 1800, 1800]
    assert np.diff(october).tolist() == [1800] * 5
    assert report.rows_kept == 10


def test_laboratory_beside_minutes(write: Write, load: Load, clock: Clock, tmp_path: Path) -> None:
    """Shift and day records stand beside the means of the minutes of their shift and day."""
    minute_map = ColumnMap("a", ("time",), {"feed_flow": Column("flow", "m3/h")})
    shift_map = ColumnMap("a", ("time",), {"cake_solids": Column("cake", "%")}, grain=Grain.SHIFT)
    day_map = ColumnMap("a", ("time",), {"feed_solids": Column("feed", "%")}, grain=Grain.DAY)
    load(
        write(
            [["time", "flow"], *([t, f"{36 + i % 2}"] for i, t in enumerate(clock(1440)))], "m.csv"
        ),
        mapping=minute_map,
    )
    load(write([["time", "cake"], ["2024-03-04 09:00", "19"]], "s.csv"), mapping=shift_map)
    load(write([["time", "feed"], ["2024-03-04 23:00", "2.5"]], "d.csv"), mapping=day_map)
    table = read_shifts(tmp_path / "store", "a", ShiftPlan("UTC", 6, 8))
    assert table.size == 3
    assert table.mean["cake_solids"][0] == pytest.approx(0.19)
    assert np.isnan(table.mean["cake_solids"][1:]).all()
    assert table.mean["feed_solids"][:2] == pytest.approx(0.025)
    assert table.mean["feed_flow"] == pytest.approx(36.5 / 3600)


def test_tallies_agree_with_the_changes(
    write: Write, load: Load, clock: Clock, column_map: ColumnMap, tmp_path: Path
) -> None:
    """What the tallies count is what the list of changes holds."""
    rows = [["time", "flow", "cake"], *([t, "9999", "18"] for t in clock(7))]
    load(write(rows), mapping=column_map)
    tallies = read_tallies(tmp_path / "store", "a")
    assert sum(t.count for t in tallies) == len(read_changes(tmp_path / "store", "a")) == 7
    assert tallies[0].signal == "feed_flow"


def test_shifts_are_kept_and_reckoned_anew_when_readings_change(
    write: Write, load: Load, clock: Clock, column_map: ColumnMap, tmp_path: Path
) -> None:
    """The second reading takes the shifts kept; a new day, another plan or a cut file do not."""
    rows = [
        ["time", "flow", "cake"],
        *([t, f"{36 + i % 3}", "18"] for i, t in enumerate(clock(960))),
    ]
    load(write(rows), mapping=column_map)
    plan = ShiftPlan("UTC", 6, 8)
    first = read_shifts(tmp_path / "store", "a", plan)
    again = read_shifts(tmp_path / "store", "a", plan)
    assert np.array_equal(first.mean["feed_flow"], again.mean["feed_flow"])
    (kept,) = (tmp_path / "store").rglob(".shifts.npz")
    kept.write_bytes(kept.read_bytes()[:100])
    assert read_shifts(tmp_path / "store", "a", plan).size == first.size
    assert read_shifts(tmp_path / "store", "a", ShiftPlan("UTC", 6, 4)).size == 2 * first.size
    more = [rows[0], *([t, "36", "18"] for t in clock(480, "2024-03-05 06:00"))]
    load(write(more, "more.csv"), mapping=column_map)
    assert read_shifts(tmp_path / "store", "a", plan).size == first.size + 1
