"""Text in any mixture of encodings -> one UTF-8 file, with the lines that had to be turned."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass
from pathlib import Path

from cakewright.errors import InputFileError

__all__ = ["TextFile", "as_utf8"]

_CHUNK = 1 << 22


@dataclass(frozen=True, slots=True)
class TextFile:
    """A file that can be read as UTF-8; ``turned`` are line numbers read in another encoding.

    ``cut`` is True when the last line has no line end: the file may have been cut off.
    """

    path: Path
    turned: tuple[int, ...] = ()
    encoding: str = "utf-8"
    cut: bool = False


def _is_utf8(path: Path) -> bool:
    decoder = codecs.getincrementaldecoder("utf-8")()
    with path.open("rb") as file:
        while chunk := file.read(_CHUNK):
            try:
                decoder.decode(chunk)
            except UnicodeDecodeError:
                return False
    return True


def _ends_in_line(path: Path) -> bool:
    with path.open("rb") as file:
        file.seek(0, 2)
        if not file.tell():
            return True
        file.seek(-1, 2)
        return file.read(1) in (b"\n", b"\r")


def _runs(raw: bytes) -> tuple[int, int]:
    """Runs of bytes beyond ASCII, and those among them longer than one byte."""
    runs = re.findall(rb"[\x80-\xff]+", raw)
    return len(runs), sum(len(run) > 1 for run in runs)


def _decodes(path: Path, name: str) -> bool:
    decoder = codecs.getincrementaldecoder(name)()
    with path.open("rb") as file:
        while chunk := file.read(_CHUNK):
            try:
                decoder.decode(chunk)
            except UnicodeDecodeError:
                return False
    return True


def _whole_encoding(path: Path) -> str:
    """One encoding for a file that is not UTF-8, or none where lines differ.

    Letters with accents stand alone among plain ones; Japanese comes in runs of two-byte signs.
    """
    with path.open("rb") as file:
        head = file.read(_CHUNK)
    runs, long = _runs(head)
    if runs and long > 0.4 * runs:
        for name in ("cp932", "euc_jp"):
            if _decodes(path, name):
                return name
    if any(mark in head for mark in _DOS) and not any(mark in head for mark in _WINDOWS):
        return "cp850"
    return ""


# Letters of German, French and Spanish as DOS wrote them, and as Windows writes them.
_DOS = (b"\x81", b"\x8e", b"\x94", b"\x9a", b"\xe1", b"\x82")
_WINDOWS = (b"\xe4", b"\xf6", b"\xfc", b"\xdf", b"\xe9", b"\xe8", b"\xb3", b"\xb0", b"\xb5")


def _turn_whole(path: Path, scratch: Path, name: str) -> None:
    with (
        path.open(encoding=name, errors="replace", newline="") as source,
        scratch.open("w", encoding="utf-8", newline="") as target,
    ):
        while text := source.read(_CHUNK):
            target.write(text)


def _turn_lines(path: Path, scratch: Path) -> tuple[int, ...]:
    """Line by line: UTF-8 where it is UTF-8, Windows-1252 where it is not."""
    turned = []
    with path.open("rb") as source, scratch.open("w", encoding="utf-8", newline="") as target:
        for number, line in enumerate(source, start=1):
            try:
                target.write(line.decode("utf-8"))
            except UnicodeDecodeError:
                turned.append(number)
                target.write(line.decode("cp1252", errors="replace"))
    return tuple(turned)


def as_utf8(path: Path, scratch: Path, encoding: str = "") -> TextFile:
    """The file itself when it is UTF-8, else a turned copy at ``scratch``.

    ``encoding`` is what the column map says; empty: found from the bytes.

    Raises
    ------
    InputFileError
        If the file is missing, empty or holds binary data.
    """
    try:
        with path.open("rb") as file:
            head = file.read(4096)
    except OSError as error:
        raise InputFileError(f"{path}: cannot be read ({error.strerror})") from None
    if not head:
        raise InputFileError(f"{path}: the file is empty; nothing to read")
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        _turn_whole(path, scratch, "utf-16")
        return TextFile(scratch, encoding="utf-16", cut=not _ends_in_line(scratch))
    if b"\x00" in head:
        raise InputFileError(f"{path}: holds binary data, not text; is it another kind of file?")
    cut = not _ends_in_line(path)
    if not encoding and _is_utf8(path):
        return TextFile(path, cut=cut)
    whole = encoding or _whole_encoding(path)
    if whole:
        _turn_whole(path, scratch, whole)
        return TextFile(scratch, encoding=whole, cut=cut)
    return TextFile(scratch, _turn_lines(path, scratch), "utf-8 and windows-1252 mixed", cut)
