"""Evaluations behind the pages: the point case at once, then bands, then money and promises,
then the press's physics. All but the point case is worked out in processes apart.

A newer edit gives up what an older one started.
"""

from __future__ import annotations

import contextlib
import hashlib
import logging
import queue
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial

from cakewright.web.evaluator import Apart, EvaluationEndedError, GivenUpError, Here
from cakewright.web.outcomes import Files, Outcome, Stage, before

__all__ = ["Files", "Outcome", "Runs", "Stage", "Work", "before"]

_AT_ONCE = 2


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
        """Note the step, if there is a new one; stop here when a newer edit came."""
        self.step = step or self.step
        if self.given_up.is_set():
            raise GivenUpError


class _Worker:
    """A thread that ends with the program, whatever it is at."""

    def __init__(self, name: str) -> None:
        self._queue: queue.SimpleQueue[Callable[[], None]] = queue.SimpleQueue()
        threading.Thread(target=self._serve, name=name, daemon=True).start()

    def submit(self, work: Callable[[], None]) -> None:
        """Do this when the thread is free."""
        self._queue.put(work)

    def _serve(self) -> None:
        while True:
            work = self._queue.get()
            try:
                work()
            except Exception:
                # One evaluation gone wrong must not end the thread that serves all others.
                logging.getLogger(__name__).exception("an evaluation behind a page failed")


def _evaluators(*, apart: bool) -> dict[Stage, Apart | Here]:
    """What evaluates each stage. Pressing takes seconds and must not hold up another study's
    bands; both stand back for what a person waits for."""
    quick: Apart | Here = Apart(nice=5) if apart else Here()
    slow: Apart | Here = Apart(nice=10) if apart else Here()
    return {Stage.POINT: Here(), Stage.BANDS: quick, Stage.DECIDED: quick, Stage.WHOLE: slow}


class Runs:
    """Outcomes by text, the last ones kept."""

    def __init__(
        self, most_samples: int = 2048, keep: int = 48, *, press: bool = True, apart: bool = False
    ) -> None:
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
            Stage.WHOLE: _Worker("press"),
        }
        self._evaluators = _evaluators(apart=apart)

    def start(self) -> None:
        """Let the process that draws the bands load before the first study needs it."""
        self._evaluators[Stage.BANDS].start()

    def close(self) -> None:
        """Give up what is running."""
        with self._lock:
            for work in self._work.values():
                work.given_up.set()
        for each in self._evaluators.values():
            each.close()

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

    def _run(self, work: Work, text: str, files: Files, stage: Stage, not_before: float) -> None:
        # Keys come in bursts: a rest spares the work an edit would throw away.
        if work.given_up.wait(max(0.0, not_before - time.monotonic())):
            return
        try:
            work.tell(_DOING[stage])
            work.outcome = self._stage(text, files, stage, work.tell)
        except GivenUpError:
            return
        except EvaluationEndedError as error:
            # Left as running: what ended a process twice is not tried a third time by itself.
            work.step = str(error)
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
        ready = time.monotonic() + _REST_SECONDS[stage]
        self._workers[stage].submit(partial(self._run, work, text, files, stage, ready))

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
            point = stage is Stage.POINT
            with self._room if point else contextlib.nullcontext():
                most = 0 if point else self.most_samples
                found = self._evaluators[stage].outcome(text, files, stage, most, tell)
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


def _stage_of(outcome: Outcome | None) -> Stage:
    return outcome.stage if outcome else Stage.POINT


def _key(text: str, files: Files) -> str:
    mixed = hashlib.sha256(text.encode("utf-8"))
    for name in sorted(files):
        mixed.update(name.encode("utf-8") + hashlib.sha256(files[name]).digest())
    return mixed.hexdigest()
