"""Study files on disk: read with limits and clear errors, written by a temporary name."""

from __future__ import annotations

import os
import tempfile
from importlib.resources import files
from pathlib import Path

from cakewright.errors import InputFileError, OutputError
from cakewright.study import Study, parse_study

__all__ = ["DEMOS", "demo_text", "read_study", "read_text", "write_new_file"]

DEMOS = ("soy", "valley", "reservoir")
MAX_BYTES = 2_000_000


def read_text(path: Path, max_bytes: int = MAX_BYTES) -> str:
    """Text of a UTF-8 file.

    Raises
    ------
    InputFileError
        If it is missing, a folder, larger than ``max_bytes``, binary, or not UTF-8.
    """
    if not path.exists():
        raise InputFileError(f"{path}: no such file; check the name, or start with `new`")
    if path.is_dir():
        raise InputFileError(f"{path}: is a folder; name the study file inside it")
    size = path.stat().st_size
    if size > max_bytes:
        raise InputFileError(
            f"{path}: {size} bytes; at most {max_bytes} are read. Logs and readings go in files "
            "of their own"
        )
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputFileError(f"{path}: cannot be read ({error.strerror})") from None
    if b"\0" in data:
        raise InputFileError(f"{path}: is a binary file; a study is TOML text")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputFileError(
            f"{path}: line {line} is not UTF-8; save the file as UTF-8 text"
        ) from None


def read_study(path: Path) -> Study:
    """Study of a file.

    Raises
    ------
    InputFileError
        If the file cannot be read as text.
    StudyError
        With every fault of the study.
    """
    return parse_study(read_text(path), path.name)


def demo_text(name: str) -> str:
    """Text of a demonstration study that ships with the package.

    Raises
    ------
    InputFileError
        If there is no such demonstration.
    """
    if name not in DEMOS:
        raise InputFileError(f"no demonstration {name!r}; there are {', '.join(DEMOS)}")
    demo = files("cakewright.study").joinpath("demos", f"{name}.toml")
    return demo.read_text(encoding="utf-8")


def write_new_file(path: Path, text: str, *, replace: bool = False) -> None:
    """Write a text file whole or not at all.

    Raises
    ------
    OutputError
        If the file exists and ``replace`` is False, or the place cannot be written.
    """
    if path.exists() and not replace:
        raise OutputError(f"{path}: exists; choose another name")
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).replace(path)
    except OSError as error:
        raise OutputError(f"{path}: cannot be written ({error.strerror})") from None
