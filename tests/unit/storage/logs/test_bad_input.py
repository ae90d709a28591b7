"""Bad logs: each fault is named, counted and survived."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from cakewright.errors import DataError, InputFileError
from cakewright.storage.logs import Column, ColumnMap, LoadReport, read_month
from cakewright.storage.logs.looking import look_over

Write = Callable[..., Path]
Load = Callable[..., tuple[LoadReport, list[Mapping[str, Any]]]]
Clock = Callable[..., list[str]]
HEAD = ["time", "flow", "cake"]


def _plain(times: list[str], flow: float = 10.0) -> list[list[str]]:
    return [
        HEAD,
        *([t, f"{flow + 0.01 * (i % 7):.2f}", f"{18 + i % 5}"] for i, t in enumerate(times)),
    ]


def _count(changes: list[Mapping[str, Any]]) -> Counter[str]:
    return Counter(str(change["reason"]) for change in changes)


def test_truncated_text(write: Write, load: Load, clock: Clock, column_map: ColumnMap) -> None:
    """A last line cut in half is kept as text with its reason; the rest is read."""
    rows = _plain(clock(20))
    path = write([*rows, ["2024-03-04 06:20", "1"]], end="")
    report, changes = load(path, mapping=column_map)
    assert report.rows_kept == 20
    assert _count(changes) == {"line: too few cells in the line": 1}
    assert changes[0]["text"] == "2024-03-04 06:20,1"
    assert any("cut off" in note for note in report.notes)


def test_truncated_parquet_and_workbook(tmp_path: Path, load: Load, column_map: ColumnMap) -> None:
    """A file cut beyond reading is refused by name, not half read."""
    whole = tmp_path / "whole.parquet"
    pq.write_table(pa.table({"time": ["2024-01-01"], "flow": [1.0], "cake": [18.0]}), whole)
    for name in ("cut.parquet", "cut.xlsx"):
        cut = tmp_path / name
        cut.write_bytes(whole.read_bytes()[:60])
        with pytest.raises(InputFileError, match=name):
            load(cut, mapping=column_map)


def test_parquet_whose_names_are_no_text(tmp_path: Path) -> None:
    """A byte turned within the name of a column: refused by name, wherever it is opened."""
    path = tmp_path / "turned.parquet"
    pq.write_table(pa.table({"time": ["2024-01-01"], "feed flow": [1.0]}), path)
    path.write_bytes(path.read_bytes().replace(b"feed flow", b"feed\xbbflow"))
    with pytest.raises(InputFileError, match="turned"):
        look_over(path, "a", tmp_path / "scratch")


def test_mixed_encodings(tmp_path: Path, load: Load, column_map: ColumnMap) -> None:
    """Lines in Windows-1252 within a UTF-8 file are read and their number is told."""
    path = tmp_path / "mixed.csv"
    text = "time,flow,cake,Prüfer\n2024-03-04 06:00,10,18,Grün\n2024-03-04 06:01,11,19,".encode()
    path.write_bytes(text + "Müller\n".encode("cp1252"))
    report, _ = load(path, mapping=column_map)
    assert report.rows_kept == 2
    assert any("1 line not in UTF-8" in note and "line 3" in note for note in report.notes)


def test_utf_16(tmp_path: Path, load: Load, column_map: ColumnMap) -> None:
    """An export in UTF-16 is read."""
    path = tmp_path / "wide.csv"
    path.write_text("time,flow,cake\n2024-03-04 06:00,10,18\n", encoding="utf-16")
    report, _ = load(path, mapping=column_map)
    assert report.rows_kept == 1


def test_reversed_time(
    write: Write, load: Load, clock: Clock, column_map: ColumnMap, tmp_path: Path
) -> None:
    """Rows written newest first come out in time order, none lost."""
    rows = _plain(clock(50))
    report, changes = load(write([rows[0], *rows[:0:-1]]), mapping=column_map)
    time = read_month(tmp_path / "store", "a", "2024-03").time
    assert report.rows_kept == 50
    assert not changes
    assert (np.diff(time) == 60).all()


def test_future_dates(write: Write, load: Load, clock: Clock, column_map: ColumnMap) -> None:
    """Rows dated after now are dropped with their reason."""
    rows = _plain([*clock(10), *clock(3, "2031-05-01 00:00")])
    report, changes = load(write(rows), mapping=column_map)
    assert report.rows_kept == 10
    assert _count(changes) == {"time lies in the future": 3}


def test_only_future_dates(write: Write, load: Load, clock: Clock, column_map: ColumnMap) -> None:
    """A log with nothing usable is refused and says what was wrong with it."""
    with pytest.raises(DataError, match="3 x time lies in the future"):
        load(write(_plain(clock(3, "2031-05-01 00:00"))), mapping=column_map)


def test_two_sites_with_a_site_column(write: Write, load: Load, column_map: ColumnMap) -> None:
    """Rows of another site are kept out and counted by its name."""
    rows = [
        ["time", "flow", "cake", "site"],
        ["2024-03-04 06:00", "10", "18", "a"],
        ["2024-03-04 06:00", "99", "30", "b"],
        ["2024-03-04 06:01", "11", "18", "a"],
    ]
    report, changes = load(write(rows), mapping=replace(column_map, site_column="site"))
    assert report.rows_kept == 2
    assert _count(changes) == {"row of another site (b)": 1}


def test_two_sites_not_told_apart(write: Write, load: Load, column_map: ColumnMap) -> None:
    """A column that names two sites but is not mapped stops the load before they mix."""
    rows = [
        ["time", "flow", "cake", "Plant"],
        ["2024-03-04 06:00", "1", "18", "a"],
        ["2024-03-04 06:01", "1", "18", "b"],
    ]
    with pytest.raises(DataError, match="2 sites in one file: a, b"):
        load(write(rows), mapping=column_map)


def test_column_without_numbers(
    write: Write, load: Load, clock: Clock, column_map: ColumnMap
) -> None:
    """A column that never holds a number is named; the other is read."""
    rows = [HEAD, *([t, "10", "NaN"] for t in clock(30))]
    report, _ = load(write(rows), mapping=column_map)
    assert report.empty == ("cake_solids",)


def test_constant_sensor(write: Write, load: Load, clock: Clock, column_map: ColumnMap) -> None:
    """A flow that does not move for hours is no reading after its first; the cake goes on."""
    rows = _plain(clock(300))
    for row in rows[101:]:
        row[1] = "10.00"
    _, changes = load(write(rows), mapping=column_map)
    stuck = [c for c in changes if "unchanged" in c["reason"]]
    assert {c["signal"] for c in stuck} == {"feed_flow"}
    assert len(stuck) == 199
    assert all(c["before"] == pytest.approx(10 / 3600) and c["after"] is None for c in stuck)


def test_units_changed_midway(
    write: Write, load: Load, clock: Clock, column_map: ColumnMap, tmp_path: Path
) -> None:
    """From m3/h to L/s without a word: the rows are put right, with the old number beside."""
    rows = _plain(clock(4000))
    for row in rows[2501:]:
        row[1] = f"{float(row[1]) / 3.6:.4f}"
    _, changes = load(write(rows), mapping=column_map)
    slips = [c for c in changes if "unit slip" in c["reason"]]
    flow = read_month(tmp_path / "store", "a", "2024-03").values["feed_flow"]
    assert len(slips) == 1500
    assert flow == pytest.approx(10.03 / 3600, rel=0.01)


def test_text_among_numbers(write: Write, load: Load, column_map: ColumnMap) -> None:
    """A cell that is no number is emptied and its text kept; a missing mark is no fault."""
    rows = [HEAD, ["2024-03-04 06:00", "off?", "18"], ["2024-03-04 06:01", "n/a", "19"]]
    report, changes = load(write(rows), mapping=column_map)
    assert report.rows_kept == 2
    assert [(c["signal"], c["text"]) for c in changes] == [("feed_flow", "off?")]


def test_unreadable_times(write: Write, load: Load, column_map: ColumnMap) -> None:
    """A row whose time cannot be read is kept out with that text."""
    rows = [HEAD, ["2024-03-04 06:00", "10", "18"], ["yesterday", "10", "18"]]
    _, changes = load(write(rows), mapping=column_map)
    assert [(c["reason"], c["text"]) for c in changes] == [("time cannot be read", "yesterday")]


def test_duplicates(write: Write, load: Load, clock: Clock, column_map: ColumnMap) -> None:
    """Repeated rows go silently into the count; a contradiction is named as one."""
    rows = _plain(clock(10))
    contradiction = [rows[4][0], "77", "18"]
    report, changes = load(write([*rows, rows[3], contradiction]), mapping=column_map)
    assert report.rows_kept == 10
    assert _count(changes) == {
        "row repeated": 1,
        "second row for the same time that says otherwise": 1,
    }


def test_loading_twice_changes_nothing(
    write: Write, load: Load, clock: Clock, column_map: ColumnMap, tmp_path: Path
) -> None:
    """The same file loaded again leaves the store as it was."""
    path = write(_plain(clock(40)))
    load(path, mapping=column_map)
    before = read_month(tmp_path / "store", "a", "2024-03")
    _, changes = load(path, mapping=column_map)
    after = read_month(tmp_path / "store", "a", "2024-03")
    assert np.array_equal(before.time, after.time)
    assert np.array_equal(before.values["feed_flow"], after.values["feed_flow"])
    assert _count(changes) == {"row repeated": 40}


def test_gaps_are_told(write: Write, load: Load, clock: Clock, column_map: ColumnMap) -> None:
    """A hole in the log is a gap with its ends, and nothing is filled in."""
    report, _ = load(
        write(_plain([*clock(10), *clock(10, "2024-03-04 08:00")])), mapping=column_map
    )
    assert len(report.gaps) == 1
    assert report.gaps[0].end - report.gaps[0].start == 111 * 60


def test_nan_in_parquet_of_others(tmp_path: Path, load: Load, column_map: ColumnMap) -> None:
    """NaN written by others is missing; the numbers beside it are not lost with it."""
    path = tmp_path / "nan.parquet"
    size = 5000
    flow = np.where(np.arange(size) % 3 == 0, np.nan, 10 + np.arange(size) % 7)
    start = np.datetime64("2024-03-01T00:00", "s")
    time = start + np.arange(size) * np.timedelta64(60, "s")
    table = pa.table(
        {"time": pa.array(time), "flow": pa.array(flow), "cake": pa.array(np.full(size, np.nan))}
    )
    pq.write_table(table, path, row_group_size=500)
    report, _ = load(path, mapping=column_map)
    kept = read_month(tmp_path / "store", "a", "2024-03").values["feed_flow"]
    assert report.empty == ("cake_solids",)
    assert np.isfinite(kept).sum() == np.isfinite(flow).sum()
    stored = pq.read_table(next((tmp_path / "store" / "readings").rglob("part.parquet")))
    assert stored.column("feed_flow").null_count == int(np.isnan(flow).sum())
    assert not np.isnan(np.array(stored.column("feed_flow").drop_null())).any()


def test_missing_title(write: Write, load: Load, clock: Clock, column_map: ColumnMap) -> None:
    """A title the map names but the file lacks is told with the titles there are."""
    wrong = replace(column_map, columns={"feed_flow": Column("Zulauf", "m3/h")})
    with pytest.raises(DataError, match=r"'Zulauf'.*one of: time, flow, cake"):
        load(write(_plain(clock(3))), mapping=wrong)


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("empty.csv", "", "empty"),
        ("notes.pdf", "x", "logs are read from"),
        ("binary.csv", "a\x00b", "binary"),
        ("head.csv", "time,flow,cake\n", "0 readable rows"),
    ],
)
def test_files_that_are_no_logs(
    tmp_path: Path, load: Load, column_map: ColumnMap, name: str, text: str, words: str
) -> None:
    """Files that hold no log are refused with the reason."""  # fmt: skip
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    with pytest.raises((InputFileError, DataError), match=words):
        load(path, mapping=column_map)


def test_missing_file(tmp_path: Path, load: Load, column_map: ColumnMap) -> None:
    """A file that is not there is named."""
    with pytest.raises(InputFileError, match="no such file"):
        load(tmp_path / "gone.csv", mapping=column_map)
