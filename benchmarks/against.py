"""This tree against an old commit: whole processes, alternated in one run in one environment.

    python benchmarks/against.py 6383fb7 [--runs 3] [--work evaluate ...]

The old commit stands in a temporary worktree of git. Processor time (user and system, of the
process and its children) and wall time of each work: medians and the ratio new over old, with the
load of the machine, kept in `benchmarks/results/against.json`.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[1]
RESULTS = Path(__file__).parent / "results" / "against.json"
EVALUATE = ["evaluate", "--demo", "soy", "--out"]
WORKS = {
    "evaluate": (EVALUATE, {"CAKEWRIGHT_PROCESSES": "1"}),
    "evaluate, two processes": (EVALUATE, {"CAKEWRIGHT_PROCESSES": "2"}),
    "evaluate --press": (["evaluate", "--demo", "soy", "--press", "--out"], {}),
    "help": (["--help"], {}),
}


def cost(tree: Path, work: str) -> tuple[float, float]:
    """Processor and wall seconds of one process on the code of one tree."""
    words, settings = WORKS[work]
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "cakewright", *words]
        command += [f"{folder}/out"] if words[-1] == "--out" else []
        before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
        subprocess.run(
            command,
            check=True,
            cwd=folder,
            env={**os.environ, "PYTHONPATH": str(tree / "src"), **settings},
            stdout=subprocess.DEVNULL,
        )
        wall, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, wall


def compared(work: str, old: Path, runs: int) -> dict[str, float]:
    """Medians of both trees, run in turn after one warm-up of each."""
    cost(old, work), cost(ROOT, work)
    pairs = [(cost(old, work), cost(ROOT, work)) for _ in range(runs)]
    found: dict[str, float] = {}
    for at, clock in enumerate(("processor", "wall")):
        then, now = (statistics.median(pair[tree][at] for pair in pairs) for tree in (0, 1))
        found |= {
            f"{clock}_old_s": round(then, 2),
            f"{clock}_new_s": round(now, 2),
            f"{clock}_ratio": round(now / then, 2),
        }
    return found


def main() -> None:
    """Measure, print, keep."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("commit")
    asked.add_argument("--runs", type=int, default=3)
    asked.add_argument("--work", nargs="*", choices=WORKS, default=list(WORKS))
    given = asked.parse_args()
    git = ["git", "-C", str(ROOT), "worktree"]
    with tempfile.TemporaryDirectory() as folder:
        old = Path(folder) / "old"
        subprocess.run([*git, "add", "-q", "--detach", str(old), given.commit], check=True)
        load = os.getloadavg()[0]
        try:
            found = {work: compared(work, old, given.runs) for work in given.work}
        finally:
            subprocess.run([*git, "remove", "--force", str(old)], check=True)
    record = {
        "command": " ".join(["python", "benchmarks/against.py", *sys.argv[1:]]),
        "runs": given.runs,
        "cores": os.cpu_count(),
        "load": {"before": round(load, 1), "after": round(os.getloadavg()[0], 1)},
        "machine": platform.machine(),
        "python": platform.python_version(),
        "results": found,
    }
    RESULTS.write_text(json.dumps(record, indent=2) + "\n", encoding="utf-8")
    print(json.dumps(record, indent=2))


if __name__ == "__main__":
    main()
