"""Build the wheel, install it alone into a fresh folder, and use what was built.

The locked dependencies come from this environment; only the package itself comes from the wheel,
so a data file that was left out of it is noticed.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def build(folder: Path) -> Path:
    """The wheel, built by the declared backend."""
    code = f"import flit_core.buildapi as b; print(b.build_wheel({str(folder)!r}))"
    name = subprocess.check_output([sys.executable, "-c", code], cwd=ROOT, text=True).strip()
    return folder / name.splitlines()[-1]


def main() -> int:
    """Build, unpack, run."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        wheel = build(folder)
        site = folder / "site"
        with zipfile.ZipFile(wheel) as archive:
            archive.extractall(site)
        environment = {**os.environ, "PYTHONPATH": str(site)}
        where = "import cakewright, sys; sys.exit(not cakewright.__file__.startswith(sys.argv[1]))"
        subprocess.run([sys.executable, "-c", where, str(site)], check=True, env=environment)
        out = folder / "out"
        command = [sys.executable, "-m", "cakewright", "evaluate", "--out", str(out)]
        subprocess.run(command, check=True, env=environment, cwd=folder, stdout=subprocess.DEVNULL)
        print(f"{wheel.name}: {len(list(out.iterdir()))} outputs from the built wheel")
    return 0


if __name__ == "__main__":
    sys.exit(main())
