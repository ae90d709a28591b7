"""Multi-disc press on one accelerator: speed, arithmetic, bytes, agreement with the CPU.

Run: ``python benchmarks/press_gpu.py [--samples 1000000]``. Needs jax with a GPU, numpy, scipy and
``src`` on the path. Prints one JSON object; ``--out FILE`` also writes it.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from pathlib import Path
from typing import Any

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "src")]

import numpy as np
from press_cases import draws

from cakewright.machines import screw_program
from cakewright.machines.pressing_path import PathStatus, checked_inputs
from cakewright.physics.expression.device import jax, jnp

TENS = ("cake_solids", "capture", "residence", "torque", "pressing_start")


def columns_of(count: int) -> tuple[dict[str, np.ndarray], dict[str, float]]:
    case = draws(count)
    columns = {k: np.ascontiguousarray(v) for k, v in checked_inputs(*case[:4]).items()}
    return columns, case[4].numbers()


def run(columns: dict[str, Any], numbers: dict[str, float]) -> dict[str, Any]:
    return screw_program.answers(columns, numbers, how=screw_program.FINE, creeps=True)


def counted(columns: dict[str, Any], numbers: dict[str, float]) -> dict[str, float]:
    """Operations and bytes by hand: the compiler counts a loop's body once."""
    how = screw_program.FINE
    count = len(columns["speed"])
    coarse = how.searches * how.coarse_cells * how.coarse_steps
    fine = 2 * how.cells * how.steps
    abrupt = 3 * 3 * (2 * how.cells + how.searches * how.coarse_cells)  # extra Newton steps
    cell_steps = coarse + fine + abrupt
    # per cell and step: log and exp 20 each, sweep with two right sides 16, balance and matrix 40
    operations = 96.0 * cell_steps * count
    # state, coefficients and sweep rows: about 24 arrays read or written once per cell and step
    return {
        "cell_steps_per_sample": float(cell_steps),
        "operations": operations,
        "bytes_if_every_array_goes_to_memory": 24.0 * 8.0 * cell_steps * count,
    }


def timed(columns: dict[str, np.ndarray], numbers: dict[str, float], chunk: int) -> float:
    """Best of three passes over all samples in chunks already on the device."""
    count = len(columns["speed"])
    chunks = [
        jax.device_put({k: v[i : i + chunk] for k, v in columns.items()})
        for i in range(0, count, chunk)
    ]
    jax.block_until_ready(
        [run(one, numbers) for one in {len(c["speed"]): c for c in chunks}.values()]
    )
    best = np.inf
    for _ in range(3):
        start = time.perf_counter()
        jax.block_until_ready([run(one, numbers)["cake_solids"] for one in chunks])
        best = min(best, time.perf_counter() - start)
    return float(best)


def agreement(numbers: dict[str, float]) -> dict[str, Any]:
    """Largest relative difference between CPU and the default device on 1,000 samples."""
    columns, _ = columns_of(1000)
    here = {k: np.asarray(v) for k, v in run(columns, numbers).items()}
    with jax.default_device(jax.devices("cpu")[0]):
        there = {k: np.asarray(v) for k, v in run(columns, numbers).items()}
    fine = (here["status"] == PathStatus.ANSWER) & (there["status"] == PathStatus.ANSWER)
    rows = {k: float(np.max(np.abs(here[k][fine] / there[k][fine] - 1.0))) for k in TENS}
    return {
        "samples": int(fine.sum()),
        "status_differs": int(np.sum(here["status"] != there["status"])),
        **rows,
    }


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--samples", type=int, default=1_000_000)
    parser.add_argument("--chunk", type=int, default=262_144)
    parser.add_argument("--out", type=Path)
    arguments = parser.parse_args()
    columns, numbers = columns_of(arguments.samples)
    device = jax.devices()[0]
    start = time.perf_counter()
    first = {k: v[: arguments.chunk] for k, v in columns.items()}
    jax.block_until_ready(run(first, numbers))
    compile_seconds = time.perf_counter() - start
    seconds = timed(columns, numbers, arguments.chunk)
    work = counted(columns, numbers)
    report = {
        "card": f"{device.platform} {device.device_kind}",
        "jax": jax.__version__,
        "float": str(jnp.zeros(1).dtype),
        "samples": arguments.samples,
        "chunk": arguments.chunk,
        "first_call_s": compile_seconds,
        "seconds": seconds,
        "samples_per_second": arguments.samples / seconds,
        **work,
        "operations_per_second": work["operations"] / seconds,
        "bytes_per_second": work["bytes_if_every_array_goes_to_memory"] / seconds,
        "cpu_against_device": agreement(numbers),
    }
    text = json.dumps(report, indent=2)
    print(text)
    if arguments.out:
        arguments.out.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
