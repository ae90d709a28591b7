"""A million samples of the multi-disc press on the CPU: peak memory stays bounded by chunking.

Run: ``python benchmarks/press_memory.py [--samples 1000000]``. Writes
``benchmarks/results/press_memory.json``.
"""

from __future__ import annotations

import argparse
import json
import resource
import sys
import time
from pathlib import Path

from press_cases import draws

from cakewright.machines.screw.path import screw_path

RESULT = Path(__file__).parent / "results" / "press_memory.json"


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--samples", type=int, default=1_000_000)
    arguments = parser.parse_args()
    case = draws(arguments.samples)
    start = time.perf_counter()
    answer = screw_path(*case)
    seconds = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0**2
    report = {
        "command": "python benchmarks/press_memory.py " + " ".join(sys.argv[1:]),
        "samples": arguments.samples,
        "seconds_on_a_shared_machine": seconds,
        "peak_memory_GiB": peak,
        "causes": answer.counts(),
    }
    RESULT.write_text(json.dumps(report, indent=2) + "\n", encoding="utf-8")
    print(json.dumps(report, indent=2))


if __name__ == "__main__":
    main()
