"""The sender's look: what it gives the documents, and every file that cannot be taken."""

from __future__ import annotations

import struct
import zlib
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader
from tests.unit.reports.findings_sample import sample_findings

from cakewright.errors import DataError
from cakewright.reports.html import write_html
from cakewright.reports.pdf import render_pdf
from cakewright.storage.house_style import read_house_style


def png() -> bytes:
    """One dark pixel."""
    parts = [b"\x89PNG\r\n\x1a\n"]
    for kind, data in (
        (b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 2, 0, 0, 0)),
        (b"IDAT", zlib.compress(b"\0\x10\x20\x30")),
        (b"IEND", b""),
    ):
        parts += [
            struct.pack(">I", len(data)),
            kind,
            data,
            struct.pack(">I", zlib.crc32(kind + data)),
        ]
    return b"".join(parts)


def _file(folder: Path, text: str, logo: bytes | None = None) -> Path:
    if logo is not None:
        (folder / "logo.png").write_bytes(logo)
    (folder / "house.toml").write_text(text, encoding="utf-8")
    return folder / "house.toml"


def test_the_senders_look_reaches_page_and_pdf(tmp_path: Path) -> None:
    """Name, address, colour and logo; the paper; without a file ours."""
    text = 'name = "An office (invented)"\naddress = "1 Some Street"\ncolour = "#1f4e79"\n'
    path = _file(tmp_path, f'{text}paper = "letter"\nlogo = "logo.png"\n', png())
    found = replace(sample_findings(), house=read_house_style(path))
    page = write_html(found)
    for words in ("An office (invented)", "1 Some Street", "--accent:#1f4e79", "data:image/png"):
        assert words in page
        assert words not in write_html(sample_findings())
    made = render_pdf(found)
    assert made != render_pdf(sample_findings())
    width, height = PdfReader(BytesIO(made)).pages[0].mediabox[2:]
    assert (round(width), round(height)) == (612, 792)


@pytest.mark.parametrize(
    ("text", "logo", "told"),
    [
        ('colour = "#ffee88"', None, "contrast"),
        ('colour = "blue"', None, "#rrggbb"),
        ('paper = "a5"', None, "a4, letter"),
        ('font = "x"', None, "unknown key"),
        (f'name = "{"x" * 200}"', None, "up to 120"),
        ('logo = "logo.png"', b"GIF89a", "PNG"),
        ('logo = "logo.png"', png()[:-3], "PNG"),
        ('logo = "logo.png"', png() + b"x" * 100_001, "bytes"),
        ('logo = "../x.png"', None, "beside"),
        ("name = ", None, "TOML"),
    ],
)
def test_a_file_that_cannot_be_taken(
    tmp_path: Path, text: str, logo: bytes | None, told: str
) -> None:
    """Each is named, with what is allowed."""
    with pytest.raises(DataError, match=told):
        read_house_style(_file(tmp_path, text, logo))
