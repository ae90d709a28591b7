"""Bench files (CSV, XLSX, TOML) cut into one raw block per test, every cell with its place."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from cakewright.errors import Fault, InputFileError, foreign
from cakewright.quantities.toml_text import parse_toml
from cakewright.storage.bench_cells import Cell, cell_text, column_letter
from cakewright.storage.texts import read_bytes, read_text, rows_of
from cakewright.storage.workbooks import workbook_sheets

__all__ = ["Block", "blocks_of_entries", "read_blocks"]

_LARGEST, _SMALLER = 20_000_000, "a bench sheet is a table as text or a small workbook"


@dataclass(frozen=True, slots=True)
class Block:
    """One test as it stands in a file: head entries, column heads, rows of readings.

    ``head`` is (row, label, value, unit); ``columns`` (letter, head); ``rows`` (row, cells in the
    order of ``columns``). ``faults`` were found while cutting.
    """

    file: str
    sheet: str
    first_row: int
    head: tuple[tuple[int, str, Cell, str], ...]
    columns: tuple[tuple[str, str], ...]
    header_row: int
    rows: tuple[tuple[int, tuple[Cell, ...]], ...]
    faults: tuple[Fault, ...] = field(default=())

    def place(self, row: int | None = None, what: str = "") -> str:
        """A place in this block in words."""
        sheet = f"sheet '{self.sheet}'" if self.sheet else ""
        numbered = f"row {row}" if row else ""
        return ", ".join(part for part in (self.file, sheet, numbered, what) if part)


Grid = Sequence[Sequence[Cell]]


@foreign("a sheet of bench tests")
def read_blocks(path: Path) -> list[Block]:
    """Blocks of one file.

    Raises
    ------
    InputFileError
        If the file is missing, too large, or not one of the three kinds.
    """
    readers = {".csv": _read_csv, ".xlsx": _read_xlsx, ".toml": _read_toml}
    if path.suffix.lower() not in readers:
        raise InputFileError(
            f"{path.name}: got a {path.suffix or 'nameless'} file; allowed: .csv, .xlsx or .toml; "
            "save the sheet as one of these"
        )
    if not path.is_file():
        raise InputFileError(f"{path.name}: no such file; check the name and the folder")
    return readers[path.suffix.lower()](path)


def _read_csv(path: Path) -> list[Block]:
    text = read_text(path, _LARGEST, _SMALLER, "cp1252", path.name)
    return _cut(rows_of(text, path.name), path.name, "")


def _read_xlsx(path: Path) -> list[Block]:
    blocks: list[Block] = []
    for sheet in workbook_sheets(read_bytes(path, _LARGEST, _SMALLER, path.name), path.name):
        grid = [[_cell(value) for value in row] for row in sheet.rows]
        blocks += [_with_merged(block, sheet.merged) for block in _cut(grid, path.name, sheet.name)]
    return blocks


def _cell(value: Any) -> Cell:
    if value is None or value == "":
        return None
    if isinstance(value, bool):
        return str(value)
    return float(value) if isinstance(value, int | float) else str(value)


def _with_merged(block: Block, merged: Sequence[tuple[tuple[int, int], tuple[int, int]]]) -> Block:
    """Merged cells hide readings: each is a fault of the block it lies in."""
    last = block.rows[-1][0] if block.rows else block.header_row
    faults = list(block.faults)
    for (top, left), (bottom, right) in merged:
        if bottom + 1 < block.first_row or top + 1 > last:
            continue
        cells = f"{column_letter(left)}{top + 1}:{column_letter(right)}{bottom + 1}"
        what = f"column {column_letter(left)}"
        faults.append(
            Fault(
                block.place(top + 1, what),
                f"merged cells {cells}",
                "one value per cell",
                "split the merged cells and fill each one",
            )
        )
    return Block(
        block.file, block.sheet, block.first_row, block.head, block.columns, block.header_row,
        block.rows, tuple(faults),
    )  # fmt: skip


def _read_toml(path: Path) -> list[Block]:
    try:
        data = parse_toml(read_text(path, name=path.name))
    except tomllib.TOMLDecodeError as error:
        raise InputFileError(f"{path.name}: not TOML ({error}); correct the line named") from None
    entries = data.get("bench", [])
    if not isinstance(entries, list):
        raise InputFileError(f"{path.name}: 'bench' must be a list of tables, written [[bench]]")
    return blocks_of_entries(entries, path.name)


def blocks_of_entries(entries: Sequence[Mapping[str, Any]], file: str = "study") -> list[Block]:
    """Blocks of the ``[[bench]]`` tables of a study.

    Each table holds the head as ``key = "50 kPa"`` and ``[bench.readings]`` with one list per
    column, named like a column head (``"time [s]" = [...]``).
    """
    blocks = []
    for number, entry in enumerate(entries, start=1):
        readings = entry.get("readings", {})
        head = tuple((0, str(key), _cell(value), "") for key, value in entry.items()
                     if key != "readings")  # fmt: skip
        columns = tuple((str(name), str(name)) for name in readings)
        longest = max((len(values) for values in readings.values()), default=0)
        rows = tuple(
            (i + 1, tuple(_cell(v[i]) if i < len(v) else None for v in readings.values()))
            for i in range(longest)
        )
        blocks.append(Block(file, f"bench {number}", 0, head, columns, 0, rows))
    return blocks


def _cut(grid: Grid, file: str, sheet: str) -> list[Block]:
    """Blocks of a grid: each starts at a row whose first cell is ``test``."""
    starts = [i for i, row in enumerate(grid) if row and cell_text(row[0]).lower() == "test"]
    stray = [
        i for i, row in enumerate(grid[: starts[0] if starts else len(grid)])
        if any(cell_text(c) for c in row) and not cell_text(row[0]).startswith("#")
    ]  # fmt: skip
    if stray and not (sheet and not starts and sheet.lower() in ("notes", "read me")):
        place = ", ".join(p for p in (file, f"sheet '{sheet}'" if sheet else "",
                                      f"row {stray[0] + 1}") if p)  # fmt: skip
        fault = Fault(
            place,
            f"{cell_text(grid[stray[0]][0])!r} before any test",
            "a row 'test, <id>' first",
            "start from a template, or begin other lines with #",
        )
        lost = Block(file, sheet, stray[0] + 1, (), (), stray[0] + 1, (), (fault,))
        return [lost, *_blocks_from(grid, starts, file, sheet)]
    return _blocks_from(grid, starts, file, sheet)


def _blocks_from(grid: Grid, starts: Sequence[int], file: str, sheet: str) -> list[Block]:
    ends = [*starts[1:], len(grid)] if starts else []
    return [_block(grid, a, b, file, sheet) for a, b in zip(starts, ends, strict=True)]


def _block(grid: Grid, start: int, end: int, file: str, sheet: str) -> Block:
    head: list[tuple[int, str, Cell, str]] = []
    at = start
    while at < end and cell_text(_get(grid[at], 0)).lower() != "readings":
        row = grid[at]
        label = cell_text(_get(row, 0))
        if label and not label.startswith("#"):
            head.append((at + 1, label, _get(row, 1), cell_text(_get(row, 2))))
        at += 1
    if at + 1 >= end:
        fault = Fault(
            ", ".join(p for p in (file, f"sheet '{sheet}'" if sheet else "", f"row {end}") if p),
            "no row 'readings' with column heads below it",
            "the head, a row 'readings', a row of column heads, then the readings",
            "start from a template",
        )
        return Block(file, sheet, start + 1, tuple(head), (), end, (), (fault,))
    names = [cell_text(cell) for cell in grid[at + 1]]
    there = [i for i, name in enumerate(names) if name and not name.startswith("#")]
    columns = tuple((column_letter(i), names[i]) for i in there)
    faults = _cells_without_head(grid[at + 2 : end], at + 3, set(there), file, sheet)
    rows = tuple(
        (number + 1, tuple(_get(grid[number], i) for i in there))
        for number in range(at + 2, end)
        if any(cell_text(_get(grid[number], i)) for i in there)
        and not cell_text(_get(grid[number], 0)).startswith("#")
    )
    return Block(file, sheet, start + 1, tuple(head), columns, at + 2, rows, tuple(faults))


def _cells_without_head(
    rows: Grid, first_row: int, headed: set[int], file: str, sheet: str
) -> list[Fault]:
    """A reading beyond the heads is a lost number, or a decimal comma that cut one in two."""
    faults = []
    for number, row in enumerate(rows, start=first_row):
        if cell_text(_get(row, 0)).startswith("#"):
            continue
        for index, cell in enumerate(row):
            if index not in headed and cell_text(cell):
                place = ", ".join(
                    p for p in (file, f"sheet '{sheet}'" if sheet else "", f"row {number}",
                                f"column {column_letter(index)}") if p
                )  # fmt: skip
                faults.append(
                    Fault(
                        place,
                        f"{cell_text(cell)!r} in a column without a head",
                        "readings under a head only",
                        "name the column; if a decimal comma cut the number in two, use a "
                        "decimal point",
                    )
                )
                break
    return faults


def _get(row: Sequence[Cell], index: int) -> Cell:
    value = row[index] if index < len(row) else None
    return value if cell_text(value) else None
