"""Evaluations behind the pages: the point case at once, then bands, then money and promises,
then the press's physics.

A newer edit gives up what an older one started.
"""

from __future__ import annotations

import contextlib
import hashlib
import logging
import os
import queue
import sys
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import partial
from pathlib import Path

from cakewright.errors import CakewrightError, Fault, FaultsError
from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.storage.evaluation import fitted_of, frames_of, law_of, with_sampling
from cakewright.study import Study, parse_study

__all__ = ["Outcome", "Runs", "Stage", "Work", "before"]

Files = Mapping[str, bytes]
_AT_ONCE = 2
_FILE_PLACES = ("machines.catalogue", "bench.law", "press.parameters")


class Stage(StrEnum):
    """How far an evaluation has come."""

    POINT = "point"
    BANDS = "bands"
    DECIDED = "decided"
    WHOLE = "whole"


_NEXT: dict[Stage, Stage | None] = {
    Stage.POINT: Stage.BANDS,
    Stage.BANDS: Stage.DECIDED,
    Stage.DECIDED: Stage.WHOLE,
    Stage.WHOLE: None,
}
_REST_SECONDS = {Stage.BANDS: 0.05, Stage.DECIDED: 0.8, Stage.WHOLE: 0.8}
_DOING = {
    Stage.BANDS: "drawing bands",
    Stage.DECIDED: "weighing money and promises",
    Stage.WHOLE: "pressing",
}


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a text: findings, or faults, or why there is no answer."""

    findings: Findings | None = None
    study: Study | None = None
    faults: tuple[Fault, ...] = ()
    problem: str = ""
    stage: Stage = Stage.POINT


class _GivenUp(Exception):  # noqa: N818 - a newer edit came, which is no error
    """A newer edit made this evaluation useless."""


@dataclass
class Work:
    """What is being worked out for one text: the step it is at, and the best outcome so far."""

    key: str
    step: str = "waiting"
    outcome: Outcome | None = None
    upto: Stage = Stage.WHOLE
    running: bool = False
    given_up: threading.Event = field(default_factory=threading.Event)

    def tell(self, step: str) -> None:
        """Note the step; stop here when a newer edit came."""
        self.step = step
        if self.given_up.is_set():
            raise _GivenUp


class _Worker:
    """A thread that ends with the program, whatever it is at."""

    def __init__(self, name: str, *, patient: bool = False) -> None:
        self._queue: queue.SimpleQueue[Callable[[], None]] = queue.SimpleQueue()
        self._patient = patient
        threading.Thread(target=self._serve, name=name, daemon=True).start()

    def submit(self, work: Callable[[], None]) -> None:
        """Do this when the thread is free."""
        self._queue.put(work)

    def _serve(self) -> None:
        if self._patient:
            _stand_back()
        while True:
            work = self._queue.get()
            try:
                work()
            except Exception:
                # One evaluation gone wrong must not end the thread that serves all others.
                logging.getLogger(__name__).exception("an evaluation behind a page failed")


def _stand_back() -> None:
    """Let what a person waits for go first, where the system can tell threads apart.

    Only for work outside Python: a thread that stands back while it holds the interpreter would
    hold up everybody else.
    """
    if sys.platform == "linux":
        with contextlib.suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), 10)


class Runs:
    """Outcomes by text, the last ones kept."""

    def __init__(self, most_samples: int = 2048, keep: int = 48, *, press: bool = True) -> None:
        self.most_samples, self.keep, self.press = most_samples, keep, press
        self._kept: OrderedDict[str, Outcome] = OrderedDict()
        self._work: dict[str, Work] = {}
        self._lock = threading.Lock()
        # The same text is worked out once however many ask; others wait for it in a queue.
        self._turns: dict[str, threading.Lock] = {}
        self._room = threading.Semaphore(_AT_ONCE)
        # What is slow must never stand in the way of another study's bands.
        self._workers = {
            Stage.BANDS: _Worker("bands"),
            Stage.DECIDED: _Worker("decided"),
            Stage.WHOLE: _Worker("press", patient=True),
        }

    def close(self) -> None:
        """Give up what is running."""
        with self._lock:
            for work in self._work.values():
                work.given_up.set()

    def give_up(self, study: str) -> None:
        """An edit has come: what is being worked out for the study is of no use any more."""
        with self._lock:
            if study in self._work:
                self._work.pop(study).given_up.set()

    def best(self, text: str, files: Files) -> Outcome:
        """The furthest outcome there is, the point case at least."""
        return self._furthest(_key(text, files)) or self.point(text, files)

    def point(self, text: str, files: Files) -> Outcome:
        """Outcome of the point case, now."""
        return self._stage(text, files, Stage.POINT)

    def full(self, text: str, files: Files, *, press: bool = True) -> Outcome:
        """Outcome with bands, and with the press's physics, waited for (documents)."""
        return self._stage(text, files, Stage.WHOLE if press and self.press else Stage.DECIDED)

    def work(self, study: str, text: str, files: Files, upto: Stage) -> Work:
        """Work on a study's text up to a stage: started if need be, an older text's given up."""
        key = _key(text, files)
        with self._lock:
            work = self._work.get(study)
            if work is None or work.key != key:
                if work is not None:
                    work.given_up.set()
                work = self._work[study] = Work(key)
            work.upto = upto
            if work.running:
                return work
            work.running = True
            while len(self._work) > 4 * self.keep:
                self._work.pop(next(iter(self._work))).given_up.set()
        work.outcome = self._furthest(key)
        self._go_on(work, text, files)
        return work

    def _run(self, work: Work, text: str, files: Files, stage: Stage) -> None:
        # Keys come in bursts: a rest spares the work an edit would throw away.
        if work.given_up.wait(_REST_SECONDS[stage]):
            return
        try:
            work.tell(_DOING[stage])
            work.outcome = self._stage(text, files, stage, work.tell)
        except _GivenUp:
            return
        self._go_on(work, text, files)

    def _go_on(self, work: Work, text: str, files: Files) -> None:
        """Set the next stage going, if one is wanted for this text."""
        outcome, work.step = work.outcome, ""
        stage = _NEXT[outcome.stage if outcome else Stage.POINT]
        done = outcome is not None and outcome.findings is None
        last = Stage.DECIDED if not self.press and work.upto is Stage.WHOLE else work.upto
        if done or stage is None or not before(_stage_of(outcome), last):
            work.running = False
            return
        work.step = _DOING[stage]
        self._workers[stage].submit(partial(self._run, work, text, files, stage))

    def _stage(
        self, text: str, files: Files, stage: Stage, tell: Callable[[str], None] = lambda _: None
    ) -> Outcome:
        key = f"{_key(text, files)} {stage}"
        with self._lock:
            found = self._known(key)
            if found is not None:
                return found
            turn = self._turns.setdefault(key, threading.Lock())
        with turn:
            return self._worked_out(key, text, files, stage, tell)

    def _known(self, key: str) -> Outcome | None:
        if key in self._kept:
            self._kept.move_to_end(key)
        return self._kept.get(key)

    def _worked_out(
        self, key: str, text: str, files: Files, stage: Stage, tell: Callable[[str], None]
    ) -> Outcome:
        with self._lock:
            found = self._known(key)
        if found is not None:
            return found
        try:
            if stage is Stage.POINT:
                with self._room:
                    found = _outcome(text, files, stage, 0, tell)
            else:
                found = _outcome(text, files, stage, self.most_samples, tell)
            with self._lock:
                self._kept[key] = found
                while len(self._kept) > self.keep:
                    self._kept.popitem(last=False)
        finally:
            with self._lock:
                self._turns.pop(key, None)
        return found

    def _furthest(self, key: str) -> Outcome | None:
        with self._lock:
            found = (self._kept.get(f"{key} {stage}") for stage in reversed(Stage))
            return next((outcome for outcome in found if outcome is not None), None)


