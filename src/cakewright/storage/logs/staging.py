"""Any log file -> rows by month: SI numbers, the clock as written, cells that would not read."""

from __future__ import annotations

import re
import shutil
from collections import Counter
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pyarrow as pa

from cakewright.errors import DataError, Fault
from cakewright.quantities import to_si
from cakewright.running.signals import SignalKind, signal, state_words
from cakewright.storage.logs.column_map import Column, ColumnMap
from cakewright.storage.logs.engine import connect, quoted
from cakewright.storage.logs.sources import MISSING, Relation, may_be_quick, open_source

__all__ = ["NO_MONTH", "Staged", "Stray", "stage_file"]

NO_MONTH = "0000-00"
SEPARATOR = "\x1f"
_BATCH = 65_536
_SITE_TITLES = {"site", "plant", "works", "werk", "anlage", "standort", "usine", "impianto"}


@dataclass(frozen=True, slots=True)
class Stray:
    """A line that could not be taken apart: its number, what is wrong, its text."""

    line: int
    reason: str
    text: str


@dataclass(frozen=True, slots=True)
class Staged:
    """One file by month, and everything to be said about it."""

    file: str
    directory: Path
    rows: int
    months: tuple[str, ...]
    notes: tuple[str, ...]
    strays: tuple[Stray, ...]
    empty: tuple[str, ...]
    turned: tuple[int, ...]


def _text(title: str, relation: Relation) -> str:
    return f"trim(CAST({relation.column(title)} AS VARCHAR))"


def _number(key: str, column: Column, mapping: ColumnMap, relation: Relation) -> str:
    """SQL of a cell as a number, NULL where it is none; words of a switch are 1 and 0."""
    title = column.title
    if title in relation.numeric:
        return f"CAST({relation.column(title)} AS DOUBLE)"
    text = f"CAST({relation.column(title)} AS VARCHAR)"
    for mark in dict.fromkeys((mapping.thousands, " ", "\u00a0") if mapping.thousands else ()):
        text = f"replace({text}, {quoted(mark)}, '')"
    if mapping.decimal == ",":
        text = f"replace({text}, ',', '.')"
    # The engine would read 1_0 as ten.
    number = f"(CASE WHEN contains({text}, '_') THEN NULL ELSE TRY_CAST({text} AS DOUBLE) END)"
    if signal(key).kind is not SignalKind.STATE:
        return number
    word = f"lower({_text(title, relation)})"
    on = ", ".join(quoted(w.lower()) for w in (*column.on, *state_words()[True]))
    off = ", ".join(quoted(w) for w in state_words()[False] if w not in column.on)
    return (
        f"(CASE WHEN {word} IN ({on}) THEN 1.0 WHEN {word} IN ({off}) THEN 0.0 ELSE {number} END)"
    )


def _si(key: str, column: Column) -> tuple[float, float]:
    """Slope and offset from the cell to SI."""
    unit = signal(key).house.unit
    zero, one = float(to_si(0.0, column.unit, unit)), float(to_si(1.0, column.unit, unit))
    slope, offset = (one - zero) * column.scale, zero + (one - zero) * column.offset
    return (-slope, 1.0 - offset) if column.moisture else (slope, offset)


def _value(key: str, column: Column, mapping: ColumnMap, relation: Relation) -> str:
    slope, offset = _si(key, column)
    number = _number(key, column, mapping, relation)
    shift = f" + {offset!r}" if offset else ""
    return f"(CASE WHEN isfinite({number}) THEN {number} * {slope!r}{shift} END) AS {key}"


def _unread(key: str, column: Column, mapping: ColumnMap, relation: Relation) -> str:
    """SQL of ``key=text`` where a cell holds something that is neither a number nor 'missing'."""
    if column.title in relation.numeric:
        return ""
    words = ", ".join(quoted(word.lower()) for word in dict.fromkeys((*MISSING, *mapping.missing)))
    text, number = _text(column.title, relation), _number(key, column, mapping, relation)
    return (
        f"CASE WHEN ({number} IS NULL OR NOT isfinite({number})) AND "
        f"{relation.column(column.title)} IS NOT NULL AND lower({text}) NOT IN ({words}) "
        f"THEN {quoted(key + '=')} || {text} END"
    )


