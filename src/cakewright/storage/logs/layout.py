"""Where a table begins in a text file: preamble, titles in one row or two, units, first row."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

__all__ = ["Layout", "find_layout", "layout_of_file", "looks_like_time", "unit_cell"]

_HEAD = 80
_MARKS = (";", "\t", "|", ",")
_TIME = re.compile(
    r"^\s*(\d{4}[-/.年]\s?\d{1,2}[-/.月]\s?\d{1,2}|\d{1,2}[./-]\d{1,2}[./-]\d{2,4}|\d{1,2}:\d{2}|"
    r"(?:mon|tue|wed|thu|fri|sat|sun|mo|di|mi|do|fr|sa|so)\.?,?\s+\d)", re.IGNORECASE,
)  # fmt: skip
_NUMBER = re.compile(r"^\s*[-+]?[\d'.,  ]*\d[\d'.,  ]*(?:[eE][-+]?\d+)?\s*%?\s*$")
_BARE = frozenset(
    {
        "m", "cm", "mm", "l", "ml", "kw", "w", "a", "ma", "v", "hz", "bar", "mbar", "kpa", "mpa",
        "pa", "psi", "h", "s", "min", "°c", "℃", "c", "f", "°f", "degc", "degf", "rpm", "ntu",
        "fnu", "kg", "t", "g", "mg", "-", "–", "1", "%", "‰", "nm", "knm", "kn", "kwh", "m3", "m2",
        "d", "u", "tr", "gpm", "ft", "in", "gal", "lb", "ppm", "ph", "on/off", "ein/aus", "0/1",
        "㎥", "㎏", "㎜", "回", "分", "時",
    }
)  # fmt: skip
_WORDS_FOR_TIME = {
    "time", "timestamp", "date", "zeit", "datum", "uhrzeit", "zeitstempel", "heure", "fecha",
    "hora", "jikoku", "nichiji", "时间", "日時", "時刻", "日付", "dd.mm.yyyy", "hh:mm", "hh:mm:ss",
    "yyyy-mm-dd", "tt.mm.jjjj",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Layout:
    """Titles (two rows joined), units beneath or in them, lines before the first row of readings.

    ``skip`` counts physical lines; ``title_line`` is the line of the (last) titles, from 1.
    """

    mark: str
    titles: tuple[str, ...]
    units: tuple[str, ...]
    skip: int
    title_line: int

    @property
    def preamble(self) -> int:
        """Lines before the titles."""
        return self.title_line - 1


def looks_like_time(cell: str) -> bool:
    """Whether a cell begins like a date or a clock reading."""
    return bool(_TIME.match(cell))


def unit_cell(cell: str) -> bool:
    """Whether a cell is a unit and nothing else: ``m3/h``, ``[%]``, ``% TS``, ``1/min``."""
    text = cell.strip().strip("[]()").casefold().replace("³", "3").replace("²", "2").strip()
    text = re.sub(r",\s*0+$", "", text)
    if text in _BARE or re.fullmatch(r"[%‰](\s?(ts|tr|ds|ms|mst|dm))?", text):
        return True
    parts = [part.strip() for part in re.split(r"[/·*]", text)]
    return len(parts) in (2, 3) and all(
        part in _BARE or re.fullmatch(r"\d*(kg|g|t|m3)?\s?(ts|tr|ds|ms)?", part) for part in parts
    )


def _rows(text: str, mark: str) -> list[tuple[list[str], int]]:
    """Cells of each row and the physical line it ends on; quotes may hold marks and line ends."""
    reader = csv.reader(text.splitlines(keepends=True), delimiter=mark)
    rows = []
    try:
        for cells in islice(reader, _HEAD):
            rows.append(([cell.strip() for cell in cells], reader.line_num))
    except csv.Error:
        pass  # what was read so far is enough to find the titles
    return rows


def _best_mark(text: str) -> str:
    """The separator that gives most rows the same number of cells, more than one."""
    best, score = ",", 0.0
    for mark in _MARKS:
        widths = [len(cells) for cells, _ in _rows(text, mark) if any(cells)]
        wide = Counter(w for w in widths[len(widths) // 3 :] if w > 1)
        if not wide:
            continue
        width, count = wide.most_common(1)[0]
        share = count / max(len(widths) - len(widths) // 3, 1)
        gain = share * (1.0 + 0.02 * min(width, 20))
        if gain > score + 0.05:
            best, score = mark, gain
    return best


def _is_data(cells: Sequence[str]) -> bool:
    full = [cell for cell in cells if cell]
    if not full:
        return False
    numbers = sum(bool(_NUMBER.match(cell)) for cell in full)
    times = sum(looks_like_time(cell) for cell in full)
    return bool(times and (numbers or len(full) <= 3)) or numbers >= max(2, 0.6 * len(full))


def _filled(cells: Sequence[str]) -> list[str]:
    """A row of group titles: an empty cell belongs to the group on its left."""
    found: list[str] = []
    for cell in cells:
        found.append(cell or (found[-1] if found else ""))
    return found


def _joined(upper: Sequence[str], lower: Sequence[str]) -> tuple[str, ...]:
    pairs = zip([*_filled(upper), *[""] * len(lower)], lower, strict=False)
    return tuple(f"{a} {b}".strip() if a != b else b for a, b in pairs)


def _by_wanted(
    rows: list[tuple[list[str], int]], wanted: Collection[str]
) -> tuple[int, tuple[str, ...]] | None:
    """Row that carries the titles a column map names, alone or joined with the row above."""
    best: tuple[int, int, tuple[str, ...]] | None = None
    for i, (cells, _) in enumerate(rows):
        for titles in (tuple(cells), *((_joined(rows[i - 1][0], cells),) if i else ())):
            hits = len(set(wanted) & set(titles))
            if hits and (best is None or hits > best[0]):
                best = (hits, i, titles)
    return (best[1], best[2]) if best else None


def _by_look(rows: list[tuple[list[str], int]]) -> tuple[int, tuple[str, ...]]:
    """Row of the titles where nobody says what they are called: the last row of words."""
    widths = Counter(len(cells) for cells, _ in rows if any(cells)).most_common(1)
    usual = widths[0][0] if widths else 1
    data = (i for i, (c, _) in enumerate(rows) if i and len(c) >= usual - 1 and _is_data(c))
    first = next(data, len(rows))
    width = len(rows[first][0]) if first < len(rows) else max(len(c) for c, _ in rows)
    least = max(2, width // 2) if width > 1 else 1
    heads = [
        i for i in range(first)
        if sum(bool(c) for c in rows[i][0]) >= min(least, 2) and len(rows[i][0]) >= width - 1
        and not _is_data(rows[i][0])
    ]  # fmt: skip
    words = [i for i in heads if not _units_row(rows[i][0])]
    if not words:
        return max(first - 1, 0), tuple(rows[max(first - 1, 0)][0])
    last = words[-1]
    cells = rows[last][0]
    above = rows[last - 1][0] if last - 1 in words else []
    repeats = len({c for c in cells if c}) < sum(bool(c) for c in cells)
    if above and (repeats or sum(bool(c) for c in above) < sum(bool(c) for c in cells)):
        return last, _joined(above, cells)
    return last, tuple(cells)


def _units_row(cells: Sequence[str]) -> bool:
    full = [c for c in cells if c and c.casefold() not in _WORDS_FOR_TIME]
    return bool(full) and sum(unit_cell(c) for c in full) >= max(1, 0.7 * len(full))


def find_layout(text: str, mark: str = "", wanted: Collection[str] = ()) -> Layout:
    """Separator, titles, units and first row of readings from the head of a text.

    ``wanted`` are the titles a column map names: with them the row of titles is found however
    many lines stand before it.
    """
    mark = mark or _best_mark(text)
    rows = _rows(text, mark) or [([""], 1)]
    found = _by_wanted(rows, wanted) if wanted else None
    at, titles = found or _by_look(rows)
    units: tuple[str, ...] = ()
    skip, after = rows[at][1], at + 1
    while after < len(rows) and any(rows[after][0]) and not _is_data(rows[after][0]):
        cells = rows[after][0]
        times = any(looks_like_time(c) for c in cells)
        if times or not (_units_row(cells) or not any(_NUMBER.match(c) for c in cells if c)):
            break
        units = tuple(cells) if _units_row(cells) else units
        skip, after = rows[after][1], after + 1
        if after - at > 3:
            break
    units = tuple((*units, *[""] * len(titles))[: len(titles)])
    return Layout(mark, tuple(t.strip() for t in titles), units, skip, rows[at][1])


def layout_of_file(path: Path, mark: str = "", wanted: Collection[str] = ()) -> Layout:
    """The layout of a UTF-8 text file."""
    with path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
        text = "".join(islice(file, 4 * _HEAD))[:2_000_000]
    return find_layout(text, mark, wanted)
