"""Uploaded workbooks: looked over before anything unpacks them."""

from __future__ import annotations

import io
import zipfile

from cakewright.errors import InputFileError

__all__ = ["check_workbook"]

_MOST_PARTS = 400
_MOST_UNPACKED = 60_000_000
_MOST_RATIO = 200
_LOOK = 4096


def check_workbook(data: bytes, name: str) -> None:
    """Refuse what is no workbook, unpacks to far too much, or carries entities.

    Raises
    ------
    InputFileError
        Says what is wrong with it.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            _check_parts(book, name, len(data))
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError) as error:
        raise InputFileError(
            f"{name}: is not a workbook ({error}); save it as .xlsx, or paste the cells"
        ) from None


def _check_parts(book: zipfile.ZipFile, name: str, packed: int) -> None:
    parts = book.infolist()
    unpacked = sum(part.file_size for part in parts)
    if len(parts) > _MOST_PARTS or unpacked > _MOST_UNPACKED or unpacked > _MOST_RATIO * packed:
        raise InputFileError(
            f"{name}: unpacks to {unpacked // 1_000_000} MB in {len(parts)} parts; allowed: "
            f"{_MOST_UNPACKED // 1_000_000} MB; copy the cells you need into a new workbook"
        )
    if "[Content_Types].xml" not in book.namelist():
        raise InputFileError(f"{name}: is an archive but not a workbook; save it as .xlsx")
    for part in parts:
        if part.filename.endswith((".xml", ".rels")):
            with book.open(part) as stream:
                head = stream.read(_LOOK).lower().replace(b"\0", b"")
            if b"<!doctype" in head or b"<!entity" in head:
                raise InputFileError(f"{name}: carries XML entities; save it again as a new .xlsx")
