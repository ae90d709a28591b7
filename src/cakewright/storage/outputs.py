"""Write a set of results into a folder: all of them or none, and never over half a result.

Each file is first written under a temporary name beside its place. Only when all are complete are
they put in place, each by a rename; what stood there before is kept until the last one is in
place and is put back if anything fails.
"""

from __future__ import annotations

import os
import re
import secrets
from collections.abc import Iterable, Mapping
from pathlib import Path

from cakewright.errors import OutputError

__all__ = ["write_outputs"]

_PARTIAL, _PREVIOUS = ".partial", ".previous"
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
    made = _make_folder(place)
    _tidy(place)
    token = secrets.token_hex(4)
    try:
        for name, content in outputs.items():
            _write_partial(_beside(place, name, token, _PARTIAL), content)
        return _put_in_place(place, list(outputs), token)
    except OSError as error:
        _remove(_beside(place, name, token, _PARTIAL) for name in outputs)
        _unmake(made)
        raise OutputError(_words(place, error)) from error


def _check_names(outputs: Mapping[str, str | bytes]) -> None:
    for name in outputs:
        if not name or name in (".", "..") or re.search(r'[/\\:*?"<>|\x00-\x1f]', name):
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


def _write_partial(path: Path, content: str | bytes) -> None:
    data = content.encode("utf-8") if isinstance(content, str) else content
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
