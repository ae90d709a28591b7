"""The front door for texts of others: bytes, rows and cells within bounds, faults in words."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

from cakewright.errors import InputFileError

__all__ = ["MOST_BYTES", "read_bytes", "read_json", "read_text", "rows_of"]

MOST_BYTES = 2_000_000
_MOST_CELLS, _LONGEST_CELL = 2_000_000, 10_000


def read_bytes(path: Path, most: int, what: str, name: str = "") -> bytes:
    """What a file holds; never more than ``most`` bytes are taken in, whatever the system says.

    ``name`` is what messages call it: a file of the workbench is not told with its folder.

    Raises
    ------
    InputFileError
        If it is missing, a folder, larger, or the system refuses it.
    """
    name = name or str(path)
    if not path.exists():
        raise InputFileError(f"{name}: no such file; check the name and the folder")
    if path.is_dir():
        raise InputFileError(f"{name}: is a folder; name the file inside it")
    try:
        with path.open("rb") as file:
            data = file.read(most + 1)
    except OSError as error:
        raise InputFileError(f"{name}: cannot be read ({error.strerror}); {what}") from None
    if len(data) > most:
        raise InputFileError(f"{name}: larger than {most / 1e6:g} MB; {what}")
    return data


def read_text(
    path: Path, most: int = MOST_BYTES, what: str = "a study is TOML text", also: str = "",
    name: str = "",
) -> str:  # fmt: skip
    """Text of a UTF-8 file; where it is not, of the encoding ``also``.

    Raises
    ------
    InputFileError
        If it cannot be read, is larger than ``most`` bytes, binary, or not UTF-8.
    """
    data, name = read_bytes(path, most, what, name), name or str(path)
    if b"\0" in data:
        raise InputFileError(f"{name}: is a binary file; {what}")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if also:
            return data.decode(also, errors="replace")
        line = data[: error.start].count(b"\n") + 1
        raise InputFileError(
            f"{name}: line {line} is not UTF-8; save the file as UTF-8 text"
        ) from None


def rows_of(text: str, name: str, marks: str = ",;\t", *, strict: bool = False) -> list[list[str]]:
    """Rows of a table in a text, cut at the mark that is most in its title line.

    Raises
    ------
    InputFileError
        If it is no table, or has more or longer cells than any sheet of this program.
    """
    lines = (line for line in io.StringIO(text) if line.strip() and line.lstrip('"')[:1] != "#")
    mark = max(marks, key=next(lines, "").count)
    rows, cells = [], 0
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=strict)
    try:
        for row in reader:
            cells += len(row)
            if cells > _MOST_CELLS or any(len(cell) > _LONGEST_CELL for cell in row):
                raise InputFileError(
                    f"{name}: line {reader.line_num}: allowed: {_MOST_CELLS} cells of up to "
                    f"{_LONGEST_CELL} characters; is a quote left open?"
                )
            rows.append(row)
    except csv.Error as error:
        raise InputFileError(f"{name}: not valid CSV ({error}); check the quotes") from None
    return rows


def read_json(path: Path, most: int = MOST_BYTES) -> Any:
    """What a JSON file says.

    Raises
    ------
    InputFileError
        If it cannot be read, or is not JSON.
    """
    text = read_text(path, most, "this file is JSON text")
    try:
        return json.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputFileError(f"{path}: cannot be read as JSON ({error})") from None
