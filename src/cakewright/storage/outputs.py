"""Write a set of results into a folder: all of them or none, and never over half a result.

The set is written beside the folder and synced; then the two folders change places in one step, so
that whoever looks, also after a power cut, sees the old set or the new one. Whatever else lies in
the folder (a log store, results kept by a portfolio) comes along as the same files. Where a folder
cannot be exchanged (it is the working folder, it holds links or other disks), each file is put in
place by a rename, and put back if one fails. Two runs into one folder take turns, also with what is
written into the folders inside it.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import secrets
import shutil
from collections.abc import Iterable, Mapping
from contextlib import ExitStack
from pathlib import Path

from cakewright.errors import OutputError
from cakewright.storage.exchange import exchange, sync_folder
from cakewright.storage.file_names import is_file_name
from cakewright.storage.turns import alone_on

__all__ = ["SET_FILE", "faults_of_set", "write_outputs"]

SET_FILE = ".cakewright-set.json"
"""Names and hashes of the last set, so that a set can be told from files of others."""

_PARTIAL, _PREVIOUS = ".partial", ".previous"
_MOST_ALONG, _LARGEST_COPY = 20_000, 100_000_000
_LEFTOVER = re.compile(r"^\.(?P<name>.+)\.(?P<token>[0-9a-f]{8})\.(?P<kind>partial|previous)$")


def write_outputs(folder: Path | str, outputs: Mapping[str, str | bytes]) -> list[Path]:
    """Write all results into ``folder``, made if it is not there; their paths in order.

    Raises
    ------
    OutputError
        If a name is no plain file name, or anything cannot be written; earlier results stand.
    """
    place = Path(folder)
    _check_names(outputs)
    data = {name: x.encode("utf-8") if isinstance(x, str) else x for name, x in outputs.items()}
    hashes = {name: hashlib.sha256(x).hexdigest() for name, x in data.items()}
    with alone_on(place):
        _restore(place)
        made = _make_folder(place)
        try:
            _tidy(place)
            older = _last_set(place)
            listed = dict(data)
            if older or len(data) > 1:
                listed[SET_FILE] = json.dumps({**older, **hashes}, indent=0).encode("utf-8")
            # One file is a set by itself, and needs no folder to change places.
            if len(listed) == 1 or not _by_exchange(place, listed):
                _by_renames(place, listed)
        except OSError as error:
            _unmake(made)
            raise OutputError(_words(place, error)) from error
    return [place / name for name in outputs]


def faults_of_set(folder: Path) -> list[str]:
    """Names of results that are missing or changed since they were written."""
    bad = []
    for name, wanted in _last_set(folder).items():
        try:
            found = hashlib.sha256((folder / name).read_bytes()).hexdigest()
        except OSError:
            found = ""
        if found != wanted:
            bad.append(name)
    return bad


def _last_set(place: Path) -> dict[str, str]:
    try:
        told = json.loads((place / SET_FILE).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return {str(k): str(v) for k, v in told.items()} if isinstance(told, dict) else {}


def _by_exchange(place: Path, data: Mapping[str, bytes]) -> bool:
    """Whether a new folder with the set and all else has taken the old one's place."""
    here = place.resolve()
    if here == Path.cwd() or here in Path.cwd().parents or place.is_symlink() or here.is_mount():
        return False
    others = [entry for entry in here.iterdir() if entry.name not in data]
    if any(entry.is_dir() for entry in here.iterdir() if entry.name in data):
        return False
    new = here.with_name(f".{here.name}.{secrets.token_hex(4)}.new")
    with ExitStack() as turns:
        for entry in others:
            if entry.is_dir() and not entry.is_symlink():
                turns.enter_context(alone_on(entry))
        try:
            new.mkdir()
            shutil.copymode(here, new)
            for name, content in data.items():
                _write(new / name, content)
            if not _come_along(others, new, _MOST_ALONG):
                shutil.rmtree(new, ignore_errors=True)
                return False
            sync_folder(new)
            exchange(here, new)
        except OSError:
            shutil.rmtree(new, ignore_errors=True)
            raise
    sync_folder(here.parent)
    shutil.rmtree(new, ignore_errors=True)
    return True


