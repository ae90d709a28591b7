"""Bench sheets -> tests in SI, or every reason why not, with sheet, row and column."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from cakewright.bench import BadTest, BenchField, BenchKind, BenchTest, Places, bench_kind
from cakewright.bench.kinds import bench_kinds
from cakewright.errors import Fault, UnknownNameError
from cakewright.storage.bench_blocks import Block, read_blocks
from cakewright.storage.bench_cells import Cell, CellError, cell_text, heading, number_in, unit_in

__all__ = ["SheetsRead", "read_bench_files"]


@dataclass(frozen=True, slots=True)
class SheetsRead:
    """Tests that could be read and those that could not."""

    tests: tuple[BenchTest, ...]
    bad: tuple[BadTest, ...]


def read_bench_files(paths: Sequence[Path | str]) -> SheetsRead:
    """Tests of several files (.csv, .xlsx, or a .toml study with ``[[bench]]`` tables).

    Raises
    ------
    InputFileError
        If a file is missing, too large, or not one of these kinds.
    """
    return _parse([block for path in paths for block in read_blocks(Path(path))])


def _parse(blocks: Sequence[Block]) -> SheetsRead:
    tests: list[BenchTest] = []
    bad: list[BadTest] = []
    for block in blocks:
        result = _test(block)
        (tests if isinstance(result, BenchTest) else bad).append(result)  # type: ignore[arg-type]
    return SheetsRead(tuple(tests), tuple(bad))


def _key(text: str) -> str:
    return text.strip().lower().replace(" ", "_").replace("-", "_")


def _test(block: Block) -> BenchTest | BadTest:
    entries = {_key(label): (row, value, unit) for row, label, value, unit in block.head}
    name = cell_text(entries["test"][1]) if "test" in entries else ""
    kind_text = _key(cell_text(entries["kind"][1])) if "kind" in entries else ""
    faults = list(block.faults)
    kind = _kind(block, entries, kind_text, faults)
    if not name and not block.faults:
        place = block.place(entries["test"][0] if "test" in entries else None, "'test'")
        faults.append(
            Fault(place, "nothing", "an id of its own for every test", "write F1, J2 ...")
        )
    if kind is None or block.faults:
        return BadTest(name or "?", kind_text, block.place(), tuple(faults))
    comma = _decimal_comma(block, entries, faults)
    numbers, words, defaults = _head(block, kind, entries, faults, comma=comma)
    columns, labels, letters = _columns(block, kind, faults, comma=comma)
    if faults:
        return BadTest(name, kind.key, block.place(), tuple(faults))
    return BenchTest(
        id=name,
        kind=kind.key,
        sludge=words.get("sludge", ""),
        numbers=numbers,
        words=words,
        columns=columns,
        labels=labels,
        defaults=defaults,
        places=Places(
            file=block.file,
            sheet=block.sheet,
            rows=tuple(row for row, _ in block.rows),
            columns=letters,
            head_rows=_head_rows(kind, entries),
        ),
    )


def _head_rows(kind: BenchKind, entries: Entries) -> dict[str, int]:
    """Row of each head entry, by the key of the entry whichever way it was written."""
    by_label = {_key(entry.label): entry.key for entry in kind.head}
    return {by_label.get(key, key): row for key, (row, _, _) in entries.items() if row}


Entries = Mapping[str, tuple[int, Cell, str]]


def _kind(block: Block, entries: Entries, text: str, faults: list[Fault]) -> BenchKind | None:
    if block.faults and not text:
        return None
    try:
        return bench_kind(text)
    except UnknownNameError as error:
        row = entries["kind"][0] if "kind" in entries else None
        got = repr(text) if text else "nothing"
        allowed = ", ".join(bench_kinds())
        faults.append(Fault(block.place(row, "'kind'"), got, allowed, str(error)))
        return None


def _decimal_comma(block: Block, entries: Entries, faults: list[Fault]) -> bool:
    row, value, _ = entries.get("decimal", (0, "point", ""))
    word = cell_text(value).lower()
    if word not in ("point", "comma"):
        faults.append(
            Fault(block.place(row, "'decimal'"), repr(word), "point or comma", "use either word")
        )
    return word == "comma"


def _head(
    block: Block, kind: BenchKind, entries: Entries, faults: list[Fault], *, comma: bool
) -> tuple[dict[str, float], dict[str, str], tuple[str, ...]]:
    numbers: dict[str, float] = {}
    words: dict[str, str] = {}
    defaults: list[str] = []
    known = {"test", "kind", "decimal"}
    for entry in kind.head:
        key = entry.key if entry.key in entries else _key(entry.label)
        known |= {entry.key, _key(entry.label)}
        row, value, unit = entries.get(key, (0, None, ""))
        if entry.text:
            if cell_text(value):
                words[entry.key] = cell_text(value)
        elif cell_text(value):
            number = _head_number(block, entry, row, value, unit, faults, comma=comma)
            if number is not None:
                numbers[entry.key] = number
        elif entry.default is not None:
            numbers[entry.key] = entry.default
            defaults.append(entry.key)
    for key, (row, _, _) in entries.items():
        if key not in known:
            allowed = ", ".join(entry.label for entry in kind.head)
            faults.append(
                Fault(block.place(row, f"'{key}'"), "an entry this test does not have", allowed,
                      "correct the spelling, or begin the line with #")
            )  # fmt: skip
    return numbers, words, tuple(defaults)


def _head_number(
    block: Block,
    entry: BenchField,
    row: int,
    value: Cell,
    unit: str,
    faults: list[Fault],
    *,
    comma: bool,
) -> float | None:
    place = block.place(row or None, f"column B ('{entry.label}')" if row else f"'{entry.label}'")
    try:
        number, behind = number_in(value, decimal_comma=comma)
        written = unit or behind
        if not written and entry.unit != "1":
            raise CellError(
                f"{number:g} without a unit", f"a unit of {entry.unit}",
                f"write it in the third column, for example {entry.written}",
            )  # fmt: skip
        if not written and entry.written != "1":
            raise CellError(
                f"{number:g} without a unit", f"{entry.written} or 1",
                f"write {entry.written} in the third column",
            )  # fmt: skip
        return unit_in(number, written, entry.unit)
    except CellError as error:
        faults.append(Fault(place, error.got, error.allowed, error.try_this))
        return None


def _columns(
    block: Block, kind: BenchKind, faults: list[Fault], *, comma: bool
) -> tuple[dict[str, np.ndarray], dict[str, tuple[str, ...]], dict[str, str]]:
    columns: dict[str, np.ndarray] = {}
    labels: dict[str, tuple[str, ...]] = {}
    letters: dict[str, str] = {}
    by_label = {_key(c.label): c for c in kind.columns} | {c.key: c for c in kind.columns}
    for index, (letter, head) in enumerate(block.columns):
        label, unit = heading(head)
        entry = by_label.get(_key(label))
        cells = [(row, cells[index]) for row, cells in block.rows]
        place = block.place(block.header_row or None, f"column {letter}")
        if entry is None:
            if _key(label) not in ("note", "notes", "remark"):
                allowed = ", ".join(f"{c.label} [{c.written}]" for c in kind.columns)
                faults.append(Fault(place, f"column {head!r}", allowed, "rename or remove it"))
            continue
        if entry.key in letters:
            faults.append(Fault(place, f"a second column {label!r}", "one", "remove one of them"))
            continue
        letters[entry.key] = letter
        if entry.text:
            labels[entry.key] = tuple(cell_text(cell).lower() for _, cell in cells)
        elif _unit_fits(entry, unit, place, faults):
            columns[entry.key] = _numbers(block, entry, letter, unit or "1", cells, faults, comma)
    return columns, labels, letters


def _unit_fits(entry: BenchField, unit: str | None, place: str, faults: list[Fault]) -> bool:
    if unit is None and entry.written != "1":
        head = f"{entry.label} [{entry.written}]"
        faults.append(
            Fault(place, f"column {entry.label!r} without a unit", f"for example '{head}'",
                  "write the unit in brackets behind the name")
        )  # fmt: skip
        return False
    try:
        unit_in(1.0, unit or "1", entry.unit)
    except CellError as error:
        allowed = f"a unit like {entry.written}"
        faults.append(Fault(place, error.got, allowed, error.try_this))
        return False
    return True


def _numbers(
    block: Block,
    entry: BenchField,
    letter: str,
    unit: str,
    cells: Sequence[tuple[int, Cell]],
    faults: list[Fault],
    comma: bool,
) -> np.ndarray:
    values = np.full(len(cells), np.nan)
    for index, (row, cell) in enumerate(cells):
        place = block.place(row, f"column {letter} ({entry.label})")
        try:
            number, behind = number_in(cell, decimal_comma=comma)
            if behind:
                raise CellError(
                    f"text {cell_text(cell)!r}", "a number alone",
                    "keep the unit in the column head",
                )  # fmt: skip
            values[index] = unit_in(number, unit, entry.unit)
        except CellError as error:
            faults.append(Fault(place, error.got, error.allowed, error.try_this))
    return values
