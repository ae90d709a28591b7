"""Read-only Modbus TCP: functions 1 to 4 only. The protocol has no time stamp and no quality."""

from __future__ import annotations

import math
import struct
import time
from collections.abc import Callable, Sequence
from typing import Any

from cakewright.errors import InputFileError
from cakewright.storage.live.reading import Quality, Reading, Tag, TagMap, in_si

__all__ = ["ModbusReader", "number_of"]

_WORDS = {"uint16": 1, "int16": 1, "uint32": 2, "int32": 2, "float32": 2, "bool": 1}
_FORMAT = {"uint16": ">H", "int16": ">h", "uint32": ">I", "int32": ">i", "float32": ">f"}


def _library() -> Any:
    try:
        from pymodbus.client import AsyncModbusTcpClient
    except ImportError:
        raise InputFileError(
            "reading Modbus needs the 'field' extra: pip install 'cakewright[field]'"
        ) from None
    return AsyncModbusTcpClient


def number_of(registers: Sequence[int], kind: str, *, low_word_first: bool = False) -> float:
    """Number held by 16-bit registers, big-endian within a register.

    >>> number_of([0x42C8, 0x0000], "float32")
    100.0
    """
    words = list(registers)
    if low_word_first:
        words.reverse()
    packed = b"".join(struct.pack(">H", word) for word in words)
    return float(struct.unpack(_FORMAT[kind], packed)[0])


class ModbusReader:
    """One connection to one server; `read` gives a reading per tag, stamped on arrival."""

    def __init__(self, tag_map: TagMap, timeout: float = 3.0) -> None:
        self.tag_map = tag_map
        self._timeout = timeout
        self._client: Any = None

    async def connect(self) -> None:
        """Open the connection.

        Raises
        ------
        ConnectionError
            If the server does not answer.
        """
        host, _, port = self.tag_map.address.removeprefix("modbus://").partition(":")
        client = _library()(host, port=int(port or 502), timeout=self._timeout, retries=1)
        if not await client.connect():
            client.close()
            raise ConnectionError(f"{self.tag_map.address} does not answer")
        self._client = client

    async def close(self) -> None:
        """Close the connection."""
        client, self._client = self._client, None
        if client is not None:
            client.close()

    async def read(self) -> Sequence[Reading]:
        """One reading per tag.

        Raises
        ------
        ConnectionError
            If the connection is gone.
        """
        if self._client is None or not self._client.connected:
            raise ConnectionError("no Modbus connection")
        return [await self._one(tag) for tag in self.tag_map.tags]

    def _reader(self, table: str) -> Callable[..., Any]:
        readers: dict[str, Callable[..., Any]] = {
            "coil": self._client.read_coils,
            "discrete": self._client.read_discrete_inputs,
            "holding": self._client.read_holding_registers,
            "input": self._client.read_input_registers,
        }
        return readers[table]

    async def _one(self, tag: Tag) -> Reading:
        from pymodbus.exceptions import ModbusException

        words = _WORDS[tag.kind]
        try:
            reader = self._reader(tag.table)
            got = await reader(tag.register, count=words, device_id=self.tag_map.unit_id)
        except ModbusException as error:
            raise ConnectionError(str(error)) from None
        now = time.time()
        if got.isError():
            return Reading(tag.key, None, now, Quality.BAD, f"exception {got}")
        if tag.table in ("coil", "discrete"):
            return Reading(tag.key, in_si(tag, float(got.bits[0])), now, Quality.GOOD)
        if len(got.registers) != words:
            return Reading(tag.key, None, now, Quality.BAD, "wrong number of registers")
        raw = number_of(got.registers, tag.kind, low_word_first=tag.low_word_first)
        if not math.isfinite(raw):
            return Reading(tag.key, None, now, Quality.BAD, "not a number")
        return Reading(tag.key, in_si(tag, raw), now, Quality.GOOD)
