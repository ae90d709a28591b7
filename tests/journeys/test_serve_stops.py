"""How the real server stops: at once, with code 0, nothing lost."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest


@pytest.mark.skipif(os.name == "nt", reason="signals are others there")
@pytest.mark.parametrize("sign", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_stops_the_server_with_code_0(tmp_path: Path, sign: signal.Signals) -> None:
    """Ctrl-C and the service manager's signal end it in a few seconds, and it says so."""
    command = [sys.executable, "-m", "cakewright", "serve", "--port", "0", "--no-open"]
    store = ["--store", str(tmp_path / "s.sqlite"), "--no-press"]
    environment = {**os.environ, "CAKEWRIGHT_PROCESSES": "1"}
    server = subprocess.Popen(
        [*command, *store], stdout=subprocess.PIPE, text=True, env=environment
    )
    assert server.stdout is not None
    assert server.stdout.readline().startswith("Workbench: ")
    time.sleep(1.0)
    server.send_signal(sign)
    told, _ = server.communicate(timeout=30)
    assert server.returncode == 0
    assert "Everything confirmed is kept" in told
