"""A first look at a log: its titles, a few rows, and a column map guessed from both."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq

from cakewright.errors import InputFileError
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import DAY
from cakewright.running.proposing import Proposal, is_time_title, propose
from cakewright.storage.logs.column_map import Column, ColumnMap, Grain
from cakewright.storage.logs.engine import PARQUET_FAULTS, connect
from cakewright.storage.logs.sources import open_source
from cakewright.storage.workbooks import check_workbook

__all__ = ["TIME_FORMATS", "LogLook", "look_over"]

TIME_FORMATS = (
    "%d.%m.%Y %H:%M", "%d.%m.%Y %H:%M:%S", "%d/%m/%Y %H:%M", "%d/%m/%Y %H:%M:%S",
    "%m/%d/%Y %H:%M", "%m/%d/%Y %H:%M:%S", "%m/%d/%Y %I:%M %p", "%Y/%m/%d %H:%M",
    "%Y/%m/%d %H:%M:%S", "%Y年%m月%d日 %H:%M", "%Y年%m月%d日 %H時%M分", "%d.%m.%y %H:%M",
    "%d.%m.%y %H:%M:%S", "%d-%m-%Y %H:%M", "%d-%m-%Y %H:%M:%S", "%d.%m.%Y", "%d/%m/%Y",
    "%m/%d/%Y", "%Y/%m/%d", "%Y年%m月%d日", "%d.%m.%y",
)  # fmt: skip
_JUDGED = 3000
_ROWS, _MOST_COLUMNS, _MOST_ROWS = 40, 400, 20_000_000
_LONGEST_TITLE = 500


@dataclass(frozen=True, slots=True)
class LogLook:
    """Titles with a few cells of each, and the map they suggest."""

    titles: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]
    draft: ColumnMap
    proposals: tuple[Proposal, ...] = ()
    notes: tuple[str, ...] = ()


def look_over(path: Path, site: str, scratch: Path) -> LogLook:
    """Titles, first rows and a drafted map of a log, in which the reader puts right what is wrong.

    Raises
    ------
    InputFileError
        If it is no log of a kind that is read, or larger inside than may be.
    """
    _check(path)
    blank = ColumnMap(site=site, time_titles=("time",), columns={})
    with connect(scratch) as engine:
        relation = open_source(path, blank, engine, scratch)
        titles = relation.titles
        if len(titles) > _MOST_COLUMNS:
            raise InputFileError(f"got {len(titles)} columns; at most {_MOST_COLUMNS} are taken")
        longest = max((len(title) for title in titles), default=0)
        if longest > _LONGEST_TITLE:
            raise InputFileError(f"a title of {longest} characters; is it a table with titles?")
        texts = ", ".join(f"CAST({relation.column(title)} AS VARCHAR)" for title in titles)
        query = f"SELECT {texts} FROM ({relation.sql}) LIMIT {_JUDGED}"
        rows = engine.execute(query).fetchall()
    columns = [tuple("" if row[i] is None else str(row[i])[:60] for row in rows)
               for i in range(len(titles))]  # fmt: skip
    clocked = [title for title in titles if title in relation.clocked]
    draft, proposals = _draft(titles, relation.units, columns, site, clocked)
    few = tuple(column[:_ROWS] for column in columns)
    return LogLook(titles, few, draft, proposals, relation.notes)


def _check(path: Path) -> None:
    """What would unpack to far more than it is, before anything unpacks it."""
    kind = path.suffix.lower()
    if kind in (".xlsx", ".xlsm"):
        check_workbook(path.read_bytes(), path.name)
    if kind not in (".parquet", ".pq"):
        return
    try:
        about = pq.read_metadata(path)
    except PARQUET_FAULTS as error:
        raise InputFileError(f"{path}: not a readable Parquet file; cut off? ({error})") from None
    if about.num_rows > _MOST_ROWS or about.num_columns > _MOST_COLUMNS:
        raise InputFileError(
            f"{path}: got {about.num_rows} rows of {about.num_columns} columns; at most "
            f"{_MOST_ROWS} of {_MOST_COLUMNS} are taken; give it in parts"
        )


def _draft(
    titles: Sequence[str], units: Sequence[str], columns: Sequence[Sequence[str]], site: str,
    clocked: Sequence[str],
) -> tuple[ColumnMap, tuple[Proposal, ...]]:  # fmt: skip
    cells = dict(zip(titles, columns, strict=True))
    named = [title for title in titles if is_time_title(title)]
    times = tuple(clocked[:1]) or _time_titles(named, cells)
    form = "" if clocked else _time_format(times, cells)
    decimal = _decimal(times, cells)
    rest = [(t, u) for t, u in zip(titles, (*units, *[""] * len(titles)), strict=False)
            if t not in times]  # fmt: skip
    numbers = {title: _numbers(cells[title], decimal) for title, _ in rest}
    proposals = propose([t for t, _ in rest], [u for _, u in rest], cells, numbers)
    taken = {
        one.key: Column(one.title, one.unit, scale=one.scale, moisture=one.moisture)
        for one in proposals
        if one.key and one.confidence >= LEAST
    }
    draft = ColumnMap(
        site=site, time_titles=times, time_formats=(form,) if form else (), columns=taken,
        decimal=decimal, grain=_grain(_moments(times, form, cells), taken),
    )  # fmt: skip
    return draft, proposals


LEAST = 0.35  # proposals less sure than this are shown and not taken


def _numbers(column: Sequence[str], decimal: str) -> FloatArray:
    found = []
    for text in column:
        plain = text.replace(".", "").replace(",", ".") if decimal == "," else text
        plain = text.replace(",", ".") if decimal == "," and "." not in text else plain
        try:
            value = float(plain)
        except ValueError:
            continue
        if np.isfinite(value) and value != 0:
            found.append(value)
    return np.array(found)


def _time_titles(drafted: Sequence[str], cells: dict[str, Sequence[str]]) -> tuple[str, ...]:
    """The drafted titles where they hold times, else the first column that does."""
    there = tuple(title for title in drafted if title in cells)
    for pair in pairwise(there):  # date and clock in two columns
        if _reads(pair, cells):
            return pair
    whole = next((title for title in there if _reads((title,), cells)), "")
    if whole:
        return (whole,)
    return next(((title,) for title in cells if _reads((title,), cells)), there[:1] or ("time",))


def _reads(titles: Sequence[str], cells: dict[str, Sequence[str]]) -> bool:
    form = _time_format(titles, cells)
    return bool(_moments(titles, form, cells)) and form != "epoch s"


def _joined(titles: Sequence[str], cells: dict[str, Sequence[str]]) -> list[str]:
    rows = zip(*(cells[title] for title in titles if title in cells), strict=True)
    return [text for row in rows if (text := " ".join(row).strip())]


def _moments(titles: Sequence[str], form: str, cells: dict[str, Sequence[str]]) -> list[float]:
    """Times of the first rows in seconds; empty where they cannot be read that way."""
    try:
        return [_moment(text, form) for text in _joined(titles, cells)]
    except ValueError:
        return []


def _moment(text: str, form: str) -> float:
    if form.startswith("epoch"):
        return float(text) / (1000.0 if form == "epoch ms" else 1.0)
    moment = datetime.strptime(text, form) if form else datetime.fromisoformat(text)
    return (moment.replace(tzinfo=None) - datetime(1970, 1, 1)).total_seconds()


def _time_format(titles: Sequence[str], cells: dict[str, Sequence[str]]) -> str:
    """The pattern that reads every time, empty for ISO 8601 and where none does."""
    texts = _joined(titles, cells)
    if texts and all(re.fullmatch(r"\d{9,10}(\.\d+)?", text) for text in texts):
        return "epoch s"
    if texts and all(re.fullmatch(r"\d{12,13}", text) for text in texts):
        return "epoch ms"
    return next((f for f in ("", *TIME_FORMATS) if _moments(titles, f, cells)), "")


def _decimal(times: Sequence[str], cells: dict[str, Sequence[str]]) -> str:
    numbers = [text for title, column in cells.items() if title not in times for text in column]
    commas = sum(bool(re.fullmatch(r"-?\d+,\d+", text)) for text in numbers)
    points = sum(bool(re.fullmatch(r"-?\d+\.\d+", text)) for text in numbers)
    return "," if commas > points else "."


def _grain(moments: Sequence[float], columns: dict[str, Column]) -> Grain:
    steps = np.diff(moments)
    step = float(np.median(steps[steps > 0])) if (steps > 0).any() else 60.0
    if step < 3600.0:
        return Grain.MINUTE
    return Grain.DAY if step >= 0.9 * DAY and "machine_on" not in columns else Grain.SHIFT
