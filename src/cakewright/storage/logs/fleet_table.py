"""One table of shift records of many sites, partitioned by site and month, that any engine reads.

The folder may lie on a local disk or anywhere the ecosystem's file-system layer reaches
(``s3://...``, ``gs://...``), with the credentials that layer finds by itself.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.dataset as ds
from pyarrow import fs

from cakewright.errors import InputFileError
from cakewright.jobs.watch import WatchFindings
from cakewright.quantities import house_name
from cakewright.running.shifts import shift_utc
from cakewright.storage.logs.engine import PARQUET_FAULTS, connect

__all__ = ["drifted", "fleet_query", "fleet_rows", "write_fleet"]

_PARTS = ds.partitioning(pa.schema([("site", pa.string()), ("month", pa.string())]), flavor="hive")


def _place(folder: str | Path) -> tuple[fs.FileSystem, str]:
    text = str(folder)
    if "://" in text:
        system, path = fs.FileSystem.from_uri(text)
        return system, path
    return fs.LocalFileSystem(), str(Path(text).resolve())


def fleet_rows(findings: WatchFindings) -> pa.Table:
    """Shift records of one site: when, how long it ran, every indicator in SI, what kind of press.

    ``running_hours`` is what the press has run since its log begins: its age as far as known.
    """
    table, site = findings.table, findings.site
    moment = shift_utc(table, site.plan)
    month = np.array(moment, dtype="datetime64[s]").astype("datetime64[M]").astype(str)
    columns: dict[str, Any] = {
        "site": pa.array([site.key] * table.size), "month": pa.array(month.tolist()),
        "start": pa.array(moment * 1000, pa.int64()).cast(pa.timestamp("ms", tz="UTC")),
        "frame": pa.array([site.frame] * table.size),
        "sludge": pa.array([site.sludge] * table.size),
        "run_time": pa.array(table.run_time),
        "running_hours": pa.array(np.cumsum(table.run_time) / 3600.0),
        "baseline": pa.array(findings.baseline),
    }  # fmt: skip
    for name, one in findings.shifts.items():
        columns[name] = pa.array(one.value, pa.float64(), from_pandas=True)
    return pa.table(columns)


def write_fleet(findings: WatchFindings, folder: str | Path) -> None:
    """The records of one site in place of those it had; other sites stay as they are."""
    system, path = _place(folder)
    ds.write_dataset(
        fleet_rows(findings), path, filesystem=system, format="parquet", partitioning=_PARTS,
        basename_template="shifts-{i}.parquet", existing_data_behavior="delete_matching",
    )  # fmt: skip


def fleet_query(folder: str | Path, sql: str) -> list[dict[str, Any]]:
    """Rows of a query over the table, which it calls ``shifts``, by the embedded engine.

    Raises
    ------
    InputFileError
        If there is no table, or the query is not one.
    """
    import tempfile

    import duckdb

    system, path = _place(folder)
    try:
        shifts = ds.dataset(path, filesystem=system, format="parquet", partitioning=_PARTS)
    except PARQUET_FAULTS as error:
        raise InputFileError(f"{folder}: no fleet table here ({error})") from None
    with tempfile.TemporaryDirectory() as scratch, connect(Path(scratch)) as engine:
        engine.register("shifts", shifts)
        try:
            found = engine.execute(sql)
            names = [each[0] for each in found.description or ()]
            return [dict(zip(names, row, strict=True)) for row in found.fetchall()]
        except duckdb.Error as error:
            raise InputFileError(f"the query cannot be answered: {error}") from None


def drifted(folder: str | Path, indicator: str, since: str) -> list[dict[str, Any]]:
    """Which presses moved in one indicator since a date, against their own baseline, by class and
    age: the mean then and now, and the difference in standard errors, largest first."""
    house_name(indicator)  # an unknown name is told with the nearest one
    name = indicator
    return fleet_query(
        folder,
        f"""
        SELECT site, any_value(frame) AS frame, any_value(sludge) AS sludge,
               max(running_hours) AS running_hours,
               avg({name}) FILTER (WHERE baseline) AS was,
               avg({name}) FILTER (WHERE start >= TIMESTAMPTZ '{since} 00:00:00+00') AS now,
               (now - was) / nullif(stddev_samp({name}) FILTER (WHERE baseline)
                 / sqrt(count({name}) FILTER (WHERE start >= TIMESTAMPTZ '{since} 00:00:00+00')), 0)
                 AS moved
        FROM shifts WHERE run_time > 0 GROUP BY site ORDER BY abs(moved) DESC NULLS LAST, site
        """,
    )