_OFFSET = r":\d\d([.,]\d+)?\s*(Z|z|UTC|[+-]\d\d(:?\d\d)?)$"


def _clock(mapping: ColumnMap, relation: Relation) -> tuple[str, str]:
    """SQL of the time, and of whether it is UTC already because the data themselves say so.

    An offset or an epoch in the data wins over the zone of the map: it says when, not what the
    clock on the wall showed.
    """
    first = mapping.time_titles[0]
    if len(mapping.time_titles) == 1 and first in relation.clocked:
        at = relation.column(first)
        if first in relation.aware:
            return f"timezone('UTC', {at})", "true"
        return f"CAST({at} AS TIMESTAMP)", "false"
    text = " || ' ' || ".join(f"coalesce({_text(t, relation)}, '')" for t in mapping.time_titles)
    if mapping.time_formats in (("epoch s",), ("epoch ms",)):
        scale = "1000000" if mapping.time_formats[0] == "epoch s" else "1000"
        return f"make_timestamp(CAST(TRY_CAST({text} AS DOUBLE) * {scale} AS BIGINT))", "true"
    if mapping.time_formats:
        told = [f"timezone('UTC', try_strptime({text}, {quoted(f)}))"
                for f in mapping.time_formats if "%z" in f]  # fmt: skip
        plain = [quoted(f) for f in mapping.time_formats if "%z" not in f]
        local = f"try_strptime({text}, [{', '.join(plain)}])" if plain else "NULL::TIMESTAMP"
        if not told:
            return local, "false"
        utc = f"coalesce({', '.join(told)})" if len(told) > 1 else told[0]
        return f"coalesce({utc}, {local})", f"{utc} IS NOT NULL"
    # Only a text that ends in a letter or carries a sign near its end can have an offset.
    signs = " OR ".join(f"substr({text}, {n}, 1) IN ('+', '-')" for n in (-6, -5, -3))
    maybe = f"(lower(right({text}, 1)) IN ('z', 'c') OR {signs})"
    aware = f"(CASE WHEN {maybe} THEN regexp_matches({text}, {quoted(_OFFSET)}) ELSE false END)"
    utc = f"timezone('UTC', TRY_CAST(replace({text}, 'UTC', 'Z') AS TIMESTAMPTZ))"
    local = f"CASE WHEN left({text}, 1) BETWEEN '0' AND '9' THEN TRY_CAST({text} AS TIMESTAMP) END"
    return f"(CASE WHEN {aware} THEN {utc} ELSE {local} END)", aware


def _statement(mapping: ColumnMap, relation: Relation) -> str:
    columns = mapping.columns.items()
    values = ", ".join(_value(key, column, mapping, relation) for key, column in columns)
    unread = [_unread(key, column, mapping, relation) for key, column in columns]
    doubtful = ", ".join(words for words in unread if words)
    cells = (
        f"nullif(concat_ws({quoted(SEPARATOR)}, {doubtful}), '')" if doubtful else "NULL::VARCHAR"
    )
    time_text = " || ' ' || ".join(
        f"coalesce({_text(t, relation)}, '')" for t in mapping.time_titles
    )
    site = _text(mapping.site_column, relation) if mapping.site_column else "NULL::VARCHAR"
    clock, aware = _clock(mapping, relation)
    local = "clock"
    if aware != "false":  # months are those of the clock on site, whatever the data are written in
        here = f"timezone({quoted(mapping.time_zone)}, timezone('UTC', clock))"
        local = here if aware == "true" else f"CASE WHEN aware THEN {here} ELSE clock END"
    return (
        f"SELECT row_number() OVER () AS row, clock, aware, CASE WHEN clock IS NULL THEN time_text "
        f"END AS time_text, other, broken, unread, {', '.join(mapping.columns)}, "
        f"coalesce(year({local}) * 100 + month({local}), 0)::INTEGER AS month FROM (SELECT "
        f"{clock} AS clock, {aware} AS aware, {time_text} AS time_text, {site} AS other, "
        f"{relation.broken or 'NULL::VARCHAR'} AS broken, {cells} AS unread, {values} "
        f"FROM ({relation.sql}))"
    )


