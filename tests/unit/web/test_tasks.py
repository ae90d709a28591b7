"""Long work apart: told, stopped, failed, and started anew."""

from __future__ import annotations

import time
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from types import ModuleType

import pytest

from cakewright.web.tasks import Task, Tasks, TaskState


@pytest.fixture
def tasks() -> Iterator[Tasks]:
    """Tasks that end with the test."""
    made = Tasks()
    yield made
    made.close()


@pytest.fixture
def works(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """Work that the other process can find."""
    monkeypatch.syspath_prepend(Path(__file__).parent)
    return import_module("work_apart")


def _ended(task: Task) -> Task:
    for _ in range(1200):
        if not task.running:
            return task
        time.sleep(0.05)
    raise TimeoutError(task.step)


def test_work_is_done_apart_and_shown(tasks: Tasks, works: ModuleType) -> None:
    """The answer of the work comes back through what the page makes of it."""
    task = _ended(tasks.start("a", "1", works.double, (21,), then=str))
    assert (task.state, task.result) == (TaskState.DONE, "42")
    assert tasks.start("a", "1", works.double, (1,)) is task


def test_stopped_work_ends_at_once_and_starts_anew(tasks: Tasks, works: ModuleType) -> None:
    """Work that would sleep for minutes is stopped while it tells its step; started again on the
    same mark before it has noticed, it is new work, not the stopped one."""
    task = tasks.start("a", "1", works.sleep)
    while task.step != "asleep":
        assert task.running
        time.sleep(0.05)
    assert task.share == 0.25
    tasks.stop("a")
    again = tasks.start("a", "1", works.double, (2,))
    assert again is not task
    assert _ended(task).state is TaskState.STOPPED
    assert _ended(again).result == 4


@pytest.mark.parametrize(
    ("work", "problem", "faults"),
    [
        ("refuse", "the log", 1),
        ("unreadable", "cut off in the middle", 0),
        ("die", "ended without an answer", 0),
    ],
)
def test_failed_work_says_why(
    tasks: Tasks, works: ModuleType, work: str, problem: str, faults: int
) -> None:
    """Faults come back with their places, an error in its words, and a process that died is said
    to have: none of them takes the server along."""
    task = _ended(tasks.start("a", "1", getattr(works, work)))
    assert task.state is TaskState.FAILED
    assert problem in task.problem
    assert len(task.faults) == faults
