"""One table of many sites: partitioned, replaced site by site, the same for every engine."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow.compute as pc
import pyarrow.dataset as ds
import pytest

from cakewright.errors import InputFileError
from cakewright.jobs.watch import watch_site
from cakewright.running.practice_plant import invented_shifts
from cakewright.running.site import Site
from cakewright.storage.logs.fleet_table import drifted, fleet_query, write_fleet


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two invented presses, one of which loses solids from shift 150 on."""
    folder = tmp_path_factory.mktemp("fleet")
    for number, fault in enumerate((None, "ring_wear")):
        table = invented_shifts(fault, seed=40 + number, shifts=220, start=150).table
        site = Site(f"works-{number}", "Invented", frame="disc", sludge="excess", invented=True)
        for _ in range(2):  # written again: replaced, not doubled
            write_fleet(watch_site(table, site), folder)
    return folder


def test_a_fleet_question(fleet: Path) -> None:
    """Which presses drifted in capture this quarter: the worn one first, with class and age."""
    rows = drifted(fleet, "capture", "2024-02-25")
    assert [row["site"] for row in rows] == ["works-1", "works-0"]
    assert rows[0]["now"] < rows[0]["was"]
    assert rows[0]["sludge"] == "excess"
    assert rows[0]["running_hours"] > 1000


def test_two_engines_one_answer(fleet: Path) -> None:
    """The embedded engine and another over the same files agree to the last row."""
    sql = "SELECT site, month, count(*) AS n, avg(capture) AS mean FROM shifts GROUP BY ALL"
    ours = {(r["site"], r["month"]): (r["n"], r["mean"]) for r in fleet_query(fleet, sql)}
    table = ds.dataset(fleet, partitioning="hive").to_table()
    grouped = table.group_by(["site", "month"]).aggregate([("capture", "mean"), ("start", "count")])
    theirs = {
        (r["site"], r["month"]): (r["start_count"], r["capture_mean"]) for r in grouped.to_pylist()
    }
    assert set(ours) == set(theirs)
    for key, (count, mean) in ours.items():
        assert count == theirs[key][0]
        assert np.isclose(mean, theirs[key][1], rtol=1e-12)
    assert pc.sum(pc.equal(table["site"], "works-0")).as_py() == 220


def test_no_table_and_no_query(fleet: Path, tmp_path: Path) -> None:
    """A folder without a table and words that are no query are told."""
    with pytest.raises(InputFileError, match="no fleet table"):
        fleet_query(tmp_path / "none", "SELECT 1")
    with pytest.raises(InputFileError, match="cannot be answered"):
        fleet_query(fleet, "SELECT nonsense FROM shifts")