def before(stage: Stage, other: Stage) -> bool:
    """Whether a stage comes before another one."""
    order = list(Stage)
    return order.index(stage) < order.index(other)


def _stage_of(outcome: Outcome | None) -> Stage:
    return outcome.stage if outcome else Stage.POINT


def _key(text: str, files: Files) -> str:
    mixed = hashlib.sha256(text.encode("utf-8"))
    for name in sorted(files):
        mixed.update(name.encode("utf-8") + hashlib.sha256(files[name]).digest())
    return mixed.hexdigest()


def _outcome(
    text: str, files: Files, stage: Stage, most: int, tell: Callable[[str], None]
) -> Outcome:
    study = None
    try:
        study = parse_study(text.removeprefix("\ufeff"))
        samples = min(study.count("sampling.samples"), most)
        found = _evaluated(study, files, samples, stage, tell)
    except FaultsError as error:
        return Outcome(study=study, faults=error.faults, stage=stage)
    except CakewrightError as error:
        return Outcome(study=study, problem=str(error), stage=stage)
    return Outcome(found, study, stage=stage)


def _evaluated(
    study: Study,
    files: Files,
    samples: int,
    stage: Stage,
    tell: Callable[[str], None],
) -> Findings:
    study = with_sampling(study, samples, None)
    press, decision = stage is Stage.WHOLE, stage in (Stage.DECIDED, Stage.WHOLE)
    if not any(study.word(place) for place in _FILE_PLACES):
        return evaluate(study, progress=tell, with_press=press, with_decision=decision)
    with tempfile.TemporaryDirectory(prefix="cakewright-") as name:
        folder = Path(name)
        for each, data in files.items():
            (folder / each).write_bytes(data)
        frames, law = frames_of(study, folder), law_of(study, folder)
        fitted = fitted_of(study, folder)
        return evaluate(
            study,
            frames,
            tell,
            law=law,
            fitted=fitted,
            with_press=press,
            with_decision=decision,
        )
