"""Listening keeps what it reads, hands finished days on, and ends in good order."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from tests.unit.storage.live.plants import in_background, modbus_plant

from cakewright.errors import DataError, OutputError
from cakewright.storage.live import TagMap, parse_tag_map
from cakewright.storage.live.listening import Listening, listen, listening_map, read_once
from cakewright.storage.logs import ColumnMap, LogJob, load_logs, read_changes, read_column_map
from cakewright.storage.logs.store import read_month

pytest.importorskip("pymodbus")
NOW = 4_000_000_000


def tag_map(port: int) -> TagMap:
    """A flow that is there and a torque that is not."""
    return parse_tag_map(
        f"""
site = "invented"
address = "modbus://127.0.0.1:{port}"
every_s = 1
[tags.feed_flow]
unit = "m3/h"
register = 0
[tags.wash_flow]
unit = "m3/h"
register = 90
"""
    )


def _load(folder: Path, mapping: ColumnMap) -> None:
    files = tuple(sorted(folder.glob("*.jsonl")))
    load_logs(LogJob(files, mapping, folder / "store", NOW))


def test_what_is_kept_is_a_log(tmp_path: Path) -> None:
    """Two polls end in the log store by the map written beside them; the reason comes along."""
    with in_background(modbus_plant(48440, [])):
        report = listen(tag_map(48440), Listening(tmp_path, polls=2))
    assert (report.polls, report.good, report.poor, report.reconnects) == (2, 2, 2, 1)
    mapping = read_column_map(tmp_path / "listen-map.toml")
    assert mapping == listening_map(tag_map(48440))
    _load(tmp_path, mapping)
    month = next((tmp_path / "store" / "readings" / "site=invented").iterdir()).name[6:]
    flow = read_month(tmp_path / "store", "invented", month).values["feed_flow"]
    assert flow == pytest.approx([12.5 / 3600] * 2)
    changes = read_changes(tmp_path / "store", "invented")
    assert {(c["signal"], c["reason"]) for c in changes} == {("wash_flow", "live reading not good")}
    assert all("bad: exception" in c["text"] for c in changes)


def test_once_keeps_nothing(tmp_path: Path) -> None:
    """One look at every tag leaves no file; an absent server is told as such."""
    with in_background(modbus_plant(48441, [])):
        got = {one.key: one for one in read_once(tag_map(48441))}
    assert got["feed_flow"].value == pytest.approx(12.5 / 3600)
    assert got["wash_flow"].value is None
    with pytest.raises(ConnectionError, match="does not answer"):
        read_once(tag_map(48449))


def test_finished_days_are_handed_on(tmp_path: Path) -> None:
    """A day of before leaves for the other folder whole; a folder that is away keeps it here."""
    live, away = tmp_path / "live", tmp_path / "away"
    live.mkdir()
    old = live / "2024-03-04.jsonl"
    old.write_text(json.dumps({"time": "2024-03-04T06:00:00+00:00", "feed_flow": 1.0}) + "\n")
    away.write_text("not a folder")
    told: list[str] = []
    with in_background(modbus_plant(48442, [])):
        listen(tag_map(48442), Listening(live, polls=1, forward=away), told.append)
        assert old.is_file()
        assert any("cannot be reached" in words for words in told)
        away.unlink()
        listen(tag_map(48442), Listening(live, polls=1, forward=away), told.append)
    assert [path.name for path in away.iterdir()] == ["invented-2024-03-04.jsonl"]
    assert not old.exists()


def test_time_is_up(tmp_path: Path) -> None:
    """A listening with an end ends then, however slow the pace."""
    with in_background(modbus_plant(48443, [])):
        report = listen(tag_map(48443), Listening(tmp_path, seconds=1.2, every=60.0))
    assert report.polls == 1


def test_a_disk_that_takes_nothing(tmp_path: Path) -> None:
    """Readings that cannot be kept stop the listening with the folder named."""
    blocked = tmp_path / "file"
    blocked.write_text("x")
    with pytest.raises(OutputError, match="cannot be kept"):
        listen(tag_map(48449), Listening(blocked, polls=1))


@pytest.mark.parametrize(
    ("extra", "where"),
    [
        ('write = 1\n[tags.feed_flow]\nunit = "m3/h"\nregister = 0', "write"),
        ('[tags.feed_flow]\nunit = "m3/h"\nregister = 0\nsetpoint = 3', "tags.feed_flow"),
        ('[tags.feed_flow]\nunit = "m3/h"\nregister = 0\ncommand = "on"', "tags.feed_flow"),
    ],
)
def test_a_map_that_would_write_is_refused(extra: str, where: str) -> None:
    """Whatever smells of writing is named and refused before any line is opened."""
    with pytest.raises(DataError, match="reading only") as caught:
        parse_tag_map(f'address = "modbus://127.0.0.1:502"\n{extra}\n')
    assert [fault.where for fault in caught.value.faults] == [where]


def test_security_files_must_be_there(tmp_path: Path) -> None:
    """Certificate and key are looked for beside the map and named when missing."""
    (tmp_path / "a.der").write_bytes(b"x")
    text = """
address = "opc.tcp://127.0.0.1:4840"
security = "Basic256Sha256,SignAndEncrypt,a.der,a.pem"
[tags.feed_flow]
unit = "m3/h"
node = "ns=2;s=flow"
"""
    with pytest.raises(DataError, match=r"a\.pem") as caught:
        parse_tag_map(text, folder=tmp_path)
    assert len(caught.value.faults) == 1
