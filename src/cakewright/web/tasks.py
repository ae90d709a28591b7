"""Long work behind a page: in a process of its own, with progress, and stopped at once.

A file that makes its reader stumble, or eats memory, ends that process and nothing else.
"""

from __future__ import annotations

import logging
import multiprocessing
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from multiprocessing.connection import Connection
from typing import Any

from cakewright.errors import CakewrightError, Fault, FaultsError
from cakewright.storage.bounded import bound_memory

__all__ = ["MOST_TASK_BYTES", "Task", "TaskState", "Tasks", "Tell", "Work"]

# What a job tells while it works: words, and the share done where it is known.
Tell = Callable[[str, float | None], None]
Work = Callable[..., Any]
_AT_ONCE, _KEPT = 2, 64
MOST_TASK_BYTES = 6 * 1024**3
_MOST_SECONDS = 900.0


class TaskState(StrEnum):
    """Where a task stands."""

    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    STOPPED = "stopped"


@dataclass
class Task:
    """One piece of long work. ``mark`` names what it was started on (a text, some files)."""

    key: str
    mark: str
    step: str = "waiting"
    share: float | None = None
    state: TaskState = TaskState.RUNNING
    problem: str = ""
    faults: tuple[Fault, ...] = ()
    result: Any = None
    stop: threading.Event = field(default_factory=threading.Event)

    @property
    def running(self) -> bool:
        """True while there is something to wait for."""
        return self.state is TaskState.RUNNING

    @property
    def done(self) -> bool:
        """True when there is a result."""
        return self.state is TaskState.DONE


class Tasks:
    """The last tasks by key, at most two working at a time."""

    def __init__(self) -> None:
        self._tasks: OrderedDict[str, Task] = OrderedDict()
        self._lock, self._room = threading.Lock(), threading.Semaphore(_AT_ONCE)

    def get(self, key: str) -> Task | None:
        """The task of a key, if there is one."""
        with self._lock:
            return self._tasks.get(key)

    def start(
        self, key: str, mark: str, work: Work, args: tuple[Any, ...] = (), *,
        then: Callable[[Any], Any] = lambda result: result,
    ) -> Task:  # fmt: skip
        """Start ``work(*args, tell)`` apart; ``then`` makes of its answer what the page shows.

        A task of the same key on the same mark that still runs, or is done, is left as it is.
        """
        with self._lock:
            old = self._tasks.get(key)
            alive = old is not None and not old.stop.is_set() and (old.running or old.done)
            if old is not None and alive and old.mark == mark:
                return old
            if old is not None:
                old.stop.set()
            task = self._tasks[key] = Task(key, mark)
            self._tasks.move_to_end(key)
            self._forget()
        run = threading.Thread(target=self._run, args=(task, work, args, then), daemon=True)
        run.start()
        return task

    def stop(self, key: str) -> Task | None:
        """Stop a task that runs; forget one that has ended."""
        with self._lock:
            task = self._tasks.get(key)
            if task is not None and not task.running:
                del self._tasks[key]
        if task is not None:
            task.stop.set()
        return task

    def close(self) -> None:
        """Stop everything."""
        with self._lock:
            for task in self._tasks.values():
                task.stop.set()

    def _forget(self) -> None:
        ended = [key for key, task in self._tasks.items() if not task.running]
        for key in ended[: max(0, len(self._tasks) - _KEPT)]:
            del self._tasks[key]

    def _run(
        self, task: Task, work: Work, args: tuple[Any, ...], then: Callable[[Any], Any]
    ) -> None:
        while not self._room.acquire(timeout=0.2):
            if task.stop.is_set():
                _stopped(task)
                return
        try:
            found = _apart(task, work, args)
            if task.running:
                task.step, task.share = "drawing", None
                task.result = then(found)
                task.state = TaskState.DONE
        except CakewrightError as error:
            _failed(task, error)
        except Exception:
            logging.getLogger(__name__).exception("the task %s failed", task.key)
            task.problem = "this could not be worked out; the server's log says why"
            task.state = TaskState.FAILED
        finally:
            self._room.release()


def _stopped(task: Task) -> None:
    task.step, task.state = "stopped", TaskState.STOPPED


def _failed(task: Task, error: CakewrightError) -> None:
    task.faults = error.faults if isinstance(error, FaultsError) else ()
    task.problem = error.subject if isinstance(error, FaultsError) else str(error)
    task.state = TaskState.FAILED


def _apart(task: Task, work: Work, args: tuple[Any, ...]) -> Any:
    """Answer of the work done in a process of its own; None when it was stopped or failed."""
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe(duplex=False)
    process = context.Process(target=_child, args=(there, work, args), daemon=True)
    process.start()
    there.close()
    try:
        return _listen(task, here)
    finally:
        process.kill()
        process.join()
        here.close()


def _listen(task: Task, here: Connection) -> Any:
    until = time.monotonic() + _MOST_SECONDS
    while True:
        if task.stop.is_set():
            _stopped(task)
            return None
        if time.monotonic() > until:
            task.problem = f"stopped after {_MOST_SECONDS / 60:.0f} minutes; give it less at a time"
            task.state = TaskState.FAILED
            return None
        if not here.poll(0.1):
            continue
        try:
            kind, *told = here.recv()
        except EOFError:
            task.problem = "the work ended without an answer: too large, or a file it cannot take"
            task.state = TaskState.FAILED
            return None
        if kind == "step":
            task.step, task.share = told
        elif kind == "done":
            return told[0]
        else:
            raise FaultsError(told[0], told[1]) if told[1] else CakewrightError(told[0])


def _child(there: Connection, work: Work, args: tuple[Any, ...]) -> None:
    """The process's side: work, tell, answer."""
    bound_memory(MOST_TASK_BYTES)

    def tell(words: str, share: float | None = None) -> None:
        there.send(("step", words, share))

    try:
        there.send(("done", work(*args, tell)))
    except FaultsError as error:
        there.send(("failed", error.subject, error.faults))
    except CakewrightError as error:
        there.send(("failed", str(error), ()))
    except MemoryError:
        there.send(("failed", "this takes more memory than one job may have; give it less", ()))
    except OSError as error:
        there.send(("failed", f"the disk cannot be used ({error.strerror}); make room on it", ()))
