"""One reading from a plant: value, time, quality; and the tag map that says where it comes from."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from enum import StrEnum
from pathlib import Path
from typing import Any

from cakewright.errors import (
    DataError,
    Fault,
    QuantityError,
    UnknownNameError,
    foreign,
)
from cakewright.quantities import to_si
from cakewright.quantities.toml_text import parse_toml_of
from cakewright.running.signals import signal
from cakewright.storage.texts import read_text

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
    """Where one signal is read: an OPC UA node, or a Modbus register with its kind.

    ``held``: repeats its value by design (a switch, a set point, a laboratory value), so that an
    old time stamp is no sign of a dead sensor.
    """

    key: str
    unit: str
    node: str = ""
    register: int = -1
    table: str = "input"
    kind: str = "float32"
    low_word_first: bool = False
    scale: float = 1.0
    offset: float = 0.0
    held: bool = False


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
_KEYS = {"site", "address", "every_s", "unit_id", "user", "security", "tags"}
_MODES = {"Sign", "SignAndEncrypt"}
_POLICIES = {"Basic256Sha256", "Aes128Sha256RsaOaep", "Aes256Sha256RsaPss"}
_WRITING = re.compile(r"write|set_?(point|value)?$|command|output|method|call", re.IGNORECASE)
FASTEST = 1.0  # s between polls of one server: plant controls come first (practice)


def _unknown(where: str, key: str, raw: Any, known: set[str]) -> Fault:
    if _WRITING.match(key):
        words = "reading only: nothing here ever writes to a plant"
        return Fault(where, f"{key} = {raw!r}", words, "remove it")
    return Fault(where, f"{key} = {raw!r}", ", ".join(sorted(known)), "remove it")


def _tag(key: str, entry: Any, faults: list[Fault], scheme: str) -> Tag | None:
    where = f"tags.{key}"
    known = {field.name for field in fields(Tag)} - {"key"}
    if not isinstance(entry, dict):
        faults.append(Fault(where, repr(entry), "a table", 'unit = "m3/h", node = "..."'))
        return None
    odd = [_unknown(where, name, raw, known) for name, raw in entry.items() if name not in known]
    faults += odd
    try:
        house = signal(key).house
        tag = Tag(key=key, **{name: raw for name, raw in entry.items() if name in known})
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


def _pace(table: Mapping[str, Any], faults: list[Fault]) -> float:
    raw = table.get("every_s", 10.0)
    every = float(raw) if isinstance(raw, int | float) else 0.0
    if not every >= FASTEST:
        faults.append(Fault("every_s", f"{raw!r}", f"at least {FASTEST:g} s", "every_s = 10"))
    return every


def _address(table: Mapping[str, Any], faults: list[Fault]) -> tuple[str, str]:
    address = str(table.get("address", ""))
    scheme = address.partition("://")[0]
    if scheme not in ("opc.tcp", "modbus"):
        allowed = "opc.tcp://host:port or modbus://host:port"
        faults.append(
            Fault("address", repr(address), allowed, 'address = "opc.tcp://10.0.0.5:4840"')
        )
    return address, scheme


def security_text(raw: str, folder: Path, faults: list[Fault]) -> str:
    """Security of an OPC UA line with its files found beside ``folder``."""
    if not raw:
        return ""
    parts = [part.strip() for part in raw.split(",")]
    if len(parts) not in (4, 5) or parts[0] not in _POLICIES or parts[1] not in _MODES:
        allowed = "policy,mode,certificate,key[,certificate of the server]"
        example = 'security = "Basic256Sha256,SignAndEncrypt,reader.der,reader.pem"'
        faults.append(Fault("security", repr(raw), allowed, example))
        return ""
    files = [folder / part for part in parts[2:]]
    faults += [
        Fault("security", str(path), "a file that is there", "correct its name")
        for path in files if not path.is_file()
    ]  # fmt: skip
    return ",".join([*parts[:2], *map(str, files)])


@foreign("a tag map")
def parse_tag_map(text: str, where: str = "tag map", folder: Path = Path()) -> TagMap:
    """A tag map from TOML text; certificates are looked for in ``folder``.

    Raises
    ------
    DataError
        With every fault found at once.
    """
    table = parse_toml_of(text, where, "see docs")
    faults: list[Fault] = []
    address, scheme = _address(table, faults)
    if "password" in table:
        faults.append(
            Fault("password", "in the file", "never in a file", "set CAKEWRIGHT_PASSWORD")
        )
    faults += [
        _unknown(key, key, raw, _KEYS)
        for key, raw in table.items() if key not in _KEYS | {"password"}
    ]  # fmt: skip
    every = _pace(table, faults)
    site = str(table.get("site", "site"))
    if not re.fullmatch(r"[A-Za-z0-9_.-]{1,60}", site):
        faults.append(Fault("site", repr(site), "letters, digits, '-', '_', '.'", 'site = "a"'))
    entries = table.get("tags", {})
    tags = [_tag(key, entry, faults, scheme) for key, entry in entries.items()]
    if not tags:
        faults.append(Fault("tags", "none", "at least one tag", "[tags.feed_flow]"))
    security = security_text(str(table.get("security", "")), folder, faults)
    if faults:
        raise DataError(where, faults)
    return TagMap(
        site, address, tuple(tag for tag in tags if tag is not None), every,
        int(table.get("unit_id", 1)), str(table.get("user", "")), security,
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
    text = read_text(path, what="a tag map is TOML text")
    return parse_tag_map(text, str(path), path.parent)


def in_si(tag: Tag, raw: float) -> float:
    """Raw number of a tag in SI: ``scale`` x raw + ``offset`` is the reading in its unit."""
    return float(to_si(raw * tag.scale + tag.offset, tag.unit, signal(tag.key).house.unit))
