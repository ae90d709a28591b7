"""Column maps: a site's own titles and units -> signals; kept per site as TOML."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from enum import StrEnum
from pathlib import Path
from typing import Any

import tomlkit

from cakewright.errors import (
    DataError,
    Fault,
    QuantityError,
    UnknownNameError,
    foreign,
)
from cakewright.quantities import to_si
from cakewright.quantities.toml_text import parse_toml_of
from cakewright.running.clock import zone_steps
from cakewright.running.signals import signal
from cakewright.storage.texts import read_text

__all__ = [
    "Column",
    "ColumnMap",
    "Grain",
    "parse_column_map",
    "read_column_map",
    "write_column_map",
]

VERSION = 1
_KEYS = {"version", "site", "time_zone", "grain", "decimal", "thousands", "separator", "sheet"}
_KEYS |= {"site_column", "time", "columns", "missing", "encoding"}


class Grain(StrEnum):
    """What one row stands for."""

    MINUTE = "minute"
    SHIFT = "shift"
    DAY = "day"


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its title and unit on site, whether it repeats its last value by design.

    The reading is ``scale`` x cell + ``offset`` in ``unit``: a turbidity with the site's own fit,
    a signal logged as current of a loop. ``moisture``: the cell is the share of water, and what
    is wanted is the share of solids. ``on`` are this site's own words for running.
    """

    title: str
    unit: str
    held: bool = False
    relative: float | None = None
    scale: float = 1.0
    offset: float = 0.0
    moisture: bool = False
    on: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ColumnMap:
    """How one site writes its log.

    ``time_titles`` are joined with a blank (date and clock may stand in two columns);
    ``time_formats`` are strptime patterns, or ``epoch s`` / ``epoch ms``; empty means ISO 8601.
    """

    site: str
    time_titles: tuple[str, ...]
    columns: Mapping[str, Column]
    time_formats: tuple[str, ...] = ()
    time_zone: str = "UTC"
    grain: Grain = Grain.MINUTE
    decimal: str = "."
    thousands: str = ""
    separator: str = ""
    sheet: str = ""
    site_column: str = ""
    missing: tuple[str, ...] = ()
    encoding: str = ""

    @property
    def held(self) -> frozenset[str]:
        """Signals that repeat their last value by design."""
        return frozenset(key for key, column in self.columns.items() if column.held)


@dataclass(slots=True)
class _Faults:
    found: list[Fault] = field(default_factory=list)

    def add(self, where: str, got: object, allowed: str, try_this: str) -> None:
        self.found.append(Fault(where, repr(got), allowed, try_this))


def _check_unit(key: str, unit: str, faults: _Faults) -> None:
    try:
        house = signal(key).house
    except UnknownNameError as error:
        faults.add(f"columns.{key}", key, "a signal key", str(error))
        return
    try:
        to_si(1.0, unit, house.unit)
    except QuantityError as error:
        faults.add(f"columns.{key}.unit", unit, f"a unit of {house.label}", f"{error}")


def _column(key: str, entry: Any, faults: _Faults) -> Column:
    where = f"columns.{key}"
    if not isinstance(entry, dict) or "title" not in entry:
        faults.add(where, entry, "a table with title and unit", 'title = "...", unit = "m3/h"')
        return Column("", "1")
    known = {field.name for field in fields(Column)}
    for extra in sorted(set(entry) - known):
        faults.add(f"{where}.{extra}", entry[extra], ", ".join(sorted(known)), "remove it")
    numbers = {"relative": None, "scale": 1.0, "offset": 0.0}
    for name in numbers:
        if isinstance(entry.get(name, 0.0), int | float) and entry.get(name) is not True:
            numbers[name] = entry.get(name, numbers[name])
        else:
            faults.add(f"{where}.{name}", entry[name], "a number", f"{name} = 1.0")
    moisture = bool(entry.get("moisture", False))
    if moisture and key not in MOIST:
        faults.add(f"{where}.moisture", True, f"only for {', '.join(MOIST)}", "remove it")
    column = Column(
        str(entry["title"]), str(entry.get("unit", "1")), bool(entry.get("held", False)),
        numbers["relative"], float(numbers["scale"] or 1.0), float(numbers["offset"] or 0.0),
        moisture, _texts(entry.get("on")),
    )  # fmt: skip
    _check_unit(key, column.unit, faults)
    return column


MOIST = ("cake_solids", "feed_solids")


def _encoding(table: Mapping[str, Any], faults: _Faults) -> str:
    name = str(table.get("encoding", ""))
    try:
        if name:
            codecs.lookup(name)
    except LookupError:
        faults.add("encoding", name, "a known encoding, such as utf-8, cp1252, cp932", "correct it")
        return ""
    return name


