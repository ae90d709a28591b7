"""What the bench tests beside a study say: fitted once, shown as in the bench report."""

from __future__ import annotations

import hashlib
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from cakewright.errors import CakewrightError
from cakewright.jobs.bench import BenchFindings, evaluate_bench
from cakewright.reports.bench_outputs import bench_sections
from cakewright.reports.content import Section
from cakewright.reports.numbers import Units
from cakewright.storage.bench_sheets import SheetsRead, read_bench_files
from cakewright.storage.store import StudyStore

__all__ = ["FITS", "PREFIX", "BenchView", "bench_files", "bench_view", "read_sheets"]

PREFIX = "bench-"
_KEEP = 8


@dataclass(frozen=True, slots=True)
class BenchView:
    """What the bench chapter shows."""

    files: tuple[str, ...]
    sections: tuple[Section, ...] = ()
    problem: str = ""
    laws: tuple[str, ...] = ()


class _Fits:
    """The last fits, by the files they came from."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, BenchFindings | CakewrightError] = OrderedDict()
        self._shown: OrderedDict[tuple[int, Units], tuple[Section, ...]] = OrderedDict()
        self._lock = threading.Lock()

    def sections(self, found: BenchFindings, units: Units) -> tuple[Section, ...]:
        """Findings as sections, drawn once."""
        key = (id(found), units)
        with self._lock:
            made = self._shown.get(key)
            kept = any(found is each for each in self._kept.values())
        if made is None or not kept:
            made = bench_sections(found, units)
            with self._lock:
                self._shown[key] = made
                while len(self._shown) > 2 * _KEEP:
                    self._shown.popitem(last=False)
        return made

    def of(self, files: Mapping[str, bytes]) -> BenchFindings:
        """Findings of these files.

        Raises
        ------
        CakewrightError
            If no test can be used.
        """
        mark = hashlib.sha256()
        for name in sorted(files):
            mark.update(name.encode() + hashlib.sha256(files[name]).digest())
        key = mark.hexdigest()
        with self._lock:
            found = self._kept.get(key)
        if found is None:
            found = _fitted(files)
            with self._lock:
                self._kept[key] = found
                while len(self._kept) > _KEEP:
                    self._kept.popitem(last=False)
        if isinstance(found, CakewrightError):
            raise found
        return found


FITS = _Fits()


def _fitted(files: Mapping[str, bytes]) -> BenchFindings | CakewrightError:
    try:
        read = read_sheets(files)
        return evaluate_bench(read.tests, read.bad)
    except CakewrightError as error:
        return error


def read_sheets(files: Mapping[str, bytes]) -> SheetsRead:
    """Tests of sheets held in memory."""
    with tempfile.TemporaryDirectory(prefix="cakewright-") as folder:
        paths = []
        for name, data in files.items():
            path = Path(folder) / name
            path.write_bytes(data)
            paths.append(path)
        return read_bench_files(paths)


def bench_files(store: StudyStore, study: str) -> dict[str, bytes]:
    """Sheets of readings kept beside a study."""
    names = [name for name, _ in store.attached(study) if name.startswith(PREFIX)]
    return {name: store.attachment(study, name) for name in names}


def bench_view(store: StudyStore, study: str, units: Units) -> BenchView:
    """What the bench chapter of a study shows."""
    files = bench_files(store, study)
    if not files:
        return BenchView(())
    try:
        found = FITS.of(files)
    except CakewrightError as error:
        return BenchView(tuple(files), problem=str(error))
    laws = tuple(s.name for s in found.sludges if s.joint is not None)
    return BenchView(tuple(files), FITS.sections(found, units), laws=laws)
