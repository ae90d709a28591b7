"""Study files on disk: read with limits and clear errors, written by a temporary name."""

from __future__ import annotations

import os
import tempfile
from importlib.resources import files
from pathlib import Path

from cakewright.errors import InputFileError, OutputError
from cakewright.storage.texts import read_text
from cakewright.study import Study, parse_study

__all__ = ["DEMOS", "demo_text", "read_study", "write_new_file"]

DEMOS = ("soy", "valley", "reservoir")


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
