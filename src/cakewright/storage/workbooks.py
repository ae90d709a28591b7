"""Workbooks of others: looked over before anything unpacks them, then read in a process apart."""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from dataclasses import dataclass
from typing import Any

from cakewright.errors import InputFileError
from cakewright.storage.bounded import MOST_BYTES, MOST_SECONDS, read_apart

__all__ = ["LOG", "SHEET", "Bounds", "Sheet", "check_workbook", "workbook_sheets"]

_MOST_PARTS = 400
_MOST_RATIO = 200
_HEADER = 30
_CELL = re.compile(rb"""<(?:\w+:)?c\b(?:[^<>]*?\sr\s*=\s*["']([A-Za-z]{1,3})(\d{1,7})["'])?""")
_ROW = re.compile(rb"""<(?:\w+:)?row\b[^<>]*?\sr\s*=\s*["'](\d{1,9})["']""")


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a workbook may hold: bytes unpacked, cells of a sheet, memory and time to read it.

    The reader makes room for every cell between the first and the last that is used.
    """

    unpacked: int = 60_000_000
    cells: int = 5_000_000
    memory: int = MOST_BYTES
    seconds: float = MOST_SECONDS


SHEET, LOG = Bounds(), Bounds(1_000_000_000, 20_000_000, 6 * 1024**3, 600.0)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet: its name, its rows from the first on, and the merged ranges (row, column)."""

    name: str
    rows: list[list[Any]]
    merged: tuple[tuple[tuple[int, int], tuple[int, int]], ...] = ()


def workbook_sheets(
    data: bytes, name: str, most: int = 0, bounds: Bounds = SHEET
) -> tuple[Sheet, ...]:
    """Sheets of a workbook, read in a process of its own; ``most`` sheets, or all.

    Raises
    ------
    InputFileError
        If it is no workbook, is damaged, or holds more cells or takes more memory than may be.
    """
    check_workbook(data, name, bounds)
    return read_apart(name, _sheets, data, most, seconds=bounds.seconds, memory=bounds.memory)


def _sheets(data: bytes, most: int) -> tuple[Sheet, ...]:
    from python_calamine import CalamineWorkbook

    book = CalamineWorkbook.from_filelike(io.BytesIO(data))
    found = []
    for name in book.sheet_names[: most or None]:
        sheet = book.get_sheet_by_name(name)
        rows = sheet.to_python(skip_empty_area=False)
        found.append(Sheet(name, rows, tuple(sheet.merged_cell_ranges or ())))
    return tuple(found)


def check_workbook(data: bytes, name: str, bounds: Bounds = SHEET) -> None:
    """Refuse what is no workbook, unpacks to far too much, or carries entities.

    Raises
    ------
    InputFileError
        Says what is wrong with it.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            _check_parts(book, name, data, bounds)
    except (zipfile.BadZipFile, zlib.error, struct.error, ValueError, NotImplementedError) as error:
        raise InputFileError(
            f"{name}: is not a workbook ({error}); save it as .xlsx, or paste the cells"
        ) from None


def _check_parts(book: zipfile.ZipFile, name: str, data: bytes, bounds: Bounds) -> None:
    parts, packed = book.infolist(), len(data)
    unpacked = sum(part.file_size for part in parts)
    if len(parts) > _MOST_PARTS or unpacked > bounds.unpacked or unpacked > _MOST_RATIO * packed:
        raise InputFileError(
            f"{name}: unpacks to {unpacked // 1_000_000} MB in {len(parts)} parts; allowed: "
            f"{bounds.unpacked // 1_000_000} MB; copy the cells you need into a new workbook"
        )
    if "[Content_Types].xml" not in book.namelist():
        raise InputFileError(f"{name}: is an archive but not a workbook; save it as .xlsx")
    for part in parts:
        content = _unpacked(data, part, name)
        if part.filename.endswith((".xml", ".rels")):
            plain = content.replace(b"\0", b"").lower()
            if b"<!doctype" in plain or b"<!entity" in plain:
                raise InputFileError(f"{name}: carries XML entities; save it again as a new .xlsx")
            if "worksheets/" in part.filename:
                _check_cells(content.replace(b"\0", b""), name, bounds.cells)


def _check_cells(content: bytes, name: str, most: int) -> None:
    """Refuse a sheet whose used area is far larger than what stands in it."""
    rows = [0, *(int(row) for row in _ROW.findall(content))]
    columns, plain = [0], 0
    for letters, row in _CELL.findall(content):
        if letters:
            columns.append(_column(letters))
            rows.append(int(row))
        else:
            plain += 1
    wide = max(*columns, min(plain, 16_384))
    high = max(*rows, content.count(b"<row"), 0)
    if wide * high > most:
        raise InputFileError(
            f"{name}: a sheet uses cells down to row {high} and column {wide}; allowed: "
            f"{most // 1_000_000} million cells; copy the cells you need into a new workbook"
        )


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters.upper():
        number = 26 * number + letter - 64
    return number


def _unpacked(data: bytes, part: zipfile.ZipInfo, name: str) -> bytes:
    """What a part really holds: an archive can say less than it unpacks to."""
    if part.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) or part.flag_bits & 1:
        raise InputFileError(f"{name}: is packed in a way no .xlsx is; save it as a new .xlsx")
    at = part.header_offset + _HEADER
    start = at + sum(struct.unpack("<HH", data[at - 4 : at]))
    raw = data[start : start + part.compress_size]
    if part.compress_type == zipfile.ZIP_DEFLATED:
        raw = zlib.decompressobj(-zlib.MAX_WBITS).decompress(raw, part.file_size + 1)
    if len(raw) != part.file_size:
        raise InputFileError(f"{name}: a part unpacks to another size than it says; save it anew")
    return raw
