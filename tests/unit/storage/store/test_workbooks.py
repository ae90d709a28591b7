"""Uploaded workbooks are looked over before they are unpacked."""

from __future__ import annotations

import io
import zipfile

import pytest
import xlsxwriter

from cakewright.errors import InputFileError
from cakewright.storage.store.workbooks import check_workbook


def _zip(parts: dict[str, bytes]) -> bytes:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return data.getvalue()


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
    ],
)
def test_hostile_files_are_refused_in_words(data: bytes, words: str) -> None:
    """What is no workbook, unpacks to far too much or carries entities is refused."""
    with pytest.raises(InputFileError, match=words):
        check_workbook(data, "a.xlsx")
