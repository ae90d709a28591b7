"""The press program traced and loaded beside other work, so that nobody waits for it later."""

from __future__ import annotations

import threading
from collections.abc import Callable

__all__ = ["await_warm", "warm"]

_lock = threading.Lock()
_threads: dict[str, threading.Thread] = {}


def warm(key: str, run: Callable[[], object]) -> None:
    """Run a job once per process in the background; its failure shows again in the real call."""

    def quietly() -> None:
        try:
            run()
        except Exception:
            # The same call is made again in earnest and raises where somebody sees it.
            return

    with _lock:
        if key not in _threads:
            _threads[key] = threading.Thread(target=quietly, name=f"warming {key}", daemon=True)
            _threads[key].start()


def await_warm(key: str) -> None:
    """Wait until that job is done, if it was started: two threads must not compile one program."""
    thread = _threads.get(key)
    if thread is not None and thread is not threading.current_thread():
        thread.join()
