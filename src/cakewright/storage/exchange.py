"""Two folders change places in one step of the system, where it has one."""

from __future__ import annotations

import contextlib
import ctypes
import os
import sys
from pathlib import Path

__all__ = ["exchange", "sync_folder"]

_AT_FDCWD, _RENAME_EXCHANGE, _RENAME_SWAP = -100, 2, 2


def exchange(one: Path, other: Path) -> None:
    """Let two paths of one disk change places.

    Linux and macOS do it in one step. Elsewhere, and on disks that cannot, the first is moved aside
    and the second put in its place; a run killed between the two finds the first by its name
    (``.name.token.old``) and brings it back.
    """
    if _at_once(one, other):
        return
    aside = other.with_suffix(".old")
    one.rename(aside)
    try:
        other.rename(one)
    except OSError:
        aside.rename(one)
        raise
    aside.rename(other)


def _at_once(one: Path, other: Path) -> bool:
    names = os.fsencode(one), os.fsencode(other)
    with contextlib.suppress(OSError, AttributeError):
        system = ctypes.CDLL(None, use_errno=True)
        if sys.platform.startswith("linux"):
            call = system.renameat2
            return not call(_AT_FDCWD, names[0], _AT_FDCWD, names[1], _RENAME_EXCHANGE)
        if sys.platform == "darwin":
            return not system.renamex_np(names[0], names[1], _RENAME_SWAP)
    return False


def sync_folder(folder: Path) -> None:
    """What was renamed or made in a folder outlasts a power cut, where the system lets one ask."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
