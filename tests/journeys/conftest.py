"""A workbench of its own and a real browser for the journeys."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-quic",
    "--no-first-run",
    "--disable-component-update",
    "--disable-sync",
]


@dataclass
class Workbench:
    """A server in a process of its own that can be killed and started again."""

    folder: Path
    port: int
    press: bool = False
    team: str = ""
    process: subprocess.Popen[bytes] | None = None
    sent: list[str] = field(default_factory=list)

    @property
    def address(self) -> str:
        """Where it answers."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def store(self) -> Path:
        """File of its studies."""
        return self.folder / "studies.sqlite"

    def start(self) -> None:
        """Start, and wait until it answers."""
        words = ["--port", str(self.port), "--no-open"]
        words += [] if self.press else ["--no-press"]
        # The one setting: a file, or the address of a team's database.
        own = {"CAKEWRIGHT_STORE": self.team or str(self.store), "XDG_DATA_HOME": str(self.folder)}
        code = "from cakewright.cli.serve import command; command()"
        self.process = subprocess.Popen(
            [sys.executable, "-c", code, *words],
            stdout=subprocess.DEVNULL,
            stderr=(self.folder / "log.txt").open("ab"),
            env={**os.environ, "PYTHONUNBUFFERED": "1", **own},
        )
        for _ in range(900):
            try:
                urllib.request.urlopen(f"{self.address}/api/session", timeout=1).close()
            except (urllib.error.URLError, OSError):
                time.sleep(0.1)
            else:
                return
        raise RuntimeError((self.folder / "log.txt").read_text())

    def kill(self) -> None:
        """Kill it as a power cut would: no chance to tidy up."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            self.process = None


def free_port() -> int:
    """A port nobody listens at."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="module")
def workbench(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Workbench]:
    """A workbench over an empty store; with the press's physics where the module asks for it."""
    press = bool(getattr(request.module, "PRESS", False))
    bench = Workbench(tmp_path_factory.mktemp("workbench"), free_port(), press)
    bench.start()
    yield bench
    bench.kill()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """The system's Chromium.

    Gone with the module: while it is driven, nothing else in this process may start an event loop.
    """
    if CHROMIUM is None:
        pytest.skip("no Chromium found: install the system's chromium package")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        chromium = play.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield chromium
        chromium.close()


@pytest.fixture
def page(browser: Browser, workbench: Workbench) -> Iterator[Page]:
    """A page of a fresh visitor; every address it asks for is written down."""
    context = browser.new_context(base_url=workbench.address)
    context.set_default_timeout(60_000)
    workbench.sent.clear()
    context.on("request", lambda request: workbench.sent.append(request.url))
    fresh = context.new_page()
    broken: list[str] = []
    fresh.on("pageerror", lambda error: broken.append(str(error)))
    yield fresh
    context.close()
    assert broken == []
