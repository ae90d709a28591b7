"""Small invented logs to load."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from cakewright.storage.logs import Column, ColumnMap, LoadReport, LogJob, load_logs, read_changes

NOW = int(datetime(2030, 1, 1).timestamp())
Rows = Sequence[Sequence[str]]


@pytest.fixture
def column_map() -> ColumnMap:
    """Two columns in everyday units."""
    columns = {"feed_flow": Column("flow", "m3/h"), "cake_solids": Column("cake", "%")}
    return ColumnMap(site="a", time_titles=("time",), columns=columns)


@pytest.fixture
def write(tmp_path: Path) -> Callable[..., Path]:
    """Write rows as a CSV file."""

    def writer(rows: Rows, name: str = "log.csv", mark: str = ",", end: str = "\n") -> Path:
        path = tmp_path / name
        path.write_text("\n".join(mark.join(row) for row in rows) + end, encoding="utf-8")
        return path

    return writer


@pytest.fixture
def load(tmp_path: Path) -> Callable[..., tuple[LoadReport, list[Mapping[str, Any]]]]:
    """Load files and give the report and every change."""

    def loader(*paths: Path, mapping: ColumnMap) -> tuple[LoadReport, list[Mapping[str, Any]]]:
        store = tmp_path / "store"
        report = load_logs(LogJob(paths, mapping, store, NOW))
        return report, read_changes(store, mapping.site)

    return loader


def minutes(count: int, start: str = "2024-03-04 06:00", step: int = 1) -> list[str]:
    """Times a minute apart as text."""
    from datetime import timedelta

    first = datetime.fromisoformat(start)
    return [str(first + timedelta(minutes=step * i)) for i in range(count)]


@pytest.fixture
def clock() -> Callable[..., list[str]]:
    """Times a minute apart as text."""
    return minutes
