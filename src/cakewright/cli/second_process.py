"""A second interpreter that sets the PDF and the drawings while this one writes the rest.

Loading the writers and setting the pages take as long as the evaluation itself. The second
process loads them while the study is still being evaluated, so both cores of a small machine work.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from multiprocessing import get_context
from multiprocessing.connection import Connection
from traceback import format_exc
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    # Light to import: the second process must start before anything heavy loads here.
    from cakewright.jobs.findings import Findings
    from cakewright.reports.numbers import Units

__all__ = ["Beside", "second_process"]

Outputs = Mapping[str, str | bytes]


class Beside:
    """One process that waits for findings and answers with their PDF and drawings."""

    def __init__(self) -> None:
        context = get_context("spawn")
        self._here, there = context.Pipe()
        self._process = context.Process(target=_serve, args=(there,), daemon=True)
        self._process.start()
        there.close()

    def write(self, findings: Findings, units: Units) -> Outputs:
        """PDF and drawings by file name; blocks until they are written.

        Raises
        ------
        OutputError
            As `reports.outputs.pages_and_drawings` does.
        EOFError
            If the process ended without an answer.
        """
        self._here.send((findings, units))
        answer = self._here.recv()
        if isinstance(answer, Exception):
            raise answer
        return answer  # type: ignore[no-any-return]

    def stop(self) -> None:
        """End the process at once, whatever it does."""
        self._process.terminate()
        self._process.join()
        self._here.close()


@contextmanager
def second_process() -> Iterator[Beside | None]:
    """A process beside this one; None on a single core, or with CAKEWRIGHT_PROCESSES=1."""
    if _cores() < 2:
        yield None
        return
    beside = Beside()
    try:
        yield beside
    finally:
        beside.stop()


def _cores() -> int:
    """Processes worth starting: the processors this process may use, or fewer when asked."""
    allowed = getattr(os, "sched_getaffinity", None)
    cores = len(allowed(0)) if allowed else os.cpu_count() or 1
    asked = os.environ.get("CAKEWRIGHT_PROCESSES", "")
    return min(cores, int(asked)) if asked.isdigit() else cores


def _serve(pipe: Connection) -> None:
    """Load the writers, then answer one request."""
    from cakewright.reports.outputs import loaded_writers, pages_and_drawings

    loaded_writers()
    try:
        findings, units = pipe.recv()
    except EOFError:
        return
    try:
        pipe.send(pages_and_drawings(findings, units))
    except Exception as error:  # the other process raises it where the user sees it
        error.add_note(format_exc())
        pipe.send(error)
