"""One program at a time on one folder: a lock of the system that ends with the program."""

from __future__ import annotations

import hashlib
import os
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from cakewright.errors import OutputError

__all__ = ["alone_on"]


@contextmanager
def alone_on(place: Path, patience: float = 120.0) -> Iterator[None]:
    """Wait until no other program of this machine writes there; let go when done, or killed.

    Raises
    ------
    OutputError
        If another one holds it for longer than ``patience`` seconds.
    """
    key = hashlib.sha256(os.path.normcase(str(place.resolve())).encode("utf-8")).hexdigest()[:24]
    user = os.getuid() if hasattr(os, "getuid") else 0
    folder = Path(tempfile.gettempdir()) / f"cakewright-turns-{user}"
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        file = (folder / key).open("a+b")
    except OSError:
        # No place for locks (a read-only machine): better without a turn than without results.
        yield
        return
    with file:
        _wait(file, place, patience)
        yield


def _wait(file: IO[bytes], place: Path, patience: float) -> None:
    until = time.monotonic() + patience
    while not _taken(file):
        if time.monotonic() > until:
            raise OutputError(f"{place}: another run writes there; wait for it, or use a folder")
        time.sleep(0.05)


def _taken(file: IO[bytes]) -> bool:
    try:
        if os.name == "nt":
            import msvcrt

            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        else:
            import fcntl

            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
