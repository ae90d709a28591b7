"""What went wrong inside the program, kept as a file with an id: places in the code, no data."""

from __future__ import annotations

import contextlib
import hashlib
import platform
import sys
import traceback
from pathlib import Path

from cakewright.version import __version__

__all__ = ["bug_id", "bug_words", "keep_report"]

_MOST_REPORTS = 50


def bug_id(error: BaseException) -> str:
    """An id that is the same each time the same place fails in the same way."""
    places = [f"{_short(f.filename)}:{f.name}:{f.lineno}" for f in _frames(error)]
    text = "\n".join([type(error).__name__, *places[-8:]])
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:10]


def _frames(error: BaseException) -> list[traceback.FrameSummary]:
    return list(traceback.extract_tb(error.__traceback__, limit=-40))


def _short(name: str) -> str:
    """Path from the package on: where the program lies is nobody's business."""
    parts = Path(name).parts
    known = [i for i, part in enumerate(parts) if part in ("cakewright", "site-packages")]
    return "/".join(parts[known[-1] :] if known else parts[-1:])


def _report(error: BaseException) -> str:
    # The message of the error may quote what was typed, so that it stays out.
    lines = [f"  {_short(f.filename)}, line {f.lineno}, in {f.name}" for f in _frames(error)]
    head = [
        f"Cakewright {__version__}, bug {bug_id(error)}: {type(error).__name__}",
        f"Python {sys.version.split()[0]}, {platform.system()} {platform.machine()}",
    ]
    return "\n".join([*head, *lines]) + "\n"


def keep_report(error: BaseException, folder: Path | None = None) -> Path | None:
    """Write the report into the user's data folder; None where that cannot be done."""
    if folder is None:
        from cakewright.storage.store.engine import data_folder

        folder = data_folder() / "bugs"
    path = folder / f"{bug_id(error)}.txt"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        kept = sorted(folder.glob("*.txt"), key=lambda each: each.stat().st_mtime)
        for old in kept[: max(0, len(kept) - _MOST_REPORTS)]:
            old.unlink(missing_ok=True)
        path.write_text(_report(error), encoding="utf-8")
    except OSError:
        return None
    return path


def bug_words(error: BaseException) -> str:
    """What a person is told, with the place of the report."""
    path = None
    with contextlib.suppress(Exception):
        path = keep_report(error)
    where = f" A report without any of your data lies at {path}." if path else ""
    return (
        f"this should not have happened (bug {bug_id(error)}, {type(error).__name__})."
        f"{where} Nothing confirmed before is lost; please report the bug with its id"
    )
