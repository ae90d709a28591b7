"""Store and forward: readings go to disk first, and leave only when what follows has them."""

from __future__ import annotations

import json
import math
import os
import sys
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from typing import IO

from cakewright.errors import InputFileError
from cakewright.storage.live.reading import Quality, Reading

__all__ = ["Spool"]

Forward = Callable[[Sequence[Path]], None]


class Spool:
    """A folder of JSON-lines files, one a day, that `cakewright watch` can read as a log.

    A row carries one poll: time, a number per signal (null unless good), and the quality of every
    reading that was not good. Files already handed on end in ``.sent`` and are never written
    again: after a clock set back over midnight the day goes on in a file of its own.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)

    def claim(self) -> IO[bytes]:
        """Keep other writers out of the folder as long as the file given back stays open.

        Raises
        ------
        InputFileError
            If another process writes into the folder.
        """
        file = (self.folder / ".writer").open("ab")
        try:
            _lock(file)
        except OSError:
            file.close()
            raise InputFileError(
                f"{self.folder}: another listener writes here already; give each its own --out"
            ) from None
        return file

    def _file(self, moment: datetime) -> Path:
        names = (f"{moment:%Y-%m-%d}{'' if n == 1 else f'-{n}'}.jsonl" for n in count(1))
        places = (self.folder / name for name in names)
        return next(p for p in places if not p.with_suffix(".sent").exists())

    def store(self, readings: Sequence[Reading], time: float) -> Path:
        """Write one poll and wait until it is on the disk; half a line of an earlier crash is cut.

        A reading that is not good keeps its quality and reason; its number is not used.
        """
        moment = datetime.fromtimestamp(time, UTC)
        row: dict[str, object] = {"time": moment.isoformat(timespec="milliseconds")}
        row |= {r.key: r.value if _usable(r) else None for r in readings}
        poor = {r.key: f"{r.quality}: {r.why}" for r in readings if r.quality is not Quality.GOOD}
        if poor:
            row["quality"] = poor
        path = self._file(moment)
        _mend(path)
        with path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(row, allow_nan=False) + "\n")
            file.flush()
            os.fsync(file.fileno())
        return path

    def waiting(self) -> tuple[Path, ...]:
        """Files not yet handed on, oldest first."""
        return tuple(sorted(self.folder.glob("*.jsonl")))

    def drain(self, forward: Forward, today: datetime) -> int:
        """Hand finished days on; they stay if that fails. Number of files handed on."""
        ready = [path for path in self.waiting() if path != self._file(today)]
        if not ready:
            return 0
        forward(ready)
        for path in ready:
            os.rename(path, _free(path.with_suffix(".sent")))
        return len(ready)


def _free(place: Path) -> Path:
    """This place, or the next beside it that nothing lies at."""
    places = (place.with_stem(f"{place.stem}-{n}") if n > 1 else place for n in count(1))
    return next(p for p in places if not p.exists())


def _lock(file: IO[bytes]) -> None:
    """Hold a file against other processes until it is closed; raises OSError if one has it."""
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


def _usable(reading: Reading) -> bool:
    return (
        reading.quality is Quality.GOOD
        and reading.value is not None
        and math.isfinite(reading.value)
    )


def _mend(path: Path) -> None:
    """Cut a last line that was never finished."""
    if not path.is_file() or path.stat().st_size == 0:
        return
    with path.open("r+b") as file:
        file.seek(-1, os.SEEK_END)
        if file.read(1) == b"\n":
            return
        file.seek(0)
        whole = file.read()
        file.truncate(whole.rfind(b"\n") + 1)
