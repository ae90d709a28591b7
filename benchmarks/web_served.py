"""The workbench as a user starts it, for benchmarks: `cakewright serve` in a process of its own."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx

__all__ = ["Served", "served"]


@dataclass(frozen=True, slots=True)
class Served:
    """One server that runs: where it answers, and its process."""

    base: str
    pid: int

    def processes(self) -> dict[int, str]:
        """The server and the processes it started (Linux), with their command lines."""
        found, parents = {}, {}
        for entry in Path("/proc").iterdir():
            if entry.name.isdigit():
                try:
                    status = (entry / "stat").read_text().rpartition(")")[2].split()
                    words = (entry / "cmdline").read_bytes().replace(b"\0", b" ").decode()
                except OSError:
                    continue
                parents[int(entry.name)] = (int(status[1]), words)
        for pid, (parent, words) in parents.items():
            if self.pid in (pid, parent):
                found[pid] = words
        return found

    def resident_mb(self) -> tuple[float, float]:
        """Memory of the server, and of all processes it started."""
        held = {pid: _resident_mb(pid) for pid in self.processes()}
        own = held.pop(self.pid, 0.0)
        return own, sum(held.values())


def _resident_mb(pid: int) -> float:
    try:
        pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
    except OSError:
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


@contextmanager
def served(folder: Path, *more: str) -> Iterator[Served]:
    """A server over a store in ``folder``, with ``more`` options; killed at the end."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    code = "from cakewright.cli.serve import command; command()"
    words = ["--port", str(port), "--store", str(folder / "studies.sqlite"), "--no-open", *more]
    server = subprocess.Popen([sys.executable, "-c", code, *words], stdout=subprocess.DEVNULL)
    try:
        base = f"http://127.0.0.1:{port}"
        _wait(base)
        yield Served(base, server.pid)
    finally:
        server.kill()
        server.wait()


def _wait(base: str) -> None:
    for _ in range(600):
        try:
            httpx.get(f"{base}/api/session")
        except httpx.HTTPError:
            time.sleep(0.1)
        else:
            return
    raise TimeoutError("the server does not answer")
