"""The small file that gives documents the look of their sender -> `HouseStyle`."""

from __future__ import annotations

import base64
import re
import zlib
from pathlib import Path
from typing import Any

from cakewright.errors import DataError, Fault, foreign
from cakewright.jobs.findings import HouseStyle
from cakewright.quantities.toml_text import parse_toml_of
from cakewright.storage.texts import read_text

__all__ = ["read_house_style"]

_KEYS = ("name", "address", "colour", "paper", "logo")
_PAPERS = ("a4", "letter")
_MOST_LOGO = 100_000
_MOST_TEXT = 120
_PNG = b"\x89PNG\r\n\x1a\n"
# The least contrast with white of what is read at the size of a heading (WCAG 2.2, 1.4.3).
_CONTRAST = 3.0


@foreign("a house style")
def read_house_style(path: Path) -> HouseStyle:
    """Name, address, colour, paper and logo of the sender, or every fault of the file at once.

    Raises
    ------
    DataError
        If a key is unknown, a text too long, the colour too pale to read, or the logo no PNG or
        too large.
    InputFileError
        If the file cannot be read.
    """
    table = parse_toml_of(read_text(path), path.name, 'write name = "..."')
    faults: list[Fault] = []
    for key in table:
        if key not in _KEYS:
            faults.append(Fault(key, "unknown key", ", ".join(_KEYS), "drop it"))
    texts = {key: _text(table, key, faults) for key in ("name", "address", "logo")}
    colour, paper = _colour(table, faults), str(table.get("paper", ""))
    if paper and paper not in _PAPERS:
        faults.append(Fault("paper", repr(paper)[:40], ", ".join(_PAPERS), 'write paper = "a4"'))
    logo = _logo(path.resolve().parent, texts["logo"], faults) if texts["logo"] else ""
    if faults:
        raise DataError(path.name, faults)
    return HouseStyle(texts["name"], texts["address"], colour, paper, logo)


def _text(table: dict[str, Any], key: str, faults: list[Fault]) -> str:
    value = table.get(key, "")
    if not isinstance(value, str) or len(value) > _MOST_TEXT or not value.isprintable():
        allowed = f"one line of up to {_MOST_TEXT} signs"
        faults.append(Fault(key, repr(value)[:40], allowed, f'write {key} = "..."'))
        return ""
    return value


def _colour(table: dict[str, Any], faults: list[Fault]) -> str:
    value = table.get("colour", "")
    if value == "":
        return ""
    if not isinstance(value, str) or not re.fullmatch(r"#[0-9a-fA-F]{6}", value):
        faults.append(Fault("colour", repr(value)[:40], "#rrggbb", 'write colour = "#1f4e79"'))
        return ""
    contrast = 1.05 / (_luminance(value) + 0.05)
    if contrast < _CONTRAST:
        got = f"{value}, contrast with white {contrast:.1f}"
        faults.append(Fault("colour", got, f"a contrast of {_CONTRAST:g} or more", "darken it"))
    return value.lower()


def _luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2)."""
    parts = [int(colour[at : at + 2], 16) / 255.0 for at in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _logo(folder: Path, name: str, faults: list[Fault]) -> str:
    path = (folder / name).resolve()
    if not path.is_relative_to(folder) or not path.is_file():
        faults.append(Fault("logo", repr(name), "a PNG beside the file", "put it there"))
        return ""
    if path.stat().st_size > _MOST_LOGO:
        got = f"{path.stat().st_size} bytes"
        faults.append(Fault("logo", got, f"up to {_MOST_LOGO} bytes", "save it smaller"))
        return ""
    data = path.read_bytes()
    if not _is_png(data):
        faults.append(Fault("logo", "no PNG image, or a damaged one", "a PNG", "save it as PNG"))
        return ""
    return base64.b64encode(data).decode("ascii")


def _is_png(data: bytes) -> bool:
    """Whether every chunk of a PNG is whole, from its head to its end."""
    if not data.startswith(_PNG):
        return False
    at, kinds = len(_PNG), []
    while at + 12 <= len(data):
        size = int.from_bytes(data[at : at + 4])
        body, check = data[at + 4 : at + 8 + size], data[at + 8 + size : at + 12 + size]
        if len(check) < 4 or zlib.crc32(body) != int.from_bytes(check):
            return False
        kinds.append(body[:4])
        at += 12 + size
    return kinds[:1] == [b"IHDR"] and kinds[-1:] == [b"IEND"] and b"IDAT" in kinds
