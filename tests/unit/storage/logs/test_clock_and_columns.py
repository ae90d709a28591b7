"""The clock and the columns are the file's own, whatever the computer, the site and the titles."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from cakewright.errors import DataError
from cakewright.storage.logs import Column, ColumnMap, LoadReport, read_month
from cakewright.storage.logs.receipts import read_receipts

Load = Callable[..., tuple[LoadReport, list[Mapping[str, Any]]]]
Write = Callable[..., Path]
TEN = 1_717_322_400  # 2024-06-02T10:00:00Z
SITES = ("UTC", "Europe/Berlin", "America/New_York", "Asia/Tokyo")

_ALL_WAYS = """
import sys, json
from pathlib import Path
import pyarrow as pa, pyarrow.parquet as pq
from cakewright.storage.logs import Column, ColumnMap, LogJob, load_logs, read_month, stored_months
from datetime import datetime
from zoneinfo import ZoneInfo
folder, found = Path(sys.argv[1]), {}
TEN = 1_717_322_400
for zone in sys.argv[2:]:
    here = datetime.fromtimestamp(TEN, ZoneInfo(zone))
    naive = pa.array([here.replace(tzinfo=None)], pa.timestamp("us"))
    aware = pa.array([TEN * 10**6], pa.timestamp("us", tz="America/Chicago"))
    ways = {
        "z": ("2024-06-02T10:00:00Z", ()), "plus": ("2024-06-02 15:30:00+05:30", ()),
        "wall": (here.strftime("%Y-%m-%d %H:%M"), ()), "epoch": (str(TEN), ("epoch s",)),
        "pattern": (here.strftime("%d.%m.%Y %H:%M"), ("%d.%m.%Y %H:%M",)),
        "offset": ("02.06.2024 12:00 +0200", ("%d.%m.%Y %H:%M %z",)),
        "naive": (naive, ()), "aware": (aware, ()),
    }
    for way, (text, formats) in ways.items():
        if isinstance(text, str):
            path = folder / "log.csv"
            path.write_text(f"time,flow\\n{text},36\\n", encoding="utf-8")
        else:
            path = folder / "log.parquet"
            pq.write_table(pa.table({"time": text, "flow": [36.0]}), path)
        store = folder / zone.replace("/", "-") / way
        mapping = ColumnMap("a", ("time",), {"feed_flow": Column("flow", "m3/h")}, formats, zone)
        load_logs(LogJob((path,), mapping, store, 2_000_000_000))
        month, = stored_months(store, "a")
        found[f"{zone} {way}"] = int(read_month(store, "a", month).time[0]) - TEN
