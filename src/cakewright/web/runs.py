"""Evaluations behind the pages: the point case at once, bands after it, an older one given up."""

from __future__ import annotations

import hashlib
import tempfile
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

from cakewright.errors import CakewrightError, Fault, FaultsError
from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.storage.evaluation import evaluate_file, with_sampling
from cakewright.study import Study, parse_study

__all__ = ["Bands", "Outcome", "Runs"]

Files = Mapping[str, bytes]
_FILE_PLACES = ("machines.catalogue", "bench.law", "press.parameters")
_REST_SECONDS = 0.12


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a text: findings, or faults, or why there is no answer."""

    findings: Findings | None = None
    study: Study | None = None
    faults: tuple[Fault, ...] = ()
    problem: str = ""
    banded: bool = False


class _GivenUp(Exception):  # noqa: N818 - a newer edit came, which is no error
    """A newer edit made this evaluation useless."""


@dataclass
class Bands:
    """Bands being worked out for one text: the step it is at, and the outcome once there is one."""

    key: str
    step: str = "waiting"
    outcome: Outcome | None = None
    given_up: threading.Event = field(default_factory=threading.Event)

    def tell(self, step: str) -> None:
        """Note the step; stop here when a newer edit came."""
        self.step = step
        if self.given_up.is_set():
            raise _GivenUp


class Runs:
    """Outcomes by text, the last ones kept."""

    def __init__(self, most_samples: int = 2048, keep: int = 48) -> None:
        self.most_samples, self.keep = most_samples, keep
        self._kept: OrderedDict[str, Outcome] = OrderedDict()
        self._bands: dict[str, Bands] = {}
        self._lock = threading.Lock()
        self._pool = ThreadPoolExecutor(max_workers=2, thread_name_prefix="bands")

    def close(self) -> None:
        """Give up what is running."""
        with self._lock:
            for bands in self._bands.values():
                bands.given_up.set()
        self._pool.shutdown(wait=False, cancel_futures=True)

    def best(self, text: str, files: Files) -> Outcome:
        """Outcome with bands if it is there, else the point case."""
        banded = self._get(_key(text, files) + " bands")
        return banded or self.point(text, files)

    def point(self, text: str, files: Files) -> Outcome:
        """Outcome of the point case, now."""
        key = _key(text, files)
        found = self._get(key)
        if found is None:
            found = _outcome(text, files, 0, lambda _: None)
            self._put(key, found)
        return found

    def bands(self, study: str, text: str, files: Files) -> Bands:
        """Bands of a study's text: started if need be, an older text's given up."""
        key = _key(text, files) + " bands"
        done = self._get(key)
        with self._lock:
            running = self._bands.get(study)
            if running is not None and running.key == key:
                return running
            if running is not None:
                running.given_up.set()
            bands = Bands(key, outcome=done)
            self._bands[study] = bands
            while len(self._bands) > 4 * self.keep:
                self._bands.pop(next(iter(self._bands))).given_up.set()
        if done is None:
            self._pool.submit(self._work, bands, text, files)
        return bands

    def full(self, text: str, files: Files) -> Outcome:
        """Outcome with bands, waited for (downloads)."""
        key = _key(text, files) + " bands"
        found = self._get(key)
        if found is None:
            found = _outcome(text, files, self.most_samples, lambda _: None)
            self._put(key, found)
        return found

    def _work(self, bands: Bands, text: str, files: Files) -> None:
        # Keys come in bursts: a short rest spares the work an edit would throw away.
        time.sleep(_REST_SECONDS)
        try:
            bands.tell("drawing samples")
            outcome = _outcome(text, files, self.most_samples, bands.tell)
        except _GivenUp:
            return
        self._put(bands.key, outcome)
        bands.outcome = outcome

    def _get(self, key: str) -> Outcome | None:
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def _put(self, key: str, outcome: Outcome) -> None:
        with self._lock:
            self._kept[key] = outcome
            while len(self._kept) > self.keep:
                self._kept.popitem(last=False)


def _key(text: str, files: Files) -> str:
    mixed = hashlib.sha256(text.encode("utf-8"))
    for name in sorted(files):
        mixed.update(name.encode("utf-8") + hashlib.sha256(files[name]).digest())
    return mixed.hexdigest()


def _outcome(text: str, files: Files, most: int, tell: Callable[[str], None]) -> Outcome:
    study = None
    try:
        study = parse_study(text.removeprefix("\ufeff"))
        samples = min(study.count("sampling.samples"), most)
        found = _evaluated(study, text, files, samples, tell)
    except FaultsError as error:
        return Outcome(study=study, faults=error.faults, banded=most > 0)
    except CakewrightError as error:
        return Outcome(study=study, problem=str(error), banded=most > 0)
    return Outcome(found, study, banded=most > 0)


def _evaluated(
    study: Study, text: str, files: Files, samples: int, tell: Callable[[str], None]
) -> Findings:
    if not any(study.word(place) for place in _FILE_PLACES):
        return evaluate(with_sampling(study, samples, None), progress=tell, with_press=samples > 0)
    with tempfile.TemporaryDirectory(prefix="cakewright-") as folder:
        for name, data in files.items():
            (Path(folder) / name).write_bytes(data)
        path = Path(folder) / "study.toml"
        path.write_text(text, encoding="utf-8", newline="")
        return evaluate_file(path, "", tell, samples=samples)
