"""Uploaded workbooks are looked over before they are unpacked."""

from __future__ import annotations

import io
import struct
import zipfile

import pytest
import xlsxwriter

from cakewright.errors import InputFileError
from cakewright.storage.workbooks import check_workbook


def _zip(parts: dict[str, bytes], packing: int = zipfile.ZIP_DEFLATED) -> bytes:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", packing) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return data.getvalue()


def _lying(packed_size: int) -> bytes:
    """A part of two million bytes that says it holds ten."""
    data = _zip({"[Content_Types].xml": b"", "xl/sheet.xml": b"\0" * 2_000_000})
    true, told = struct.pack("<I", 2_000_000), struct.pack("<I", packed_size)
    return data.replace(true, told)


def test_a_workbook_passes() -> None:
    """An ordinary workbook is let through."""
    data = io.BytesIO()
    with xlsxwriter.Workbook(data) as book:
        book.add_worksheet().write(0, 0, "test")
    check_workbook(data.getvalue(), "a.xlsx")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"not a zip", "is not a workbook"),
        (_zip({"a.txt": b"x"}), "not a workbook"),
        (_zip({"[Content_Types].xml": b"", "bomb.xml": b"\0" * 70_000_000}), "unpacks to 70 MB"),
        (_zip({"[Content_Types].xml": b"", **{f"{i}.bin": b"" for i in range(500)}}), "501 parts"),
        (
            _zip({"[Content_Types].xml": b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "c">]>'}),
            "entities",
        ),
        (
            _zip({"[Content_Types].xml": b"<!--" + b"x" * 20_000 + b"--><!DOCTYPE a>"}),
            "entities",
        ),
        (_zip({"[Content_Types].xml": "<!DOCTYPE a>".encode("utf-16")}), "entities"),
        (_lying(10), "another size than it says"),
        (_zip({"[Content_Types].xml": b""}, zipfile.ZIP_LZMA), "packed in a way no .xlsx is"),
    ],
)
def test_hostile_files_are_refused_in_words(data: bytes, words: str) -> None:
    """What is no workbook, unpacks to far too much or carries entities is refused."""
    with pytest.raises(InputFileError, match=words):
        check_workbook(data, "a.xlsx")
