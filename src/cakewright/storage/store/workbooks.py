"""Uploaded workbooks: looked over before anything unpacks them."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib

from cakewright.errors import InputFileError

__all__ = ["check_workbook"]

_MOST_PARTS = 400
_MOST_UNPACKED = 60_000_000
_MOST_RATIO = 200
_HEADER = 30


def check_workbook(data: bytes, name: str) -> None:
    """Refuse what is no workbook, unpacks to far too much, or carries entities.

    Raises
    ------
    InputFileError
        Says what is wrong with it.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            _check_parts(book, name, data)
    except (zipfile.BadZipFile, zlib.error, struct.error, ValueError, NotImplementedError) as error:
        raise InputFileError(
            f"{name}: is not a workbook ({error}); save it as .xlsx, or paste the cells"
        ) from None


def _check_parts(book: zipfile.ZipFile, name: str, data: bytes) -> None:
    parts, packed = book.infolist(), len(data)
    unpacked = sum(part.file_size for part in parts)
    if len(parts) > _MOST_PARTS or unpacked > _MOST_UNPACKED or unpacked > _MOST_RATIO * packed:
        raise InputFileError(
            f"{name}: unpacks to {unpacked // 1_000_000} MB in {len(parts)} parts; allowed: "
            f"{_MOST_UNPACKED // 1_000_000} MB; copy the cells you need into a new workbook"
        )
    if "[Content_Types].xml" not in book.namelist():
        raise InputFileError(f"{name}: is an archive but not a workbook; save it as .xlsx")
    for part in parts:
        content = _unpacked(data, part, name)
        if part.filename.endswith((".xml", ".rels")):
            plain = content.replace(b"\0", b"").lower()
            if b"<!doctype" in plain or b"<!entity" in plain:
                raise InputFileError(f"{name}: carries XML entities; save it again as a new .xlsx")


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
