"""Column maps and site files: kept, read back, all faults at once."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from cakewright.errors import DataError, InputFileError
from cakewright.storage.logs import (
    Column,
    ColumnMap,
    Grain,
    parse_column_map,
    read_column_map,
    write_column_map,
)
from cakewright.storage.logs.engine import connect
from cakewright.storage.logs.site_file import parse_site


def test_map_survives_its_file(tmp_path: Path) -> None:
    """A map written and read again is the same map."""
    columns = {
        "feed_flow": Column("Zulauf", "m3/h"),
        "cake_solids": Column("TS", "%", held=True, relative=0.02),
    }
    mapping = ColumnMap(
        "works-1", ("Datum", "Uhr"), columns, ("%d.%m.%Y %H:%M",), "Europe/Vienna", Grain.SHIFT,
        ",", ".", ";", "lab", "Ort", ("x",),
    )  # fmt: skip
    path = tmp_path / "maps" / "works-1.toml"
    write_column_map(mapping, path)
    assert read_column_map(path) == mapping


def test_map_faults_all_at_once() -> None:
    """Site, zone, grain, unit, signal, and stray keys are all named in one message."""
    text = """
site = "a b"
time_zone = "Moon/Base"
grain = "second"
colour = 1
[time]
title = "t"
[columns]
feed_flow = { title = "q", unit = "kg" }
feed_flwo = { title = "q", unit = "m3/h" }
"""
    with pytest.raises(DataError) as caught:
        parse_column_map(text)
    assert {fault.where for fault in caught.value.faults} == {
        "site", "time_zone", "grain", "colour", "columns.feed_flow.unit", "columns.feed_flwo",
    }  # fmt: skip
    assert "did you mean 'feed_flow'" in str(caught.value)


def test_missing_map_file(tmp_path: Path) -> None:
    """A map that is not there is named."""
    with pytest.raises(InputFileError, match=r"none.toml: no such file"):
        read_column_map(tmp_path / "none.toml")


def test_engine_reads_nan_of_others(tmp_path: Path) -> None:
    """Every connection is told that Parquet may hold NaN."""
    with connect(tmp_path) as engine:
        query = "SELECT current_setting('parquet_can_have_nan')"
        assert engine.execute(query).fetchone() == (True,)


def test_nan_of_others_is_not_skipped(tmp_path: Path) -> None:
    """A search for NaN in a file of others finds every one, whatever its statistics say."""
    value = np.where(np.arange(1000) % 4 == 0, np.nan, np.arange(1000.0))
    path = tmp_path / "nan.parquet"
    pq.write_table(pa.table({"value": value}), path, row_group_size=100)
    with connect(tmp_path / "scratch") as engine:
        query = f"SELECT count(*) FROM read_parquet('{path}') WHERE value > 1e6"
        assert engine.execute(query).fetchone() == (250,)


def test_only_one_place_opens_the_engine() -> None:
    """No other module of the store opens a connection and forgets that setting."""
    import cakewright.storage.logs as logs

    folder = Path(logs.__file__).parent
    users = [p.name for p in folder.glob("*.py") if "duckdb.connect(" in p.read_text("utf-8")]
    assert users == ["engine.py"]


def test_site_in_everyday_units() -> None:
    """A site file gives SI values, with prices in its own currency."""
    site = parse_site(
        """
[site]
key = "a"
planned = "80 %"
[shifts]
time_zone = "Europe/Vienna"
first = "5 h"
length = "12 h"
[baseline]
first = 2024-01-01
last = "2024-02-01"
[promise]
cake_solids = "19 %"
polymer_dose = "8 kg/t"
[prices]
currency = "EUR"
cake = "90 EUR/t"
power = "0.36 EUR/kWh"
[limits]
screw_speed = ["1 1/min", "3 1/min"]
[balance]
dissolved = "800 mg/L"
assumed = { polymer_strength = "0.1 .. 0.2 .. 0.3 %" }
[service]
interval = "1000 h"
shaft_capacity = "100 kg/h"
since_last = ["10 h"]
"""
    )
    assert site.plan.hours == 12
    assert site.promise.values == pytest.approx({"cake_solids": 0.19, "polymer_dose": 0.008})
    assert site.prices.cake == pytest.approx(0.09)
    assert site.prices.power == pytest.approx(1e-7)
    assert site.limits["screw_speed"] == pytest.approx((1 / 60, 3 / 60))
    assert site.balance.dissolved == pytest.approx(0.8)
    assert site.balance.assumed["polymer_strength"].value == pytest.approx(0.002)
    assert site.baseline == (19723 * 86400, 19755 * 86400)
    assert site.serviced == {1: 36000.0}


def test_site_faults_all_at_once() -> None:
    """Faults of every section come together."""
    text = """
[site]
colour = "red"
[shifts]
length = "2 d"
[promise]
cake_solids = "19 kg"
happiness = "1"
[limits]
screw_speed = ["3 1/min", "1 1/min"]
[moon]
"""
    with pytest.raises(DataError) as caught:
        parse_site(text)
    assert {fault.where for fault in caught.value.faults} == {
        "site.colour", "site.key", "shifts.length", "promise.cake_solids", "promise.happiness",
        "limits.screw_speed", "moon",
    }  # fmt: skip


def test_parts_list_of_the_supplier(tmp_path: Path) -> None:
    """A list beside the site file replaces the invented one; hours of before go by its keys."""
    (tmp_path / "parts.toml").write_text('[parts.rings]\nper = "shaft"\nlife_h = 9000\n')
    text = """
[site]
key = "a"
[service]
parts = "parts.toml"
replaced = { rings = ["300 h", "2 d"] }
"""
    site = parse_site(text, folder=tmp_path)
    assert [(part.key, part.life, part.mark.value) for part in site.parts] == [
        ("rings", 9000 * 3600.0, "")
    ]
    assert site.replaced["rings"] == pytest.approx((300 * 3600, 48 * 3600))
    with pytest.raises(DataError) as caught:
        parse_site(text.replace("rings", "plates"), folder=tmp_path)
    assert {fault.where for fault in caught.value.faults} == {"service.replaced.plates"}
    with pytest.raises(DataError, match="gone"):
        parse_site('[site]\nkey = "a"\n[service]\nparts = "gone.toml"\n', folder=tmp_path)
