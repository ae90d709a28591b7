"""The Modbus reader against a real server on this machine that notes every function code."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path
from typing import Any

import pytest
from tests.unit.storage.live.apart import run_apart
from tests.unit.storage.live.plants import modbus_plant

from cakewright.storage.live import Quality, Spool, TagMap, live_reader, parse_tag_map, poll
from cakewright.storage.live.modbus import ModbusReader, number_of

pymodbus = pytest.importorskip("pymodbus")


def _tag_map(port: int) -> TagMap:
    return parse_tag_map(
        f"""
site = "invented"
address = "modbus://127.0.0.1:{port}"
every_s = 1
[tags.feed_flow]
unit = "m3/h"
register = 0
[tags.screw_torque]
unit = "percent"
register = 2
kind = "uint16"
scale = 0.1
table = "holding"
[tags.wash_flow]
unit = "m3/h"
register = 90
"""
    )


def test_reads_with_reading_functions_only() -> None:
    """Values come in SI, an unknown register is bad, and only functions 1 to 4 were sent."""
    codes: list[int] = []

    async def run() -> Any:
        async with modbus_plant(48420, codes):
            reader = ModbusReader(_tag_map(48420))
            await reader.connect()
            readings = await reader.read()
            await reader.close()
            return {r.key: r for r in readings}

    got = run_apart(run())
    assert got["feed_flow"].value == pytest.approx(12.5 / 3600)
    assert got["screw_torque"].value == pytest.approx(0.44)
    assert got["wash_flow"].quality is Quality.BAD
    assert codes
    assert set(codes) <= {1, 2, 3, 4}


def test_the_server_does_note_writes() -> None:
    """The note-taking server would have seen a write: the test above can fail."""
    codes: list[int] = []

    async def run() -> None:
        from pymodbus.client import AsyncModbusTcpClient

        async with modbus_plant(48421, codes):
            client = AsyncModbusTcpClient("127.0.0.1", port=48421)
            await client.connect()
            await client.write_register(2, 1, device_id=1)
            client.close()

    run_apart(run())
    assert set(codes) & {5, 6, 15, 16, 22, 23}


def test_word_order() -> None:
    """Both orders of the two words of a float are understood, and whole numbers keep their sign."""
    assert number_of([0x42C8, 0x0000], "float32") == 100.0
    assert number_of([0x0000, 0x42C8], "float32", low_word_first=True) == 100.0
    assert number_of([0xFFFE], "int16") == -2.0


def test_absent_server_is_survived(tmp_path: Path) -> None:
    """Without a server every row says so, and no number is invented."""

    async def run() -> Any:
        return await poll(live_reader(_tag_map(48429)), Spool(tmp_path), polls=2)

    report = run_apart(run())
    assert (report.polls, report.good) == (2, 0)
    text = next(tmp_path.glob("*.jsonl")).read_text(encoding="utf-8")
    assert '"feed_flow": null' in text
    assert "does not answer" in text


def test_a_register_that_holds_no_number(tmp_path: Path) -> None:
    """A float register with NaN in it is bad, not zero; the register beside it is still read."""

    async def run() -> Any:
        async with modbus_plant(48430, [], flow=float("nan")):
            reader = ModbusReader(_tag_map(48430))
            await reader.connect()
            readings = await reader.read()
            await reader.close()
            return {r.key: r for r in readings}

    got = run_apart(run())
    assert (got["feed_flow"].value, got["feed_flow"].why) == (None, "not a number")
    assert got["screw_torque"].quality is Quality.GOOD


def test_a_server_that_drops_and_comes_back(tmp_path: Path) -> None:
    """While it is away rows say so and hold no number; once back, numbers come again."""

    async def run() -> Any:
        async with modbus_plant(48431, []):
            polling = poll(live_reader(_tag_map(48431)), Spool(tmp_path), polls=7)
            task = asyncio.create_task(polling)
            await asyncio.sleep(1.5)
        await asyncio.sleep(1.2)
        async with modbus_plant(48431, []):
            return await task

    report = run_apart(run())
    lines = next(tmp_path.glob("*.jsonl")).read_text(encoding="utf-8").splitlines()
    flows = [json.loads(line)["feed_flow"] for line in lines]
    assert report.polls == len(flows) == 7
    assert report.reconnects >= 2
    assert report.lost >= 1
    assert flows[0] == flows[-1] == pytest.approx(12.5 / 3600)
    assert None in flows
