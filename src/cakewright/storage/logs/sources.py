"""CSV, workbook, Parquet, JSON lines -> one relation of the engine with the file's titles."""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import islice
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq

from cakewright.errors import InputFileError
from cakewright.storage.logs.column_map import ColumnMap
from cakewright.storage.logs.encoding import TextFile, as_utf8
from cakewright.storage.logs.engine import PARQUET_FAULTS, file_name, quoted
from cakewright.storage.logs.layout import Layout, find_layout, layout_of_file
from cakewright.storage.workbooks import LOG, workbook_sheets

__all__ = ["MISSING", "Relation", "may_be_quick", "open_source"]

MISSING = (
    "", "-", "--", "---", "nan", "na", "n/a", "#n/a", "null", "none", "nil", "?", "bad", "no data",
)  # fmt: skip
_TEXT = {".csv", ".tsv", ".txt"}
_LINES = {".jsonl", ".ndjson"}
_BOOKS = {".xlsx", ".xlsm", ".xls", ".xlsb", ".ods"}
_COLUMNS = {".parquet", ".pq"}


@dataclass(frozen=True, slots=True)
class Relation:
    """SQL of the rows in file order, the titles, and what had to be said about the file.

    The columns of the SQL are named by their place (c0, c1 ...): the engine takes no difference
    between ``temp`` and ``TEMP``. ``numeric`` titles hold numbers already, ``clocked`` titles
    hold times already, ``aware`` ones times with their zone. ``broken`` names the column with the
    text of a line that could not be taken apart. ``doubled`` are titles met more than once.
    """

    sql: str
    titles: tuple[str, ...]
    numeric: frozenset[str] = frozenset()
    clocked: frozenset[str] = frozenset()
    aware: frozenset[str] = frozenset()
    notes: tuple[str, ...] = ()
    turned: tuple[int, ...] = ()
    units: tuple[str, ...] = ()
    broken: str = ""
    doubled: tuple[str, ...] = ()

    def column(self, title: str) -> str:
        """SQL name of the column with this title."""
        return f"c{self.titles.index(title)}"


def _text_notes(text: TextFile) -> tuple[str, ...]:
    notes = []
    if text.turned:
        count = len(text.turned)
        notes.append(
            f"{count} line{'s' if count > 1 else ''} not in UTF-8, read as Windows-1252 "
            f"(first: line {text.turned[0]})"
        )
    elif text.encoding != "utf-8":
        notes.append(f"read as {text.encoding}")
    if text.cut:
        notes.append("the file does not end with a line end: it may have been cut off")
    return tuple(notes)


def _csv(path: Path, mapping: ColumnMap, scratch: Path, *, quick: bool) -> Relation:
    text = as_utf8(path, scratch / "text.utf8", mapping.encoding)
    layout = layout_of_file(text.path, mapping.separator, _wanted(mapping))
    if not any(layout.titles):
        raise InputFileError(f"{path}: no row of titles in the first lines; titles are needed")
    names = _unique(layout.titles)
    numeric = frozenset(c.title for c in mapping.columns.values()) if quick else frozenset()
    kinds = ["DOUBLE" if name in numeric else "VARCHAR" for name in names]
    columns = ", ".join(f"{quoted(f'c{i}')}: '{kind}'" for i, kind in enumerate(kinds))
    sql = (
        f"SELECT * FROM read_csv({file_name(text.path)}, columns={{{columns}}}, "
        f"auto_detect=false, header=false, skip={layout.skip}, delim={quoted(layout.mark)}, "
        f"quote='\"', escape='\"', hive_partitioning=false, filename=false, "
        f"{_manner(mapping) if quick else _PATIENT}, null_padding=false, max_line_size=1000000)"
    )
    notes = [*_text_notes(text)]
    if layout.preamble:
        notes.append(f"titles found on line {layout.title_line}; the lines before were passed over")
    if any(layout.units):
        notes.append(f"line {layout.skip} holds units, not readings")
    return Relation(
        sql, names, numeric, notes=tuple(notes), turned=text.turned,
        units=layout.units, doubled=_doubled(layout.titles),
    )  # fmt: skip


