"""`cakewright listen` from outside, against real servers on this machine."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
from tests.unit.storage.live.plants import OpcUaPlant, in_background, modbus_plant

pytest.importorskip("asyncua")
pytest.importorskip("pymodbus")
PORT = 48450
TAGS = """
site = "invented"
address = "opc.tcp://127.0.0.1:48450/"
every_s = 1
[tags.feed_flow]
unit = "m3/h"
node = "ns=2;s=flow"
held = true
[tags.screw_torque]
unit = "percent"
node = "ns=2;s=torque"
"""
MODBUS = """
site = "invented"
address = "modbus://127.0.0.1:48451"
every_s = 1
[tags.feed_flow]
unit = "m3/h"
register = 0
"""


def _start(arguments: Sequence[object], **more: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "cakewright", "listen", *map(str, arguments)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env={**os.environ, **more},
    )  # fmt: skip


def _rows(folder: Path) -> list[dict[str, object]]:
    lines = [line for p in sorted(folder.glob("*.jsonl")) for line in p.read_text().splitlines()]
    return [json.loads(line) for line in lines]


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpcUaPlant]:
    """One server for all tests here."""
    server = OpcUaPlant(tmp_path_factory.mktemp("plant"), PORT)
    yield server
    server.close()


@pytest.fixture
def tags(tmp_path: Path) -> Path:
    """The tag map as a file."""
    path = tmp_path / "tags.toml"
    path.write_text(TAGS, encoding="utf-8")
    return path


@pytest.mark.skipif(os.name == "nt", reason="no such signal there")
def test_ctrl_c_ends_in_good_order(plant: OpcUaPlant, tags: Path, tmp_path: Path) -> None:
    """After Ctrl-C: exit code 0, every row whole, the tally told, and nothing was written."""
    plant.writes.clear()
    out = tmp_path / "live"
    running = _start([tags, "--out", out])
    until = time.monotonic() + 60
    while time.monotonic() < until and (not out.is_dir() or len(_rows(out)) < 2):
        time.sleep(0.2)
    running.send_signal(signal.SIGINT)
    told, errors = running.communicate(timeout=30)
    assert running.returncode == 0, errors
    assert "connected 1 times, lost 0 times" in told
    assert "Traceback" not in errors
    assert all(row["feed_flow"] == pytest.approx(12.5 / 3600) for row in _rows(out))
    assert plant.writes == []


def test_user_and_certificate_on_the_command_line(
    plant: OpcUaPlant, tags: Path, tmp_path: Path
) -> None:
    """The right password enters over an encrypted line; the wrong one is told once, exit code 1."""
    line = [
        tags, "--user", "reader", "--certificate", plant.folder / "reader.der",
        "--key", plant.folder / "reader.pem", "--out", tmp_path / "live", "--polls", 1,
    ]  # fmt: skip
    good = _start(line, CAKEWRIGHT_PASSWORD="right")
    told, errors = good.communicate(timeout=60)
    assert good.returncode == 0, errors
    assert "1 polls: " in told
    bad = _start(line, CAKEWRIGHT_PASSWORD="wrong")
    _, errors = bad.communicate(timeout=60)
    assert bad.returncode == 1
    assert "refuses user 'reader'" in errors
    none = _start(line, CAKEWRIGHT_PASSWORD="")
    _, errors = none.communicate(timeout=60)
    assert none.returncode == 2
    assert "has no password" in errors


def test_once_shows_values_and_quality(plant: OpcUaPlant, tags: Path, tmp_path: Path) -> None:
    """One look shows each tag in the unit people use, and keeps nothing."""
    tags.write_text(TAGS + '[tags.cake_solids]\nunit = "%"\nnode = "ns=2;s=gone"\n')
    running = _start([tags, "--once", "--out", tmp_path / "live"])
    told, errors = running.communicate(timeout=60)
    assert running.returncode == 0, errors
    assert "12.5 m3/h  good" in told
    assert "44 %  " in told
    assert "bad  BadNodeIdUnknown" in told
    assert not (tmp_path / "live").exists()


def test_modbus_sends_reading_functions_only(tmp_path: Path) -> None:
    """Through the command, too, a Modbus server sees functions 1 to 4 and nothing else."""
    path, codes = tmp_path / "tags.toml", list[int]()
    path.write_text(MODBUS, encoding="utf-8")
    with in_background(modbus_plant(48451, codes)):
        running = _start([path, "--out", tmp_path / "live", "--polls", 2])
        _, errors = running.communicate(timeout=60)
    assert running.returncode == 0, errors
    assert len(codes) == 2
    assert set(codes) <= {1, 2, 3, 4}


def test_a_server_that_never_answers(tmp_path: Path) -> None:
    """Nothing there: rows that say so, exit code 1, the server named."""
    path = tmp_path / "tags.toml"
    path.write_text(MODBUS.replace("48451", "48459"), encoding="utf-8")
    running = _start([path, "--out", tmp_path / "live", "--polls", 1])
    _, errors = running.communicate(timeout=60)
    assert running.returncode == 1
    assert "modbus://127.0.0.1:48459 does not answer" in errors
    assert _rows(tmp_path / "live")[0]["feed_flow"] is None
