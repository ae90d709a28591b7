"""A first look at a log: what is guessed from titles and cells."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from cakewright.errors import InputFileError
from cakewright.storage.logs import Grain
from cakewright.storage.logs.looking import look_over


@pytest.mark.parametrize(
    ("first", "second", "form"),
    [
        ("2026-01-31 13:45", "2026-01-31 13:46", ()),
        ("31.01.2026 13:45", "31.01.2026 13:46", ("%d.%m.%Y %H:%M",)),
        ("01/31/2026 13:45", "01/31/2026 13:46", ("%m/%d/%Y %H:%M",)),
        ("1769867100", "1769867160", ("epoch s",)),
    ],
)
def test_time_is_recognised(tmp_path: Path, first: str, second: str, form: tuple[str, ...]) -> None:
    """The usual ways to write a time are read from the cells; one minute apart is a minute log."""
    text = f"time;feed flow [m3/h]\n{first};1,5\n{second};1,7\n"
    look = look_over(_path(tmp_path, text), "site", tmp_path / "scratch")
    assert look.draft.time_titles == ("time",)
    assert look.draft.time_formats == form
    assert look.draft.grain is Grain.MINUTE
    assert look.draft.decimal == ","
    assert look.draft.columns["feed_flow"].unit == "m3/h"
    assert look.cells == ((first, second), ("1,5", "1,7"))


def _path(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_time_under_a_foreign_title(tmp_path: Path) -> None:
    """A column of times is found whatever its title; eight hours apart is a shift log."""
    rows = "".join(f"2026-01-0{day} {hour:02d}:00,18.{day}\n" for day in (1, 2) for hour in (6, 14))
    look = look_over(_path(tmp_path, f"taken,cake solids [%]\n{rows}"), "site", tmp_path / "s")
    assert look.draft.time_titles == ("taken",)
    assert look.draft.grain is Grain.SHIFT


def test_parquet_with_too_many_columns_is_refused(tmp_path: Path) -> None:
    """Only the description of the file is read to refuse it."""
    path = tmp_path / "wide.parquet"
    pq.write_table(pa.table({f"c{i}": [1.0] for i in range(401)}), path)
    with pytest.raises(InputFileError, match="1 rows of 401 columns"):
        look_over(path, "site", tmp_path / "scratch")