def _come_along(entries: Iterable[Path], new: Path, most: int) -> int:
    """Bring files and folders of others into the new folder; how many more could have come.

    0 where one cannot: a link, another disk, more than ``most``, a file in a folder that this disk
    cannot hold under two names.
    """
    for entry in entries:
        most -= 1
        if most <= 0 or entry.is_symlink() or entry.is_mount():
            return 0
        target = new / entry.name
        if entry.is_dir():
            target.mkdir()
            shutil.copymode(entry, target)
            most = _come_along(entry.iterdir(), target, most)
            if not most:
                return 0
            sync_folder(target)
            continue
        try:
            os.link(entry, target)
        except OSError:
            if not entry.is_file() or entry.stat().st_size > _LARGEST_COPY:
                return 0
            shutil.copy2(entry, target)
    return most


def _by_renames(place: Path, data: Mapping[str, bytes]) -> None:
    token = secrets.token_hex(4)
    try:
        for name, content in data.items():
            _write(_beside(place, name, token, _PARTIAL), content)
        if len(data) == 1 and not (place / name).is_dir():
            _beside(place, name, token, _PARTIAL).replace(place / name)
        else:
            _put_in_place(place, list(data), token)
        sync_folder(place)
    except OSError:
        _remove(_beside(place, name, token, _PARTIAL) for name in data)
        raise


def _restore(place: Path) -> None:
    """Bring back a folder that a killed run had moved aside, and clear what it left beside."""
    here = place.resolve()
    pattern = re.compile(rf"^\.{re.escape(here.name)}\.[0-9a-f]{{8}}\.(?P<kind>new|old)$")
    with contextlib.suppress(OSError):
        for path in sorted(here.parent.iterdir()):
            found = pattern.match(path.name)
            if found and found["kind"] == "old" and not here.exists():
                path.rename(here)
            elif found and path.is_dir():
                shutil.rmtree(path, ignore_errors=True)


def _check_names(outputs: Mapping[str, str | bytes]) -> None:
    for name in outputs:
        if not is_file_name(name):
            raise OutputError(f"{name!r} is not a file name; use letters, digits, dots and dashes")


def _make_folder(place: Path) -> list[Path]:
    """Make the folder and its parents; the ones that were not there, deepest first."""
    missing = [path for path in (place, *place.parents) if not path.exists()]
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(_words(place, error)) from error
    return missing


def _unmake(made: list[Path]) -> None:
    for path in made:
        try:
            path.rmdir()
        except OSError:
            return


def _words(place: Path, error: OSError) -> str:
    reason = error.strerror or str(error)
    where = error.filename or place
    return (
        f"cannot write results to {place}: {reason} ({where}); nothing there was changed. "
        "Try another folder, or close the file if a program has it open"
    )


def _beside(place: Path, name: str, token: str, ending: str) -> Path:
    return place / f".{name}.{token}{ending}"


def _write(path: Path, data: bytes) -> None:
    with path.open("xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _put_in_place(place: Path, names: list[str], token: str) -> list[Path]:
    kept: list[tuple[Path, Path]] = []
    new: list[Path] = []
    try:
        for name in names:
            target, previous = place / name, _beside(place, name, token, _PREVIOUS)
            if target.is_dir():
                raise IsADirectoryError(21, "a folder has this name", str(target))
            if target.exists():
                target.replace(previous)
                kept.append((target, previous))
            _beside(place, name, token, _PARTIAL).replace(target)
            new.append(target)
    except OSError:
        _remove(new)
        for target, previous in kept:
            previous.replace(target)
        raise
    _remove(previous for _, previous in kept)
    return new


def _remove(paths: Iterable[Path]) -> None:
    for path in paths:
        try:
            path.unlink(missing_ok=True)
        except OSError:
            continue


def _tidy(place: Path) -> None:
    """Clear what a killed run left: put back results it had moved away, drop half-written ones."""
    for path in sorted(place.iterdir()):
        found = _LEFTOVER.match(path.name)
        if not found or not path.is_file():
            continue
        target = place / found["name"]
        try:
            if found["kind"] == "previous" and not target.exists():
                path.replace(target)
            else:
                path.unlink()
        except OSError:
            continue
