"""Cold main job and help, as whole processes, beside what the same libraries cost just to import.

    python benchmarks/main_job.py [runs]

Rival of `--help`: a bare interpreter that imports click. Rival of `evaluate` (soy, all outputs)
and of `guarantee` (soy): an interpreter that imports numpy, scipy.stats and typst and compiles one
empty page. Each pair is run in turn; medians and the ratio of the medians are printed and kept in
`benchmarks/results/main_job.json`.
"""

from __future__ import annotations

import json
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

RESULTS = Path(__file__).parent / "results" / "main_job.json"
IMPORTS = "import numpy, scipy.stats, typst; typst.compile(b'x')"


def seconds(command: list[str]) -> float:
    """Wall time of one process."""
    start = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return time.perf_counter() - start


def pair(ours: list[str], rival: list[str], runs: int) -> dict[str, float]:
    """Medians of both, run in turn after one warm-up of each."""
    seconds(ours), seconds(rival)
    times = [(seconds(ours), seconds(rival)) for _ in range(runs)]
    mine, theirs = (statistics.median(t[i] for t in times) for i in (0, 1))
    return {"ours_s": round(mine, 3), "rival_s": round(theirs, 3), "ratio": round(mine / theirs, 2)}


def main() -> None:
    """Measure, print, keep."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    python = sys.executable
    with tempfile.TemporaryDirectory() as folder:
        evaluate = [python, "-m", "cakewright", "evaluate", "--out", f"{folder}/out"]
        guarantee = [python, "-m", "cakewright", "guarantee", "--out", f"{folder}/promised"]
        found = {
            "help": pair(
                [python, "-m", "cakewright", "--help"], [python, "-c", "import click"], runs
            ),
            "evaluate_soy": pair(evaluate, [python, "-c", IMPORTS], runs),
            "guarantee_soy": pair(guarantee, [python, "-c", IMPORTS], runs),
        }
    record = {
        "command": "python benchmarks/main_job.py",
        "runs": runs,
        "cores": os.cpu_count(),
        "machine": platform.machine(),
        "python": platform.python_version(),
        "limits_s": {"help": 0.3, "evaluate_soy": 5.0, "guarantee_soy": 10.0},
        "results": found,
    }
    RESULTS.write_text(json.dumps(record, indent=2) + "\n", encoding="utf-8")
    print(json.dumps(record, indent=2))


if __name__ == "__main__":
    main()
