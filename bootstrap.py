"""Set up Cakewright in a fresh checkout and run it: `python bootstrap.py demo` or `test`.

Needs Python 3.11 or newer and nothing else. Makes `.venv`, installs the locked dependencies when
the lock changed, installs the project, then runs the main job or the tests.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
LOCKS = {
    "demo": ROOT / "requirements" / "run.lock",
    "test": ROOT / "requirements" / "dev.lock",
}


def run(*command: str, **environment: str) -> int:
    """Run one command here; return its exit code."""
    return subprocess.call(list(command), cwd=ROOT, env={**os.environ, **environment})


def must(*command: str) -> None:
    """Run one command; stop with its exit code when it fails."""
    code = run(*command)
    if code:
        sys.exit(code)


def set_up(lock: Path) -> None:
    """Make the environment and bring it up to the lock."""
    if not PYTHON.exists():
        print(f"making {VENV.name} with Python {sys.version.split()[0]}")
        venv.create(VENV, with_pip=True)
    stamp = VENV / f"{lock.stem}.installed"
    wanted = hashlib.sha256(lock.read_bytes()).hexdigest()
    if not stamp.exists() or stamp.read_text() != wanted:
        print(f"installing the locked packages of {lock.name} (once; minutes on a slow line)")
        pip = (str(PYTHON), "-m", "pip", "install", "--quiet", "--disable-pip-version-check")
        must(*pip, "--require-hashes", "--only-binary=:all:", "-r", str(lock))
        stamp.write_text(wanted)
    link_project()


def link_project() -> None:
    """Put `src` on the environment's path and add the `cakewright` command."""
    code = "import sysconfig; print(sysconfig.get_path('purelib'))"
    site = subprocess.check_output([str(PYTHON), "-c", code], text=True).strip()
    (Path(site) / "cakewright-checkout.pth").write_text(str(ROOT / "src") + "\n")


def demo(arguments: list[str]) -> int:
    """Run the main job on the demonstration study that ships with the package."""
    return run(str(PYTHON), "-m", "cakewright", "evaluate", "--press", *arguments)


def test(arguments: list[str]) -> int:
    """Run all tests."""
    # In the order of the files: the journeys are long, and none is left alone at the end.
    order = ["--dist", "loadfile", "--no-loadscope-reorder"]
    spread = ["-n", str(min(4, os.cpu_count() or 1)), *order]
    return run(str(PYTHON), "-m", "pytest", *spread, *arguments)


def main(arguments: list[str]) -> int:
    """Dispatch on the one word given."""
    if sys.version_info < (3, 11):
        print(f"Python 3.11 or newer is needed; this is {sys.version.split()[0]}")
        return 2
    if not arguments or arguments[0] not in LOCKS:
        print("usage: python bootstrap.py demo    set up and run the main job")
        print("       python bootstrap.py test    set up and run the tests")
        return 2
    verb, rest = arguments[0], arguments[1:]
    set_up(LOCKS[verb])
    return demo(rest) if verb == "demo" else test(rest)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