def _choice(
    table: Mapping[str, Any], key: str, allowed: Iterable[str], usual: str, faults: _Faults
) -> str:
    value = str(table.get(key, usual))
    choices = tuple(allowed)
    if value not in choices:
        faults.add(key, value, " or ".join(repr(c) for c in choices), f'{key} = "{usual}"')
        return usual
    return value


def _zone(table: Mapping[str, Any], faults: _Faults) -> str:
    zone = str(table.get("time_zone", "UTC"))
    try:
        zone_steps(zone)
    except UnknownNameError as error:
        faults.add("time_zone", zone, "a name of the time-zone database", str(error))
        return "UTC"
    return zone


def _texts(value: Any) -> tuple[str, ...]:
    if value is None or value == "":
        return ()
    return tuple(str(v) for v in value) if isinstance(value, list | tuple) else (str(value),)


@foreign("a column map")
def parse_column_map(text: str, where: str = "column map") -> ColumnMap:
    """A column map from TOML text.

    Raises
    ------
    DataError
        With every fault found at once.
    """
    table = parse_toml_of(text, where, "see docs/howto/more/running")
    faults = _Faults()
    for extra in sorted(set(table) - _KEYS):
        faults.add(extra, table[extra], ", ".join(sorted(_KEYS)), "remove it")
    if table.get("version", VERSION) != VERSION:
        faults.add("version", table["version"], str(VERSION), "write the map anew")
    time = table.get("time", {})
    titles = _texts(time.get("title")) if isinstance(time, dict) else ()
    if not titles:
        faults.add("time.title", time, "the title of the time column", '[time]\ntitle = "Time"')
    columns = table.get("columns", {})
    if not isinstance(columns, dict) or not columns:
        faults.add("columns", columns, "at least one column", "map the feed flow first")
        columns = {}
    site = str(table.get("site", "")).strip()
    if not re.fullmatch(r"[A-Za-z0-9_.-]{1,60}", site):
        faults.add("site", site, "letters, digits, '-', '_' or '.', at most 60", 'site = "works-1"')
    result = ColumnMap(
        site=site,
        time_titles=titles,
        time_formats=_texts(time.get("format")) if isinstance(time, dict) else (),
        columns={key: _column(key, entry, faults) for key, entry in columns.items()},
        time_zone=_zone(table, faults),
        grain=Grain(_choice(table, "grain", list(Grain), "minute", faults)),
        decimal=_choice(table, "decimal", (".", ","), ".", faults),
        thousands=_choice(table, "thousands", ("", ".", ",", "'", " "), "", faults),
        separator=str(table.get("separator", "")),
        sheet=str(table.get("sheet", "")),
        site_column=str(table.get("site_column", "")),
        missing=_texts(table.get("missing")),
        encoding=_encoding(table, faults),
    )
    if faults.found:
        raise DataError(where, faults.found)
    return result


def read_column_map(path: Path) -> ColumnMap:
    """A column map from a file.

    Raises
    ------
    InputFileError
        If the file cannot be read.
    DataError
        With every fault found at once.
    """
    text = read_text(path, what="a column map is TOML text")
    return parse_column_map(text, str(path))


def write_column_map(column_map: ColumnMap, path: Path) -> None:
    """Keep a column map as a file people can read and edit."""
    document = tomlkit.document()
    document.add(tomlkit.comment("How this site writes its log: its titles and units -> signals."))
    plain = {
        "version": VERSION, "site": column_map.site, "time_zone": column_map.time_zone,
        "grain": column_map.grain.value, "decimal": column_map.decimal,
        "thousands": column_map.thousands, "separator": column_map.separator,
        "sheet": column_map.sheet, "site_column": column_map.site_column,
        "encoding": column_map.encoding,
    }  # fmt: skip
    for key, value in plain.items():
        if value != "":
            document.add(key, value)
    if column_map.missing:
        document.add("missing", list(column_map.missing))
    document.add(
        "time", {"title": list(column_map.time_titles), "format": list(column_map.time_formats)}
    )
    columns = tomlkit.table(is_super_table=True)
    for key, column in column_map.columns.items():
        entry: dict[str, Any] = {"title": column.title, "unit": column.unit}
        if column.held:
            entry["held"] = True
        if column.relative is not None:
            entry["relative"] = column.relative
        if column.scale != 1.0 or column.offset:
            entry |= {"scale": column.scale, "offset": column.offset}
        if column.moisture:
            entry["moisture"] = True
        if column.on:
            entry["on"] = list(column.on)
        columns.add(key, entry)
    document.add("columns", columns)
    path.parent.mkdir(parents=True, exist_ok=True)
    partial = path.with_suffix(".part")
    partial.write_text(tomlkit.dumps(document), encoding="utf-8")
    partial.replace(path)
