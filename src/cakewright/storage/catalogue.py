"""Catalogues of frames from files: TOML, CSV or XLSX, one row per frame."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from cakewright.errors import InputFileError, foreign
from cakewright.machines import Frame, parse_catalogue
from cakewright.quantities.toml_text import parse_toml
from cakewright.storage.texts import read_bytes, rows_of
from cakewright.storage.workbooks import workbook_sheets

__all__ = ["LARGEST_FILE", "read_catalogue"]

LARGEST_FILE = 5_000_000
"""Bytes beyond which a file is taken to be something else."""

_KINDS = (".toml", ".csv", ".xlsx")
_MOST_ROWS = 5000


@foreign("a catalogue of frames")
def read_catalogue(path: str | Path) -> tuple[Frame, ...]:
    """Frames of a catalogue file; titles as in `cakewright.machines.catalogue_columns`.

    TOML holds ``[[frame]]`` tables; CSV and XLSX a head row and one row per frame. Empty rows
    and lines that begin with # are skipped.

    Raises
    ------
    InputFileError
        If the file is missing, unreadable, too large, of an unknown kind, or not what its name
        says.
    DataError
        If rows are at fault; carries every fault found.
    """
    file = Path(path)
    kind = file.suffix.lower()
    if kind not in _KINDS:
        raise InputFileError(
            f"{file.name}: got a {kind or 'nameless'} file; allowed: {', '.join(_KINDS)}; "
            "save the catalogue as one of these"
        )
    data = read_bytes(file, LARGEST_FILE, "a catalogue holds some hundred frames", file.name)
    rows = _xlsx(data, file.name) if kind == ".xlsx" else _text_rows(data, kind, file.name)
    return parse_catalogue(rows, file.name)


def _text_rows(data: bytes, kind: str, name: str) -> Iterable[Mapping[str, Any]]:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputFileError(f"{name}: not UTF-8 text; save it again as UTF-8") from None
    if "\0" in text:
        raise InputFileError(f"{name}: a binary file, not text; check that it is the right file")
    return _toml(text, name) if kind == ".toml" else _csv(text, name)


def _toml(text: str, name: str) -> Sequence[Mapping[str, Any]]:
    try:
        content = parse_toml(text)
    except tomllib.TOMLDecodeError as error:
        raise InputFileError(f"{name}: not valid TOML ({error}); check that line") from None
    frames = content.get("frame")
    if not isinstance(frames, list) or not all(isinstance(row, dict) for row in frames):
        raise InputFileError(f"{name}: no [[frame]] tables; write one [[frame]] per size")
    other = sorted(content.keys() - {"frame"})
    if other:
        raise InputFileError(
            f"{name}: {', '.join(other)} outside any [[frame]]; allowed: [[frame]] tables only"
        )
    return frames


def _csv(text: str, name: str) -> Iterable[Mapping[str, Any]]:
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    if not lines:
        raise InputFileError(f"{name}: empty; write a head row and one row per frame")
    # A semicolon head row is what spreadsheets write where the comma is the decimal sign.
    separator = ";" if lines[0].count(";") > lines[0].count(",") else ","
    table = rows_of("\n".join(lines), name, ",;", strict=True)
    return _headed(table, name, comma_decimal=separator == ";")


def _xlsx(data: bytes, name: str) -> Iterable[Mapping[str, Any]]:
    sheets = workbook_sheets(data, name, 1)
    table = sheets[0].rows[:_MOST_ROWS] if sheets else []
    rows = [row for row in table if any(str(cell).strip() for cell in row)]
    rows = [row for row in rows if not str(row[0]).startswith("#")]
    if not rows:
        raise InputFileError(f"{name}: empty; write a head row and one row per frame")
    return _headed(rows, name)


def _headed(
    table: Sequence[Sequence[Any]], name: str, *, comma_decimal: bool = False
) -> list[Mapping[str, Any]]:
    head = [str(cell).strip() for cell in table[0]]
    twice = sorted({title for title in head if title and head.count(title) > 1})
    if twice:
        raise InputFileError(f"{name}: column {', '.join(twice)} occurs twice; keep one of each")
    rows: list[Mapping[str, Any]] = []
    for number, row in enumerate(table[1:], start=2):
        if len(row) > len(head) and any(str(cell).strip() for cell in row[len(head) :]):
            raise InputFileError(
                f"{name}: line {number} has more cells than the head row; check the separators"
            )
        cells = dict(zip(head, row, strict=False))
        rows.append({k: _number_text(v, comma_decimal) for k, v in cells.items() if k})
    return rows


def _number_text(cell: Any, comma_decimal: bool) -> Any:
    if not (comma_decimal and isinstance(cell, str)):
        return cell
    swapped = cell.strip().replace(",", ".")
    return swapped if swapped.replace(".", "", 1).lstrip("-").isdigit() else cell
