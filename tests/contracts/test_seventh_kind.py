"""A further kind of machine is one new folder, and no edit elsewhere."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

RUN = Path(__file__).parent / "kinds" / "run.py"
TOLD = """\
last of all: toy_drain toy_drain
meant: toy_drain
drawn: belt_conveyor
battery: True
cakes rise: True
slope: 0.5
expected: True
chosen: toy_drain toy_drain ['cake_solids', 'capture']
"""


def test_a_folder_is_all_a_kind_needs() -> None:
    """A toy kind passes the battery, answers a notebook and is drawn, chosen, pressed and told."""
    done = subprocess.run([sys.executable, str(RUN)], capture_output=True, text=True, check=False)
    assert done.stdout == TOLD, done.stderr[-2000:]
