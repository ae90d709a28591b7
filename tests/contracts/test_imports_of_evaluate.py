"""What the main job does not load before its first result."""

from __future__ import annotations

import subprocess
import sys


def test_evaluate_loads_no_heavy_library() -> None:
    """Neither the library of distributions nor that of signals, nor the press, is on its way."""
    code = (
        "import sys, cakewright.storage.evaluation\n"
        "print(*[m for m in ('scipy.stats', 'scipy.signal', 'jax', 'pandas') if m in sys.modules])"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.split() == []
