"""Operating logs of one study kept in a folder: the files as they came, their maps, the site."""

from __future__ import annotations

import hashlib
import json
import re
import secrets
import shutil
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from cakewright.errors import InputFileError, UnknownNameError
from cakewright.running.proposing import Proposal
from cakewright.storage.file_names import is_file_name
from cakewright.storage.logs.column_map import (
    Column,
    ColumnMap,
    Grain,
    read_column_map,
    write_column_map,
)
from cakewright.storage.logs.looking import LogLook

__all__ = ["KeptLog", "KeptLogs", "swap"]

_MOST_FILES, _MOST_BYTES = 40, 1024**3
_LOG = re.compile(r"(\d{3})-([A-Za-z0-9][A-Za-z0-9._-]*)$")
_OLD_SECONDS = 3600.0
_BESIDE = (".look.json", ".map.toml", ".part")
KINDS = (".csv", ".tsv", ".txt", ".xlsx", ".parquet", ".pq", ".jsonl", ".ndjson")


@dataclass(frozen=True, slots=True)
class KeptLog:
    """One log: its number, name, size, what was seen in it, and its map once that is settled."""

    number: int
    name: str
    path: Path
    size: int
    look: LogLook | None
    column_map: ColumnMap | None


class KeptLogs:
    """The folder of one study's logs."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    @property
    def store(self) -> Path:
        """Where the clean readings lie."""
        return self.folder / "store"

    def logs(self) -> tuple[KeptLog, ...]:
        """Every log, the first given first."""
        return tuple(self._log(path) for path in self._paths())

    def log(self, number: int) -> KeptLog:
        """One log.

        Raises
        ------
        UnknownNameError
            If there is none of that number.
        """
        for path in self._paths():
            if path.name.startswith(f"{number:03d}-"):
                return self._log(path)
        raise UnknownNameError(f"there is no log number {number} beside this study")

    def place_for(self, name: str) -> Path:
        """Where a log of this name is written until it was looked at; it counts only then.

        Raises
        ------
        InputFileError
            If it is of no kind that is read, or there are too many already.
        """
        kind = Path(name).suffix.lower()
        if kind not in KINDS:
            kinds = ", ".join(KINDS)
            raise InputFileError(f"{name[:80]}: logs are read from {kinds}; save it as one of them")
        paths = self._paths()
        if len(paths) >= _MOST_FILES or sum(p.stat().st_size for p in paths) > _MOST_BYTES:
            raise InputFileError(
                f"there are {len(paths)} logs already; at most {_MOST_FILES} and "
                f"{_MOST_BYTES // 1024**2} MB are kept beside a study; take old ones out"
            )
        stem = re.sub(r"[^A-Za-z0-9_-]+", "-", Path(name).stem).strip("-_")[:60] or "log"
        if not is_file_name(f"{stem}{kind}"):
            stem = f"log-{stem}"
        incoming = self.folder / "incoming" / secrets.token_hex(8)
        incoming.mkdir(parents=True, exist_ok=True)
        return incoming / f"{stem}{kind}"

    def take_in(self, path: Path, look: LogLook) -> int:
        """Count a log that was looked at among the others; gives its number."""
        number = max((int(p.name[:3]) for p in self._paths()), default=0) + 1
        target = self.folder / f"{number:03d}-{path.name}"
        swap(self._beside(target, ".look.json"), json.dumps(asdict(look)))
        path.replace(target)
        self.turn_away(path)
        return number

    def turn_away(self, path: Path) -> None:
        """Forget a log that was not taken, and what a server that was killed left half done."""
        shutil.rmtree(path.parent, ignore_errors=True)
        for old in path.parent.parent.glob("*"):
            if time.time() - old.stat().st_mtime > _OLD_SECONDS:
                shutil.rmtree(old, ignore_errors=True)

    def take_out(self, number: int) -> None:
        """Take a log away with all that was kept of it."""
        path = self.log(number).path
        for each in (path, *(self._beside(path, end) for end in _BESIDE)):
            each.unlink(missing_ok=True)

    def keep_map(self, number: int, column_map: ColumnMap) -> None:
        """Keep the map of a log.

        Raises
        ------
        DataError
            With every fault of the map; the one kept before stays.
        """
        target = self._beside(self.log(number).path, ".map.toml")
        trial = target.with_name(f"{target.name}.trial.toml")
        try:
            write_column_map(column_map, trial)
            read_column_map(trial)
            trial.replace(target)
        finally:
            trial.unlink(missing_ok=True)

    @property
    def site_text(self) -> str:
        """What the site's own file says; empty when it was never changed."""
        path = self.folder / "site.toml"
        return path.read_text(encoding="utf-8") if path.is_file() else ""

    def keep_site(self, text: str) -> None:
        """Keep a site file; an empty text goes back to what the study says."""
        self.folder.mkdir(parents=True, exist_ok=True)
        if text.strip():
            swap(self.folder / "site.toml", text)
        else:
            (self.folder / "site.toml").unlink(missing_ok=True)

    def remove(self) -> None:
        """Everything away."""
        shutil.rmtree(self.folder, ignore_errors=True)

    def mark(self, site: str) -> str:
        """Changes whenever a log, a map or the site does."""
        mixed = hashlib.sha256(site.encode("utf-8"))
        for path in self._paths():
            about = path.stat()
            mixed.update(f"{path.name} {about.st_size} {about.st_mtime_ns}".encode())
            beside = self._beside(path, ".map.toml")
            mixed.update(beside.read_bytes() if beside.is_file() else b"none")
        return mixed.hexdigest()

    def rebuilt(self, load: Callable[[Path], Any], mark: str) -> Any:
        """What ``load`` makes of a new store, which stands in place of the old one once it is
        whole; of the old one where nothing changed."""
        note = self.store / "mark.txt"
        if note.is_file() and note.read_text(encoding="utf-8") == mark:
            return load(self.store)
        fresh = self.folder / "store.new"
        shutil.rmtree(fresh, ignore_errors=True)
        found = load(fresh)
        (fresh / "mark.txt").write_text(mark, encoding="utf-8")
        shutil.rmtree(self.store, ignore_errors=True)
        fresh.replace(self.store)
        return found

    def _paths(self) -> list[Path]:
        if not self.folder.is_dir():
            return []
        ours = (p for p in self.folder.iterdir() if p.is_file() and _LOG.match(p.name))
        return sorted(p for p in ours if p.suffix in KINDS and not p.name.endswith(_BESIDE))

    @staticmethod
    def _beside(path: Path, end: str) -> Path:
        return path.with_name(path.name + end)

    def _log(self, path: Path) -> KeptLog:
        match = _LOG.match(path.name)
        look, settled = self._beside(path, ".look.json"), self._beside(path, ".map.toml")
        return KeptLog(
            int(path.name[:3]),
            match.group(2) if match else path.name,
            path,
            path.stat().st_size,
            _look(look) if look.is_file() else None,
            read_column_map(settled) if settled.is_file() else None,
        )


def _look(path: Path) -> LogLook:
    told = json.loads(path.read_text(encoding="utf-8"))
    draft = told["draft"]
    columns = {
        key: Column(**{**column, "on": tuple(column.get("on", ()))})
        for key, column in draft.pop("columns").items()
    }
    grain = Grain(draft.pop("grain"))
    times, forms, none = (
        tuple(draft.pop(key)) for key in ("time_titles", "time_formats", "missing")
    )
    column_map = ColumnMap(
        time_titles=times, time_formats=forms, missing=none, columns=columns, grain=grain, **draft
    )
    proposals = tuple(Proposal(**one) for one in told.get("proposals", ()))
    cells = tuple(tuple(c) for c in told["cells"])
    return LogLook(
        tuple(told["titles"]), cells, column_map, proposals, tuple(told.get("notes", ()))
    )


def swap(path: Path, text: str) -> None:
    """A whole new text in place of the old one, at once."""
    partial = path.with_name(f"{path.name}.part")
    partial.write_text(text, encoding="utf-8")
    partial.replace(path)