def _wanted(mapping: ColumnMap) -> frozenset[str]:
    """Titles the map names, without the count that tells columns of one title apart."""
    titles = [*mapping.time_titles, *(c.title for c in mapping.columns.values())]
    plain = (re.sub(r" \(\d+\)$", "", t) for t in titles)
    return frozenset((*titles, *plain)) if mapping.columns else frozenset()


def _doubled(titles: Sequence[str]) -> tuple[str, ...]:
    return tuple(t for t, n in Counter(titles).items() if n > 1 and t)


# Every cell as text, every line that does not fit set aside.
_PATIENT = "store_rejects=true, strict_mode=false"


def _manner(mapping: ColumnMap) -> str:
    """Numbers read as numbers: twice as fast, and stops at the first cell that is none."""
    words = ", ".join(quoted(word) for word in dict.fromkeys((*MISSING, *mapping.missing)))
    grouped = f", thousands={quoted(mapping.thousands)}" if mapping.thousands else ""
    return f"decimal_separator={quoted(mapping.decimal)}{grouped}, nullstr=[{words}]"


def _unique(titles: Sequence[str]) -> tuple[str, ...]:
    """Titles made unique by a count, since some files repeat them."""
    seen: dict[str, int] = {}
    result = []
    for title in titles:
        seen[title] = seen.get(title, 0) + 1
        result.append(title if seen[title] == 1 else f"{title} ({seen[title]})")
    return tuple(result)


def _json_titles(path: Path) -> tuple[str, ...]:
    titles: dict[str, None] = {}
    with path.open(encoding="utf-8-sig", errors="replace") as file:
        for line in islice(file, 1000):
            try:
                entry = json.loads(line)
            except ValueError:
                continue
            if isinstance(entry, dict):
                titles.update(dict.fromkeys(entry))
    if not titles:
        raise InputFileError(f"{path}: no line of the first 1000 is a JSON object")
    return tuple(titles)


def _json_cell(title: str, *, told: bool) -> str:
    """SQL of one cell; where live data left it empty, the quality it had instead."""
    cell = f"json_extract_string(line, {quoted('$.' + json.dumps(title))})"
    if not told or title == "quality":
        return cell
    why = f"json_extract_string(line, {quoted('$.quality.' + json.dumps(title))})"
    return f"coalesce({cell}, {why})"


def _json(path: Path, scratch: Path) -> Relation:
    text = as_utf8(path, scratch / "text.utf8")
    titles = _json_titles(text.path)
    told = "quality" in titles  # live readings say why a number is missing
    cells = ", ".join(f"{_json_cell(t, told=told)} AS c{i}" for i, t in enumerate(titles))
    sql = (
        f"SELECT {cells}, CASE WHEN ok THEN NULL ELSE raw END AS broken_line FROM (SELECT raw, "
        "json_valid(raw) AS ok, CASE WHEN json_valid(raw) THEN raw ELSE '{}' END AS line FROM "
        f"read_csv({file_name(text.path)}, columns={{'raw': 'VARCHAR'}}, auto_detect=false, "
        "header=false, delim='\x01', quote='', escape='', hive_partitioning=false, "
        "filename=false, max_line_size=1000000))"
    )
    return Relation(sql, titles, notes=_text_notes(text), turned=text.turned, broken="broken_line")


def _cell(value: object) -> str | None:
    if value is None or value == "":
        return None
    if isinstance(value, datetime | date):
        return value.isoformat(sep=" ") if isinstance(value, datetime) else value.isoformat()
    return str(value)


def _book_rows(path: Path, wanted: str) -> list[list[Any]]:
    sheets = {one.name: one for one in workbook_sheets(path.read_bytes(), path.name, bounds=LOG)}
    name = wanted or next(iter(sheets), "")
    if name not in sheets:
        raise InputFileError(f"{path}: no sheet {name!r}; the workbook has {', '.join(sheets)}")
    rows = sheets[name].rows
    filled = [i for i, row in enumerate(rows) if any(cell not in ("", None) for cell in row)]
    return rows[filled[0] : filled[-1] + 1] if filled else []


