"""One reading from a plant: value, time, quality; and the tag map that says where it comes from."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

from cakewright.errors import (
    DataError,
    Fault,
    InputFileError,
    QuantityError,
    UnknownNameError,
)
from cakewright.quantities import to_si
from cakewright.running.signals import signal

__all__ = ["Quality", "Reading", "Tag", "TagMap", "parse_tag_map", "read_tag_map"]


class Quality(StrEnum):
    """How far a live value may be trusted."""

    GOOD = "good"
    UNCERTAIN = "uncertain"
    BAD = "bad"


@dataclass(frozen=True, slots=True)
class Reading:
    """One live reading; SI; ``value`` None when there is none; UTC seconds; why it is not good."""

    key: str
    value: float | None
    time: float
    quality: Quality
    why: str = ""


@dataclass(frozen=True, slots=True)
class Tag:
    """Where one signal is read: an OPC UA node, or a Modbus register with its kind."""

    key: str
    unit: str
    node: str = ""
    register: int = -1
    table: str = "input"
    kind: str = "float32"
    low_word_first: bool = False
    scale: float = 1.0


@dataclass(frozen=True, slots=True)
class TagMap:
    """One server and the tags read from it. ``user`` may come with a password from outside."""

    site: str
    address: str
    tags: tuple[Tag, ...]
    every: float = 10.0
    unit_id: int = 1
    user: str = ""
    security: str = ""


_KINDS = {"uint16", "int16", "uint32", "int32", "float32", "bool"}
_TABLES = {"input", "holding", "coil", "discrete"}
FASTEST = 1.0  # s between polls of one server: plant controls come first (practice)


def _tag(key: str, entry: Any, faults: list[Fault], scheme: str) -> Tag | None:
    where = f"tags.{key}"
    try:
        house = signal(key).house
        tag = Tag(key=key, **entry)
        to_si(1.0, tag.unit, house.unit)
    except (UnknownNameError, QuantityError, TypeError) as error:
        faults.append(Fault(where, str(entry), "signal, unit, node or register", str(error)))
        return None
    if scheme == "opc.tcp" and not tag.node:
        faults.append(Fault(where, "no node", "an OPC UA node id", 'node = "ns=2;s=Flow"'))
    if scheme == "modbus" and (
        tag.register < 0 or tag.kind not in _KINDS or tag.table not in _TABLES
    ):
        allowed = f"register >= 0, kind {sorted(_KINDS)}, table {sorted(_TABLES)}"
        faults.append(Fault(where, str(entry), allowed, 'register = 0, kind = "float32"'))
    return tag


def parse_tag_map(text: str, where: str = "tag map") -> TagMap:
    """A tag map from TOML text.

    Raises
    ------
    DataError
        With every fault found at once.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise DataError(where, [Fault("file", str(error), "TOML", "see docs")]) from None
    faults: list[Fault] = []
    address = str(table.get("address", ""))
    scheme = address.partition("://")[0]
    if scheme not in ("opc.tcp", "modbus"):
        allowed = "opc.tcp://host:port or modbus://host:port"
        faults.append(
            Fault("address", repr(address), allowed, 'address = "opc.tcp://10.0.0.5:4840"')
        )
    if "password" in table:
        faults.append(
            Fault("password", "in the file", "never in a file", "set CAKEWRIGHT_PASSWORD")
        )
    every = float(table.get("every_s", 10.0))
    if every < FASTEST:
        faults.append(Fault("every_s", f"{every:g}", f"at least {FASTEST:g} s", "every_s = 10"))
    tags = [_tag(key, entry, faults, scheme) for key, entry in table.get("tags", {}).items()]
    if not tags:
        faults.append(Fault("tags", "none", "at least one tag", "[tags.feed_flow]"))
    if faults:
        raise DataError(where, faults)
    return TagMap(
        str(table.get("site", "site")), address, tuple(tag for tag in tags if tag is not None),
        every, int(table.get("unit_id", 1)), str(table.get("user", "")),
        str(table.get("security", "")),
    )  # fmt: skip


def read_tag_map(path: Path) -> TagMap:
    """A tag map from a file.

    Raises
    ------
    InputFileError
        If the file cannot be read.
    DataError
        With every fault found at once.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InputFileError(f"{path}: cannot be read as a tag map ({error})") from None
    return parse_tag_map(text, str(path))


def in_si(tag: Tag, raw: float) -> float:
    """Raw number of a tag in SI."""
    return float(to_si(raw * tag.scale, tag.unit, signal(tag.key).house.unit))
