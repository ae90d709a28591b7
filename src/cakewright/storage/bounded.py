"""Foreign bytes are read in a process of their own, within bounds of memory and time.

=========  ==============================================================================
Linux      memory by the address space of the process (refused to it), time by the parent
Windows    memory by a job object (the process ends), time by the parent
macOS      memory watched by the parent four times a second (the process is ended), time too
=========  ==============================================================================
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from multiprocessing.connection import Connection, wait
from types import ModuleType
from typing import Any, TypeVar

from cakewright.errors import CakewrightError, FaultsError, InputFileError

__all__ = ["MOST_BYTES", "MOST_SECONDS", "bound_memory", "end_with_parent", "read_apart"]

Found = TypeVar("Found")
MOST_BYTES, MOST_SECONDS = 1536 * 1024**2, 60.0
_LOOK_SECONDS = 0.25
# However many visitors send files at once, so many are read at a time.
_room = threading.BoundedSemaphore(2)


def read_apart(
    what: str,
    work: Callable[..., Found],
    *args: Any,
    seconds: float = MOST_SECONDS,
    memory: int = MOST_BYTES,
) -> Found:
    """Answer of ``work(*args)``, done apart; ``what`` names the file in words.

    Raises
    ------
    InputFileError
        If the reader ended, took too long or too much memory.
    CakewrightError
        What the reader itself says of the file.
    """
    if multiprocessing.current_process().daemon:
        # Already in a bounded process of the workbench or of a portfolio, which may have no child.
        return work(*args)
    context = multiprocessing.get_context("spawn")
    with _room:
        here, there = context.Pipe(duplex=False)
        process = context.Process(target=_child, args=(there, memory, work, args), daemon=True)
        with _no_main():
            process.start()
        there.close()
        try:
            found = _answer(what, here, process.pid or 0, seconds, memory)
        finally:
            process.kill()
            process.join()
            here.close()
    return found  # type: ignore[no-any-return]


@contextlib.contextmanager
def _no_main() -> Iterator[None]:
    """Let the process begin without the program that started it: a script would run twice."""
    main = sys.modules["__main__"]
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = main


def _answer(what: str, here: Connection, pid: int, seconds: float, memory: int) -> Any:
    until = time.monotonic() + seconds
    while not here.poll(_LOOK_SECONDS):
        if time.monotonic() > until:
            raise InputFileError(
                f"{what}: not read after {seconds:.0f} s; is it what it claims to be? give it less"
            )
        if sys.platform == "darwin" and _resident(pid) > memory:
            raise InputFileError(_too_much(what, memory))
    try:
        kind, told = here.recv()
    except (EOFError, OSError):
        # The native reader gave up the process: most often memory, else a damaged file.
        raise InputFileError(_too_much(what, memory)) from None
    if kind == "found":
        return told
    if kind == "memory":
        raise InputFileError(_too_much(what, memory))
    if kind == "faults":
        raise told[0](told[1], told[2])
    if kind == "known":
        raise told[0](told[1])
    raise InputFileError(f"{what}: damaged, or not what it claims to be ({told}); save it anew")


def _too_much(what: str, memory: int) -> str:
    return (
        f"{what}: its reader ended without an answer: damaged, or it takes more than "
        f"{memory // 1024**2} MB; copy the cells you need into a new file"
    )


def _child(there: Connection, memory: int, work: Callable[..., Any], args: tuple[Any, ...]) -> None:
    bound_memory(memory)
    _quiet()
    try:
        there.send(("found", work(*args)))
    except FaultsError as error:
        there.send(("faults", (type(error), error.subject, error.faults)))
    except CakewrightError as error:
        there.send(("known", (type(error), str(error))))
    except MemoryError:
        there.send(("memory", ""))
    except BaseException as error:
        # A native reader's panic is no Exception; all mean that the file cannot be read.
        there.send(("failed", f"{type(error).__name__}: {str(error)[:200]}"))


def _quiet() -> None:
    """A native reader that gives up prints a page of its own; nobody can use it."""
    with contextlib.suppress(OSError):
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, 2)
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource

        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def bound_memory(most: int = MOST_BYTES) -> None:
    """Let this process take no more memory, where the system can bound one from inside."""
    if sys.platform == "win32":
        with contextlib.suppress(Exception):
            _bound_by_job(most)
        return
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource

        hard = resource.getrlimit(resource.RLIMIT_AS)[1]
        bound = most if hard == resource.RLIM_INFINITY else min(hard, most)
        resource.setrlimit(resource.RLIMIT_AS, (bound, hard))


def end_with_parent() -> None:
    """Let this process end as soon as the one that started it has, killed or not."""

    def watch() -> None:
        parent = multiprocessing.parent_process()
        if parent is not None:
            wait([parent.sentinel])
            os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def _bound_by_job(most: int) -> None:
    """A job object with a limit on the memory of this process."""
    import ctypes
    from ctypes import wintypes

    class Basic(ctypes.Structure):
        _fields_ = (
            ("PerProcessUserTimeLimit", ctypes.c_int64), ("PerJobUserTimeLimit", ctypes.c_int64),
            ("LimitFlags", wintypes.DWORD), ("MinimumWorkingSetSize", ctypes.c_size_t),
            ("MaximumWorkingSetSize", ctypes.c_size_t), ("ActiveProcessLimit", wintypes.DWORD),
            ("Affinity", ctypes.c_size_t), ("PriorityClass", wintypes.DWORD),
            ("SchedulingClass", wintypes.DWORD),
        )  # fmt: skip

    class Extended(ctypes.Structure):
        _fields_ = (
            ("Basic", Basic), ("IoInfo", ctypes.c_uint64 * 6),
            ("ProcessMemoryLimit", ctypes.c_size_t), ("JobMemoryLimit", ctypes.c_size_t),
            ("PeakProcessMemoryUsed", ctypes.c_size_t), ("PeakJobMemoryUsed", ctypes.c_size_t),
        )  # fmt: skip

    kernel = ctypes.WinDLL("kernel32", use_last_error=True)  # type: ignore[attr-defined]
    kernel.CreateJobObjectW.restype = wintypes.HANDLE
    kernel.GetCurrentProcess.restype = wintypes.HANDLE
    job = wintypes.HANDLE(kernel.CreateJobObjectW(None, None))
    limits = Extended()
    limits.Basic.LimitFlags = 0x100  # a limit on the memory of each process
    limits.ProcessMemoryLimit = most
    kernel.SetInformationJobObject(job, 9, ctypes.byref(limits), ctypes.sizeof(limits))
    kernel.AssignProcessToJobObject(job, wintypes.HANDLE(kernel.GetCurrentProcess()))


def _resident(pid: int) -> int:
    """Bytes a process holds, where the system bounds none by itself."""
    with contextlib.suppress(OSError, ValueError, subprocess.SubprocessError):
        told = subprocess.run(
            ["/bin/ps", "-o", "rss=", "-p", str(pid)], capture_output=True, timeout=2, check=False
        )
        return 1024 * int(told.stdout or 0)
    return 0
