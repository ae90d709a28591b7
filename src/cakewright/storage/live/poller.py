"""Poll a server at a steady pace, never faster than allowed; live through its absences."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from cakewright.errors import InputFileError
from cakewright.storage.live.modbus import ModbusReader
from cakewright.storage.live.opcua import OpcUaReader
from cakewright.storage.live.reading import FASTEST, Quality, Reading, TagMap
from cakewright.storage.live.spool import Spool

__all__ = ["LiveReader", "PollReport", "live_reader", "poll"]


class LiveReader(Protocol):
    """A connection that reads and does nothing else."""

    tag_map: TagMap

    async def connect(self) -> None:
        """Open the connection."""

    async def read(self) -> Sequence[Reading]:
        """One reading per tag."""

    async def close(self) -> None:
        """Close the connection."""


@dataclass(slots=True)
class PollReport:
    """What happened while polling."""

    polls: int = 0
    good: int = 0
    poor: int = 0
    lost: int = 0
    reconnects: int = 0


def live_reader(tag_map: TagMap) -> LiveReader:
    """The reader for a tag map's address.

    Raises
    ------
    InputFileError
        If the scheme is not one that is read here.
    """
    if tag_map.address.startswith("opc.tcp://"):
        return OpcUaReader(tag_map)
    if tag_map.address.startswith("modbus://"):
        return ModbusReader(tag_map)
    raise InputFileError(f"{tag_map.address!r}: only opc.tcp:// and modbus:// are read")


def _absent(tag_map: TagMap, why: str) -> list[Reading]:
    """Readings of a server that does not answer: bad, never repeated from before."""
    now = time.time()
    return [Reading(tag.key, None, now, Quality.BAD, why) for tag in tag_map.tags]


async def _attempt(
    reader: LiveReader, report: PollReport, *, connected: bool
) -> tuple[Sequence[Reading], bool]:
    try:
        if not connected:
            await reader.connect()
            report.reconnects += 1
        return await reader.read(), True
    except (TimeoutError, OSError, ConnectionError) as error:
        why = str(error) or type(error).__name__
    except InputFileError as error:
        if not report.reconnects:  # wrong from the start: trying on would lock the user out
            raise
        why = str(error)
    except Exception as error:  # a library's own error must not end the watch
        why = f"{type(error).__name__}: {error}"
    await reader.close()
    report.lost += 1
    return _absent(reader.tag_map, why), False


async def poll(
    reader: LiveReader,
    spool: Spool,
    polls: int | None = None,
    every: float | None = None,
    tell: Callable[[str], None] = lambda words: None,
    report: PollReport | None = None,
) -> PollReport:
    """Poll until ``polls`` rows are stored (None: until cancelled), each row on disk at once.

    A server that is away is tried again at every poll, ever more seldom up to ten polls apart;
    the rows between say so. The pace never exceeds one poll a second. ``report`` is counted up as
    it goes, so that whoever cancels still knows what was done.
    """
    pace = max(every if every is not None else reader.tag_map.every, FASTEST)
    report = report if report is not None else PollReport()
    connected, wait, streak = False, 0, 0
    due = time.monotonic()
    try:
        while polls is None or report.polls < polls:
            if wait > 0:
                readings: Sequence[Reading] = _absent(reader.tag_map, "waiting to reconnect")
                wait -= 1
            else:
                readings, alive = await _attempt(reader, report, connected=connected)
                streak = 0 if alive else streak + 1
                if not alive:
                    wait = min(streak - 1, 10)
                    tell(f"{reader.tag_map.address}: {readings[0].why}")
                connected = alive
            spool.store(readings, time.time())
            report.polls += 1
            report.good += sum(r.quality is Quality.GOOD for r in readings)
            report.poor += sum(r.quality is not Quality.GOOD for r in readings)
            # From row to row, however long the reading took: one a second is the most a log keeps.
            due = max(due + pace, time.monotonic() + FASTEST)
            if polls is None or report.polls < polls:
                await asyncio.sleep(max(due - time.monotonic(), 0.0))
    finally:
        await reader.close()
    return report
