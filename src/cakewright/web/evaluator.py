"""Evaluations in a process of their own, so that a person's next edit never waits for them.

The process is started here and speaks through a pipe that nobody else holds. It stays, because
loading takes seconds; it is started anew when it has been killed, and ends with the server.
"""

from __future__ import annotations

import contextlib
import heapq
import itertools
import logging
import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from multiprocessing.connection import Connection
from typing import Any

from cakewright.errors import CakewrightError
from cakewright.storage.bounded import bound_memory, end_with_parent
from cakewright.web.outcomes import Files, GivenUpError, Outcome, Stage, outcome_of
from cakewright.web.tasks import MOST_TASK_BYTES

__all__ = ["Apart", "EvaluationEndedError", "GivenUpError", "Here"]

Tell = Callable[[str], None]
# How soon a newer edit is noticed, and how long an evaluation may go on after that.
_LOOK_SECONDS, _PATIENCE_SECONDS = 0.02, 20.0


class EvaluationEndedError(CakewrightError):
    """The process of an evaluation ended twice without an answer."""


class Here:
    """Evaluates in this process; for tests, and where only one process is wanted."""

    def outcome(self, text: str, files: Files, stage: Stage, most: int, tell: Tell) -> Outcome:
        """Outcome of a text."""
        return outcome_of(text, files, stage, most, tell)

    def start(self) -> None:
        """Nothing to start."""

    def close(self) -> None:
        """Nothing to end."""


class Apart:
    """One process that evaluates one text at a time: bands before money, then first come."""

    def __init__(self, nice: int) -> None:
        self._nice = nice
        self._turns = _Turns()
        self._numbers = itertools.count(1)
        self._lock = threading.Lock()
        self._process: Any = None
        self._pipe: Connection | None = None
        self._closed = False

    def start(self) -> None:
        """Start the process and let it load, if it does not run."""
        with self._lock:
            self._running()

    def outcome(self, text: str, files: Files, stage: Stage, most: int, tell: Tell) -> Outcome:
        """Outcome of a text.

        Raises
        ------
        EvaluationEndedError
            If the process ended twice over this text, or was closed.
        """
        with self._turns.mine(list(Stage).index(stage), tell):
            for _ in range(2):
                with contextlib.suppress(EOFError, OSError):
                    return self._asked((text, dict(files), stage, most), tell)
                if self._closed:
                    break
                logging.getLogger(__name__).warning("an evaluation's process ended; started anew")
        raise EvaluationEndedError("the evaluation ended without an answer; change something, "
                                   "or start the server again")  # fmt: skip

    def close(self) -> None:
        """End the process at once."""
        with self._lock:
            self._closed = True
            self._end()

    def _running(self) -> Connection:
        if self._closed:
            raise EOFError
        if self._pipe is None or not self._process.is_alive():
            self._end()
            context = multiprocessing.get_context("spawn")
            self._pipe, there = context.Pipe()
            self._process = context.Process(target=_serve, args=(there, self._nice), daemon=True)
            self._process.start()
            there.close()
        return self._pipe

    def _end(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.join()
        if self._pipe is not None:
            self._pipe.close()
        self._process = self._pipe = None

    def _asked(self, job: tuple[Any, ...], tell: Tell) -> Outcome:
        number = next(self._numbers)
        with self._lock:
            pipe = self._running()
        pipe.send((number, job))
        until, step = None, ""
        while True:
            if until is None and _given_up(tell, step):
                until = time.monotonic() + _PATIENCE_SECONDS
                pipe.send((number, None))
            if until is not None and time.monotonic() > until:
                with self._lock:
                    self._end()
                raise GivenUpError
            if not pipe.poll(_LOOK_SECONDS):
                continue
            kind, answered, told = pipe.recv()
            if answered != number:
                continue
            if kind == "step":
                step = told
            elif until is not None:
                raise GivenUpError
            elif kind == "done":
                return told  # type: ignore[no-any-return]
            else:
                raise RuntimeError(told)


def _given_up(tell: Tell, step: str) -> bool:
    try:
        tell(step)
    except GivenUpError:
        return True
    return False


class _Turns:
    """Whose turn it is: the quicker stage first, within a stage who came first."""

    def __init__(self) -> None:
        self._free = threading.Condition()
        self._waiting: list[tuple[int, int]] = []
        self._count = itertools.count()
        self._taken = False

    @contextmanager
    def mine(self, rank: int, tell: Tell) -> Iterator[None]:
        """Wait for a turn, and have it; ``tell`` may raise to leave the queue."""
        ticket = (rank, next(self._count))
        with self._free:
            heapq.heappush(self._waiting, ticket)
            try:
                while self._taken or self._waiting[0] != ticket:
                    tell("waiting for its turn")
                    self._free.wait(0.1)
                self._taken = True
            finally:
                self._waiting.remove(ticket)
                heapq.heapify(self._waiting)
                self._free.notify_all()
        try:
            yield
        finally:
            with self._free:
                self._taken = False
                self._free.notify_all()


def _serve(pipe: Connection, nice: int) -> None:
    """The process's side: evaluate what is asked for until the server is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    end_with_parent()
    if hasattr(os, "nice"):
        os.nice(nice)
    bound_memory(MOST_TASK_BYTES)
    with contextlib.suppress(EOFError, OSError):
        while True:
            number, job = pipe.recv()
            if job is not None:
                pipe.send(_answer(pipe, number, job))


def _answer(pipe: Connection, number: int, job: tuple[Any, ...]) -> tuple[str, int, Any]:
    def tell(step: str) -> None:
        pipe.send(("step", number, step))
        # What an edit gives up ends here; a word about an earlier evaluation is stale.
        while pipe.poll():
            if pipe.recv()[0] == number:
                raise GivenUpError

    try:
        text, files, stage, most = job
        return "done", number, outcome_of(text, files, stage, most, tell)
    except GivenUpError:
        return "given up", number, None
    except MemoryError:
        problem = "this takes more memory than one evaluation may have; take fewer samples"
        return "done", number, Outcome(problem=problem, stage=job[2])
    except Exception:
        logging.getLogger(__name__).exception("an evaluation failed")
        return "failed", number, "an evaluation failed; the server's log says why"
