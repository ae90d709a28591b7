"""Many trials side by side, the pressing paths of all of them in one batch for an accelerator."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import numpy as np

from cakewright.jobs import trial
from cakewright.machines import batches
from cakewright.machines.screw import case as screw_case

__all__ = ["together"]

One, Found = TypeVar("One"), TypeVar("Found")
_SIZES = (4096, 32768, 262144)  # samples of the programs compiled


class _Slot:
    """Columns one trial asks for, and the answer or the failure."""

    def __init__(self, columns: dict[str, np.ndarray]) -> None:
        self.columns = columns
        self.size = len(columns["speed"])
        self.answer: dict[str, np.ndarray] | None = None
        self.error: BaseException | None = None


class _Gathering:
    """Waits until every trial still at work has asked, then answers all in one call."""

    def __init__(self, live: int) -> None:
        self._turn = threading.Condition()
        self._live = live
        self._asked: list[_Slot] = []

    def run_raw(self, columns: dict[str, np.ndarray], geometry: Any) -> dict[str, np.ndarray]:
        slot = _Slot(columns)
        with self._turn:
            self._geometry = geometry  # made-up trials share one frame
            self._asked.append(slot)
            self._answer_if_all()
            while slot.answer is None and slot.error is None:
                self._turn.wait()
        if slot.error is not None:
            raise slot.error
        return slot.answer or {}

    def leave(self) -> None:
        with self._turn:
            self._live -= 1
            self._answer_if_all()

    def _answer_if_all(self) -> None:
        if not self._asked or len(self._asked) < self._live:
            return
        asked, self._asked = self._asked, []
        try:
            self._answer(asked)
        except BaseException as error:  # each trial must hear of it, or it waits for ever
            for slot in asked:
                slot.error = error
        self._turn.notify_all()

    def _answer(self, asked: list[_Slot]) -> None:
        columns = {
            name: np.concatenate([np.broadcast_to(s.columns[name], (s.size,)) for s in asked])
            for name in asked[0].columns
        }
        found = screw_case.run_raw(columns, self._geometry)
        end = 0
        for slot in asked:
            first, end = end, end + slot.size
            slot.answer = {name: value[..., first:end] for name, value in found.items()}


def together(work: Callable[[One], Found], items: Sequence[One]) -> list[Found]:
    """Results in order; one thread each, and one batch for all whenever all have asked."""
    gathering = _Gathering(len(items))
    found: list[Any] = [None] * len(items)

    def one(at: int) -> None:
        try:
            found[at] = work(items[at])
        except BaseException as error:
            found[at] = error
        finally:
            gathering.leave()

    batches._ACCELERATOR_SIZES = _SIZES
    trial.run_raw = gathering.run_raw
    threads = [threading.Thread(target=one, args=(at,)) for at in range(len(items))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    trial.run_raw = screw_case.run_raw
    for one_found in found:
        if isinstance(one_found, BaseException):
            raise one_found
    return found