def _check_formats(path: Path, mapping: ColumnMap, engine: duckdb.DuckDBPyConnection) -> None:
    """A pattern the engine does not know is the map's fault, not the log's."""
    faults = []
    for pattern in mapping.time_formats:
        if pattern in ("epoch s", "epoch ms"):
            continue
        try:
            engine.execute(f"SELECT try_strptime('', {quoted(pattern)})").fetchall()
        except duckdb.Error:
            faults.append(Fault("time.format", repr(pattern), "marks such as %Y-%m-%d %H:%M:%S, "
                                "'epoch s' or 'epoch ms'", "correct the column map"))  # fmt: skip
    if faults:
        raise DataError(str(path), faults)


def _check_titles(path: Path, mapping: ColumnMap, relation: Relation) -> None:
    wanted = [*mapping.time_titles, *(c.title for c in mapping.columns.values())]
    wanted += [mapping.site_column] if mapping.site_column else []
    have = set(relation.titles)
    shown = ", ".join(relation.titles[:30])
    faults = [
        Fault("column", repr(title), f"one of: {shown}", "correct the title in the column map")
        for title in dict.fromkeys(wanted)
        if title not in have
    ]
    faults += [
        Fault("column", f"{relation.doubled.count(title)} columns called {title!r}"
              if relation.doubled.count(title) > 1 else f"several columns called {title!r}",
              "one", f"write {title + ' (2)'!r} for the second; give the first a title of its own "
              "in the log, or leave the others out of it")
        for title in dict.fromkeys(wanted)
        if title in relation.doubled and not _told_apart(title, relation, mapping)
    ]  # fmt: skip
    if faults:
        raise DataError(str(path), faults)


def _told_apart(title: str, relation: Relation, mapping: ColumnMap) -> bool:
    """Whether the map names more than one of the columns of this title: then it knows of them."""
    used = {column.title for column in mapping.columns.values()}
    return any(re.fullmatch(re.escape(title) + r" \(\d+\)", other) for other in used)


def _check_sites(
    path: Path, mapping: ColumnMap, relation: Relation, engine: duckdb.DuckDBPyConnection
) -> None:
    """A column that names several sites must be mapped, or two sites would be mixed up."""
    mapped = {c.title for c in mapping.columns.values()} | {mapping.site_column}
    for title in relation.titles:
        if title.lower().strip() not in _SITE_TITLES or title in mapped:
            continue
        query = f"SELECT DISTINCT {_text(title, relation)} FROM ({relation.sql}) LIMIT 6"
        found = sorted(str(row[0]) for row in engine.execute(query).fetchall() if row[0])
        if len(found) > 1:
            fault = Fault(
                f"column {title!r}", f"{len(found)} sites in one file: {', '.join(found)}",
                "one site per column map", f'add site_column = "{title}" to the map of each site',
            )  # fmt: skip
            raise DataError(str(path), [fault])


def _strays(engine: duckdb.DuckDBPyConnection, path: Path) -> tuple[Stray, ...]:
    if path.suffix.lower() not in (".csv", ".tsv", ".txt"):
        return ()
    query = "SELECT line, error_type::VARCHAR, csv_line FROM reject_errors ORDER BY line"
    words = {
        "MISSING COLUMNS": "too few cells in the line",
        "TOO MANY COLUMNS": "too many cells in the line",
        "UNQUOTED VALUE": "quotation mark left open",
        "LINE SIZE OVER MAXIMUM": "line too long",
        "INVALID ENCODING": "unreadable characters",
    }
    rows = engine.execute(query).fetchall()
    unique = {
        int(line): Stray(int(line), words.get(kind, kind.lower()), str(text or ""))
        for line, kind, text in rows
    }
    return tuple(unique.values())


