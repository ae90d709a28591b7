"""Text files of people, read whole."""

from __future__ import annotations

from pathlib import Path

from cakewright.errors import InputFileError

__all__ = ["read_user_text"]


def read_user_text(path: Path, what: str) -> str:
    """The text of a file that should be ``what``.

    Raises
    ------
    InputFileError
        If the file cannot be read.
    """
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InputFileError(f"{path}: cannot be read as {what} ({error})") from None
