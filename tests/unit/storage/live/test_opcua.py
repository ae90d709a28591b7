"""The OPC UA reader against a real server on this machine that notes every write."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from tests.unit.storage.live.apart import run_apart
from tests.unit.storage.live.plants import OpcUaPlant

from cakewright.errors import InputFileError
from cakewright.storage.live import Quality, Spool, TagMap, parse_tag_map, poll
from cakewright.storage.live.opcua import OpcUaReader

asyncua: Any = pytest.importorskip("asyncua")
ua: Any = asyncua.ua
PORT, DOOR = 48410, 48411


def _tag_map(port: int) -> TagMap:
    return parse_tag_map(
        f"""
site = "invented"
address = "opc.tcp://127.0.0.1:{port}/"
every_s = 1
[tags.feed_flow]
unit = "m3/h"
node = "ns=2;s=flow"
[tags.screw_torque]
unit = "percent"
node = "ns=2;s=torque"
[tags.cake_solids]
unit = "%"
node = "ns=2;s=missing"
"""
    )


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpcUaPlant]:
    """One server for all tests here: it takes seconds to start."""
    server = OpcUaPlant(tmp_path_factory.mktemp("certificates"), PORT)
    yield server
    server.close()


class Door:
    """A door in front of the server that can be slammed and opened again."""

    def __init__(self) -> None:
        self.lines: list[asyncio.StreamWriter] = []

    async def open(self) -> None:
        """Let callers through."""
        self.server = await asyncio.start_server(self._pass, "127.0.0.1", DOOR)

    async def slam(self) -> None:
        """Cut every line and let nobody in."""
        self.server.close()
        for line in self.lines:
            line.transport.abort()
        self.lines.clear()

    async def _pass(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        inner, outer = await asyncio.open_connection("127.0.0.1", PORT)
        self.lines += [writer, outer]
        await asyncio.gather(_pump(reader, outer), _pump(inner, writer), return_exceptions=True)


async def _pump(source: asyncio.StreamReader, target: asyncio.StreamWriter) -> None:
    while data := await source.read(65536):
        target.write(data)
        await target.drain()


async def _read(port: int = PORT) -> dict[str, Any]:
    reader = OpcUaReader(_tag_map(port))
    await reader.connect()
    readings = await reader.read()
    await reader.close()
    return {r.key: r for r in readings}


def test_reads_values_and_never_writes(plant: OpcUaPlant) -> None:
    """Good values come in SI, a missing node is bad, and the server saw no write or call."""
    plant.writes.clear()
    got = run_apart(_read())
    assert got["feed_flow"].value == pytest.approx(12.5 / 3600)
    assert got["screw_torque"].value == pytest.approx(0.44)
    assert got["cake_solids"].quality is Quality.BAD
    assert plant.writes == []


def test_the_server_does_note_writes(plant: OpcUaPlant) -> None:
    """The note-taking server would have seen a write: the test above can fail."""
    plant.writes.clear()

    async def write() -> None:
        async with asyncua.Client(f"opc.tcp://127.0.0.1:{PORT}/") as client:
            await client.get_node("ns=2;s=flow").write_value(12.5)

    run_apart(write())
    assert plant.writes == ["WriteRequest"]


@pytest.mark.parametrize(("password", "enters"), [("right", True), ("wrong", False)])
def test_user_and_certificate(
    plant: OpcUaPlant, monkeypatch: pytest.MonkeyPatch, password: str, enters: bool
) -> None:
    """A named user enters over a signed and encrypted line, and not with a wrong password."""
    monkeypatch.setenv("CAKEWRIGHT_PASSWORD", password)
    place = plant.folder
    security = f"Basic256Sha256,SignAndEncrypt,{place / 'reader.der'},{place / 'reader.pem'}"
    tag_map = replace(_tag_map(PORT), user="reader", security=security)

    async def read() -> Any:
        reader = OpcUaReader(tag_map)
        await reader.connect()
        readings = await reader.read()
        await reader.close()
        return readings[0].quality

    if enters:
        assert run_apart(read()) is Quality.GOOD
    else:
        with pytest.raises(InputFileError, match="refuses user 'reader'"):
            run_apart(read())


@pytest.mark.parametrize(
    ("value", "status", "late", "quality", "why"),
    [
        (3.0, "UncertainLastUsableValue", 0, Quality.UNCERTAIN, "Uncertain"),
        (3.0, "BadSensorFailure", 0, Quality.BAD, "BadSensorFailure"),
        (3.0, "Good", -2, Quality.UNCERTAIN, "stale"),
        (3.0, "Good", 2, Quality.UNCERTAIN, "future"),
        (float("nan"), "Good", 0, Quality.BAD, "not a number"),
    ],
)
def test_quality_is_carried(
    plant: OpcUaPlant, value: float, status: str, late: int, quality: Quality, why: str
) -> None:
    """Uncertain, bad, lying and stale values are not passed off as good."""
    moment = datetime.now(UTC).replace(tzinfo=None) + timedelta(hours=late)
    code = ua.StatusCode(getattr(ua.StatusCodes, status))
    data = ua.DataValue(ua.Variant(value, ua.VariantType.Double), code, moment)
    plant.do(plant.nodes["flow"].write_value(data))
    got = run_apart(_read())["feed_flow"]
    plant.do(plant.nodes["flow"].write_value(12.5))
    assert got.quality is quality
    assert why in got.why


def test_a_value_held_by_design_is_not_stale(plant: OpcUaPlant) -> None:
    """A switch or set point that the server stamps at its last change is good for hours."""
    old = datetime.now(UTC).replace(tzinfo=None) - timedelta(hours=2)
    data = ua.DataValue(ua.Variant(3.0, ua.VariantType.Double), ua.StatusCode(0), old)
    plant.do(plant.nodes["flow"].write_value(data))
    tag_map = _tag_map(PORT)
    flow = replace(tag_map.tags[0], held=True)

    async def read() -> Any:
        reader = OpcUaReader(replace(tag_map, tags=(flow,)))
        await reader.connect()
        readings = await reader.read()
        await reader.close()
        return readings[0]

    got = run_apart(read())
    plant.do(plant.nodes["flow"].write_value(12.5))
    assert got.quality is Quality.GOOD
    assert got.value == pytest.approx(3 / 3600)


def test_reconnects_and_keeps_what_it_read(plant: OpcUaPlant, tmp_path: Path) -> None:
    """A server that drops and comes back leaves marked rows, not a gap and not old values."""
    spool = Spool(tmp_path)

    async def run() -> Any:
        door = Door()
        await door.open()
        reader = OpcUaReader(_tag_map(DOOR), timeout=0.5)
        task = asyncio.create_task(poll(reader, spool, polls=6))
        await asyncio.sleep(1.4)
        await door.slam()
        await asyncio.sleep(0.8)
        await door.open()
        report = await task
        await door.slam()
        return report

    report = run_apart(run())
    assert (report.polls, report.reconnects) == (6, 2)
    assert report.lost >= 1
    rows = spool.waiting()[0].read_text(encoding="utf-8").splitlines()
    assert len(rows) == 6
    assert any('"feed_flow": null' in row for row in rows)
    assert '"feed_flow": 0.00347' in rows[-1]