@dataclass(slots=True)
class _Months:
    """One file per month, written as the rows stream by; rows keep their order in each."""

    target: Path
    keys: tuple[str, ...]
    writers: dict[int, Any] = field(default_factory=dict)
    rows: int = 0
    filled: Counter[str] = field(default_factory=Counter)

    def add(self, batch: pa.RecordBatch) -> None:
        """Cut a batch where the month changes: logs are mostly in order, so slices are few."""
        month = batch.column("month").to_numpy()
        edges = np.flatnonzero(np.diff(month)) + 1
        for start, end in pairwise([0, *edges.tolist(), len(month)]):
            self._writer(int(month[start]), batch.schema).write_batch(
                batch.slice(start, end - start)
            )
        self.rows += len(month)
        for key in self.keys:
            self.filled[key] += len(month) - batch.column(key).null_count

    def _writer(self, month: int, schema: pa.Schema) -> Any:
        if month not in self.writers:
            path = self.target / f"{month // 100:04d}-{month % 100:02d}.arrow"
            self.writers[month] = pa.ipc.new_file(str(path), schema)
        return self.writers[month]

    def close(self) -> None:
        """Finish every file."""
        for writer in self.writers.values():
            writer.close()


def _stream(
    engine: duckdb.DuckDBPyConnection, mapping: ColumnMap, relation: Relation, target: Path
) -> _Months:
    """Rows of one file into a file per month."""
    shutil.rmtree(target, ignore_errors=True)
    target.mkdir(parents=True)
    months = _Months(target, tuple(mapping.columns))
    try:
        rows = engine.sql(_statement(mapping, relation))
        for batch in rows.to_arrow_reader(_BATCH) if rows is not None else ():
            months.add(batch)
    finally:
        months.close()
    return months


def _staged_rows(
    engine: duckdb.DuckDBPyConnection, path: Path, mapping: ColumnMap, scratch: Path, target: Path
) -> tuple[Relation, _Months, tuple[Stray, ...]]:
    """Try numbers as numbers; at the first cell or line that does not fit, start patiently anew."""
    _check_formats(path, mapping, engine)
    if may_be_quick(path, mapping):
        relation = open_source(path, mapping, engine, scratch, quick=True)
        _check_titles(path, mapping, relation)
        try:
            return relation, _stream(engine, mapping, relation, target), ()
        except (duckdb.Error, pa.ArrowException):
            pass  # some cell is no number, or some line has too many or too few
    relation = open_source(path, mapping, engine, scratch)
    _check_titles(path, mapping, relation)
    months = _stream(engine, mapping, relation, target)
    return relation, months, _strays(engine, path)


def stage_file(
    path: Path, mapping: ColumnMap, target: Path, *, memory_mb: int = 800, threads: int = 2
) -> Staged:
    """One file written to ``target`` by month of the site's clock.

    Raises
    ------
    InputFileError
        If the file cannot be read at all.
    DataError
        If titles of the column map are missing, several sites are mixed, or nothing is left.
    """
    scratch = target.with_name(target.name + ".scratch")
    with connect(scratch, memory_mb=memory_mb, threads=threads) as engine:
        relation, staged, strays = _staged_rows(engine, path, mapping, scratch, target)
        _check_sites(path, mapping, relation, engine)
    months = tuple(sorted(part.stem for part in target.glob("*.arrow")))
    rows = staged.rows
    if not rows:
        fault = Fault(
            "rows",
            f"0 readable rows, {len(strays)} unreadable",
            "at least one",
            "look at the file's end",
        )
        raise DataError(str(path), [fault])
    empty = tuple(key for key in mapping.columns if not staged.filled[key])
    return Staged(str(path), target, rows, months, relation.notes, strays, empty, relation.turned)
