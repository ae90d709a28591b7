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
COMMAND = VENV / ("Scripts/cakewright.exe" if os.name == "nt" else "bin/cakewright")
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
    pip = (str(PYTHON), "-m", "pip", "install", "--quiet", "--disable-pip-version-check")
    if is_new(lock):
        print(f"installing the locked packages of {lock.name} (once; minutes on a slow line)")
        must(*pip, "--require-hashes", "--only-binary=:all:", "-r", str(lock))
        keep(lock)
    project = ROOT / "pyproject.toml"
    if is_new(project) or not COMMAND.exists():
        # Editable, by the locked build tool: the `cakewright` command on every system.
        must(*pip, "--no-deps", "--no-build-isolation", "--editable", str(ROOT))
        keep(project)


def stamp_of(file: Path) -> Path:
    """Where it is kept which state of a file the environment was made from."""
    return VENV / f"{file.stem}.installed"


def is_new(file: Path) -> bool:
    """Whether a file changed since the environment was made from it."""
    stamp = stamp_of(file)
    return not stamp.exists() or stamp.read_text() != hashlib.sha256(file.read_bytes()).hexdigest()


def keep(file: Path) -> None:
    """Note that the environment is made from this state of a file."""
    stamp_of(file).write_text(hashlib.sha256(file.read_bytes()).hexdigest())


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