def _book(path: Path, mapping: ColumnMap, engine: duckdb.DuckDBPyConnection) -> Relation:
    rows = _book_rows(path, mapping.sheet)
    if not rows:
        raise InputFileError(f"{path}: the sheet is empty")
    layout = _book_layout(rows, mapping)
    titles = _unique([*layout.titles, *[""] * (len(rows[0]) - len(layout.titles))])
    body = rows[layout.skip :]
    numeric = {
        t
        for i, t in enumerate(titles)
        if all(isinstance(r[i], int | float) or r[i] in ("", None) for r in body)
    }
    columns: dict[str, pa.Array] = {}
    for i, title in enumerate(titles):
        cells = [row[i] for row in body]
        if title in numeric:
            columns[f"c{i}"] = pa.array(
                [None if c in ("", None) else float(c) for c in cells], pa.float64()
            )
        else:
            columns[f"c{i}"] = pa.array([_cell(c) for c in cells], pa.string())
    engine.register("workbook", pa.table(columns))
    notes = []
    if layout.preamble:
        notes.append(f"titles found in row {layout.title_line}; the rows before were passed over")
    return Relation(
        "SELECT * FROM workbook", titles, frozenset(numeric), notes=tuple(notes),
        units=layout.units, doubled=_doubled(layout.titles),
    )  # fmt: skip


def _book_layout(rows: list[list[Any]], mapping: ColumnMap) -> Layout:
    """The layout of a sheet, found as in a text: its head written out with marks between."""
    file = io.StringIO()
    writer = csv.writer(file, delimiter="\t")
    for row in rows[:80]:
        words = [_cell(cell) or "" for cell in row]
        writer.writerow([word.replace("\n", " ").replace("\r", " ") for word in words])
    return find_layout(file.getvalue(), "\t", _wanted(mapping))


def _parquet(path: Path) -> Relation:
    try:
        schema = pq.read_schema(path)
    except PARQUET_FAULTS as error:
        raise InputFileError(f"{path}: not a readable Parquet file; cut off? ({error})") from None
    names = _unique(schema.names)
    numeric, clocked, aware = set(), set(), set()
    for name, one in zip(names, schema, strict=True):
        if any(test(one.type) for test in _NUMBERS):
            numeric.add(name)
        if pa.types.is_timestamp(one.type):
            clocked.add(name)
            if one.type.tz is not None:
                aware.add(name)
    places = ", ".join(f"c{i}" for i in range(len(names)))
    sql = f"SELECT * FROM read_parquet({file_name(path)}, hive_partitioning=false) AS t({places})"
    return Relation(
        sql, names, frozenset(numeric), frozenset(clocked), frozenset(aware),
        doubled=_doubled(schema.names),
    )  # fmt: skip


_NUMBERS = (pa.types.is_integer, pa.types.is_floating, pa.types.is_decimal)


def may_be_quick(path: Path, mapping: ColumnMap) -> bool:
    """Whether a file can be tried with numbers read as numbers."""
    return path.suffix.lower() in _TEXT and mapping.thousands in ("", ".", ",")


def open_source(
    path: Path,
    mapping: ColumnMap,
    engine: duckdb.DuckDBPyConnection,
    scratch: Path,
    *,
    quick: bool = False,
) -> Relation:
    """The rows of one file; ``quick`` tries numbers as numbers and fails at the first fault.

    Raises
    ------
    InputFileError
        If the file is missing, empty, cut off beyond reading, or of a kind not read here.
    """
    kind = path.suffix.lower()
    if not path.is_file():
        raise InputFileError(f"{path}: no such file")
    if kind in _TEXT:
        return _csv(path, mapping, scratch, quick=quick)
    if kind in _LINES:
        return _json(path, scratch)
    if kind in _BOOKS:
        return _book(path, mapping, engine)
    if kind in _COLUMNS:
        return _parquet(path)
    kinds = ", ".join(sorted(_TEXT | _LINES | _BOOKS | _COLUMNS))
    raise InputFileError(f"{path}: logs are read from {kinds}; got {kind or 'no ending'!r}")
