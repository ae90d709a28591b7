"""Multi-disc press: 10,000 samples, one point, first call; against SciPy's stiff integrator.

Run: ``python benchmarks/press_speed.py [--samples 10000] [--rivals 20]``. Writes
``benchmarks/results/press_speed.json``. Best of several rounds: the machine may be shared.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
from press_cases import draws
from press_reference import Press

from cakewright.machines.pressing_path import checked_inputs
from cakewright.machines.screw.path import screw_path

RESULT = Path(__file__).parent / "results" / "press_speed.json"
_SOURCE = str(Path(__file__).parents[1] / "src")
FIRST = """
import time; start = time.perf_counter()
from press_cases import draws
from cakewright.machines.screw.path import screw_path
screw_path(*draws(1))
print(time.perf_counter() - start)
"""


def best(call, rounds: int) -> float:
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)


def first_call(cache: str) -> float:
    """A fresh process: import, trace, compile or load, answer."""
    environment = dict(os.environ, CAKEWRIGHT_COMPILE_CACHE=cache, PYTHONPATH=_SOURCE)
    done = subprocess.run(
        [sys.executable, "-c", FIRST], env=environment, capture_output=True, text=True, check=True,
        cwd=Path(__file__).parent,
    )  # fmt: skip
    return float(done.stdout)


def rivals(case, result, count: int) -> tuple[float, float, int]:
    """Seconds per sample of the SciPy loop, largest relative difference of cake solids, number."""
    columns = checked_inputs(*case[:4])
    numbers = case[4].numbers()
    answered = np.flatnonzero(result.answered)[:count]
    seconds, worst = [], 0.0
    for i in answered:
        press = Press({k: float(v[i]) for k, v in columns.items()}, numbers)
        earliest = float(result.details["earliest_start"][i]) + 1e-9
        start = time.perf_counter()
        cake = press.solve(earliest)
        seconds.append(time.perf_counter() - start)
        worst = max(worst, abs(cake / float(result.cake_solids[i]) - 1.0))
    return float(np.mean(seconds)), worst, len(answered)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--samples", type=int, default=10_000)
    parser.add_argument("--rivals", type=int, default=20)
    parser.add_argument("--rounds", type=int, default=5)
    arguments = parser.parse_args()
    case = draws(arguments.samples)
    still = draws(arguments.samples, creep=0.0)
    one = draws(1)
    result = screw_path(*case)
    seconds = best(lambda: screw_path(*case), arguments.rounds)
    without = best(lambda: screw_path(*still), arguments.rounds)
    screw_path(*one)
    point = best(lambda: screw_path(*one), 20)
    from cakewright.machines.screw.program import REFINED

    few = draws(1024)
    coarse, fine = screw_path(*few), screw_path(*few, REFINED)
    both = coarse.answered & fine.answered
    error = np.abs(coarse.cake_solids[both] / fine.cake_solids[both] - 1.0)
    rival, difference, number = rivals(case, result, arguments.rivals)
    report = {
        "command": "python benchmarks/press_speed.py " + " ".join(sys.argv[1:]),
        "machine": {"cpu": _processor(), "cores": os.cpu_count(), "load": os.getloadavg()[0]},
        "note": f"best of {arguments.rounds} rounds on a shared machine; the SciPy loop is timed "
        f"on {number} samples and scaled",
        "samples": arguments.samples,
        "seconds": seconds,
        "seconds_without_creep": without,
        "answered_share": float(np.mean(result.answered)),
        "causes": result.counts(),
        "one_point_warm_ms": 1e3 * point,
        "first_call_cached_s": min(first_call("") for _ in range(3)),
        "first_call_compiling_s": first_call("off"),
        "error_against_refined": {
            "largest": float(error.max()),
            "99 %": float(np.quantile(error, 0.99)),
            "median": float(np.median(error)),
            "samples": int(both.sum()),
        },
        "scipy_seconds_per_sample": rival,
        "scipy_largest_relative_difference": difference,
        "times_faster_than_scipy": rival / (seconds / arguments.samples),
    }
    RESULT.parent.mkdir(exist_ok=True)
    RESULT.write_text(json.dumps(report, indent=2) + "\n", encoding="utf-8")
    print(json.dumps(report, indent=2))


def _processor() -> str:
    info = Path("/proc/cpuinfo")
    if not info.exists():
        return platform.processor()
    rows = info.read_text(encoding="utf-8").splitlines()
    return next((r.split(":")[1].strip() for r in rows if r.startswith("model name")), "unknown")


if __name__ == "__main__":
    main()