print(json.dumps(found))
"""


@pytest.mark.parametrize("computer", ["America/New_York", "Asia/Tokyo"])
def test_one_moment_in_every_writing(tmp_path: Path, computer: str) -> None:
    """Eight ways to write one moment, four zones of the site, two of the computer: one moment."""
    import os

    done = subprocess.run(
        [sys.executable, "-c", _ALL_WAYS, str(tmp_path), *SITES],
        env={**os.environ, "TZ": computer}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    off = {way: by for way, by in json.loads(done.stdout).items() if by}
    assert not off


def test_change_of_hour_keeps_every_row(write: Write, load: Load, column_map: ColumnMap) -> None:
    """Both hours of autumn are kept: hourly rows, and rows put in order by the clock."""

    def autumn(times: list[str]) -> LoadReport:
        rows = [["time", "flow", "cake"],
                *([f"2024-10-27 {t}", str(10 + i), "18"] for i, t in enumerate(times))]  # fmt: skip
        return load(write(rows), mapping=replace(column_map, time_zone="Europe/Vienna"))[0]

    assert autumn(["01:00", "02:00", "02:00", "03:00"]).rows_kept == 4
    paired = ["00:30", "02:10", "02:10", "02:40", "02:40", "03:30"]
    assert autumn(paired).rows_kept == 4 + 6


def test_hour_that_never_was_hints_at_standard_time(
    write: Write, load: Load, column_map: ColumnMap
) -> None:
    """Rows in the hour skipped in spring are counted and tell that the zone is probably wrong."""
    times = [f"2024-03-31 {h:02}:{m:02}" for h in (1, 2, 3) for m in (0, 30)]
    rows = [["time", "flow", "cake"], *([t, "10", "18"] for t in times)]
    report, _ = load(write(rows), mapping=replace(column_map, time_zone="Europe/Vienna"))
    (receipt,) = report.receipts
    assert dict(receipt.left_out) == {"time skipped by the clock in spring": 2}
    assert any("standard time all year" in note for note in receipt.notes)


def test_two_kinds_of_time_in_one_file(write: Write, load: Load, column_map: ColumnMap) -> None:
    """Times with and without an offset in one file are both read and the mixture is named."""
    rows = [["time", "flow", "cake"], ["2024-06-02T10:00:00Z", "10", "18"],
            ["2024-06-02 12:01:00", "11", "18"]]  # fmt: skip
    report, _ = load(write(rows), mapping=replace(column_map, time_zone="Europe/Berlin"))
    assert (report.last - report.first) == 60
    assert any("Two kinds of time" in note for note in report.receipts[0].notes)


def test_clock_set_back_is_told(
    write: Write, load: Load, clock: Callable[..., list[str]], column_map: ColumnMap
) -> None:
    """A clock set back within a file is told with its size; rows that collide are counted."""
    times = [*clock(60), *clock(60, "2024-03-04 06:30")]
    rows = [["time", "flow", "cake"], *([t, str(10 + i), "18"] for i, t in enumerate(times))]
    report, _ = load(write(rows), mapping=column_map)
    (receipt,) = report.receipts
    assert any("set back by 1740 s" in note for note in receipt.notes)
    assert sum(n for _, n in receipt.left_out) + receipt.kept == receipt.rows == 120


def test_a_pattern_as_file_name(write: Write, load: Load, column_map: ColumnMap) -> None:
    """A second copy called log[1].csv, or a star in a name, is read itself and nothing else."""
    head = ["time", "flow", "cake"]
    for name, flow in (("log1.csv", "99"), ("logx.csv", "98")):
        write([head, ["2024-03-04 06:00", flow, "18"]], name)
    for at, name in enumerate(("log[1].csv", "log*.csv", "log?.csv")):
        path = write([head, [f"2024-03-04 07:0{at}", "10", "18"]], name)
        report, _ = load(path, mapping=column_map)
        assert report.rows_read == 1


def test_titles_that_differ_in_case(
    write: Write, load: Load, column_map: ColumnMap, tmp_path: Path
) -> None:
    """``FLOW`` is not ``flow``."""
    rows = [["time", "flow", "FLOW", "cake"], ["2024-03-04 06:00", "1", "36", "18"]]
    mapping = replace(column_map, columns={"feed_flow": Column("FLOW", "m3/h")})
    load(write(rows), mapping=mapping)
    assert read_month(tmp_path / "store", "a", "2024-03").values["feed_flow"] == pytest.approx(0.01)


def test_columns_of_one_title_are_refused(
    write: Write, load: Load, column_map: ColumnMap, tmp_path: Path
) -> None:
    """Two columns of one title: named, unless the map says which is which."""
    rows = [["time", "flow", "flow", "cake"], ["2024-03-04 06:00", "1", "36", "18"]]
    with pytest.raises(DataError, match="several columns called 'flow'"):
        load(write(rows), mapping=column_map)
    second = replace(column_map, columns={"feed_flow": Column("flow (2)", "m3/h")})
    load(write(rows), mapping=second)
    assert read_month(tmp_path / "store", "a", "2024-03").values["feed_flow"] == pytest.approx(0.01)


def test_a_folder_is_no_column(tmp_path: Path, load: Load, column_map: ColumnMap) -> None:
    """A folder called flow=55 changes nothing in the Parquet file within."""
    folder = tmp_path / "flow=55"
    folder.mkdir()
    table = pa.table({"time": ["2024-03-04 06:00"], "flow": [36.0], "cake": [18.0]})
    pq.write_table(table, folder / "log.parquet")
    load(folder / "log.parquet", mapping=column_map)
    assert read_month(tmp_path / "store", "a", "2024-03").values["feed_flow"] == pytest.approx(0.01)


def test_bad_formats_and_missing_words_are_faults(
    write: Write, load: Load, column_map: ColumnMap
) -> None:
    """A time pattern the reader does not know is named with the map, not a traceback."""
    path = write([["time", "flow", "cake"], ["2024-03-04 06:00", "1", "18"]])
    with pytest.raises(DataError, match=r"time\.format"):
        load(path, mapping=replace(column_map, time_formats=("%Q %Y",)))


def test_receipt_is_kept_and_counts_every_row(
    write: Write, load: Load, clock: Callable[..., list[str]], column_map: ColumnMap, tmp_path: Path
) -> None:
    """File, fingerprint, rows, first and last time and what was dropped; again: all were there."""
    rows = [["time", "flow", "cake"], *([t, "10", f"{18 + i}"] for i, t in enumerate(clock(30)))]
    path = write([*rows, rows[-1], ["yesterday", "1", "2"]])
    report, _ = load(path, mapping=column_map)
    (one,) = report.receipts
    assert (one.rows, one.kept) == (32, 30)
    assert dict(one.left_out) == {"row repeated": 1, "time cannot be read": 1}
    assert read_receipts(tmp_path / "store", "a") == report.receipts
    assert "2024-03-04 06:00 UTC to 2024-03-04 06:29 UTC" in one.text()
    again, _ = load(path, mapping=column_map)
    assert any("read before" in note for note in again.receipts[0].notes)


def test_words_for_running(write: Write, load: Load, tmp_path: Path) -> None:
    """EIN and AUS, RUN and STOP, the site's own words: a flag in words is a flag."""
    words = ("EIN", "AUS", "Run", "stop", "運転", "停止", "fährt", "0", "1")
    rows = [["time", "state"], *([f"2024-03-04 06:0{i}", w] for i, w in enumerate(words))]
    mapping = ColumnMap("a", ("time",), {"machine_on": Column("state", "1", on=("fährt",))})
    report, _ = load(write(rows), mapping=mapping)
    on = read_month(tmp_path / "store", "a", "2024-03").values["machine_on"]
    assert np.array_equal(on, [1, 0, 1, 0, 1, 0, 1, 0, 1])
    assert not report.receipts[0].removed
