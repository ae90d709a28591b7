"""Forty studies by one process, by two, and by two Dask workers: wall time and what was lost.

    python benchmarks/decide_portfolio.py [studies]

Writes `benchmarks/results/decide_portfolio.json`. Rival: one worker, in the same run.
"""

from __future__ import annotations

import json
import os
import platform
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import Executor
from pathlib import Path

from cakewright.storage.portfolio import (
    dask_executor,
    evaluate_tasks,
    find_tasks,
    process_executor,
)
from cakewright.storage.studies import DEMOS, demo_text

_ROUNDS = 2
TARGET = Path(__file__).parent / "results" / "decide_portfolio.json"


def write_studies(folder: Path, count: int) -> None:
    """Demonstrations with another seed each."""
    for index in range(count):
        text = demo_text(DEMOS[index % len(DEMOS)])
        text += f"\n[sampling]\nsamples = 512\nseed = {index + 1}\n"
        (folder / f"study-{index:03d}.toml").write_text(text, encoding="utf-8")


def timed(folder: Path, start: Callable[[], Executor]) -> dict[str, float]:
    """Wall time of a whole portfolio; processor time of this process and its children (the
    workers of a cluster are not its children)."""
    before, wall = os.times(), time.monotonic()
    with tempfile.TemporaryDirectory() as out:
        outcomes = evaluate_tasks(find_tasks(folder), Path(out), start, lambda _: None)
    after = os.times()
    used = (after.user + after.children_user) - (before.user + before.children_user)
    return {
        "wall_s": time.monotonic() - wall,
        "cpu_s": used,
        "failed": float(sum(bool(outcome.failed) for outcome in outcomes)),
    }


def main(count: int) -> None:
    """Time the three ways in turn, twice, and write the better of each.

    The machine may be busy with other things: the load average stands beside the result.
    """
    from distributed import LocalCluster

    found: dict[str, object] = {
        "studies": count,
        "samples": 512,
        "rounds": _ROUNDS,
        "processors": os.cpu_count(),
        "load_before": os.getloadavg()[0],
        "python": platform.python_version(),
    }
    cluster = LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=2,
        threads_per_worker=1,
        processes=True,
        host="127.0.0.1",
        dashboard_address=None,
    )
    ways: dict[str, Callable[[], Executor]] = {
        "one process": lambda: process_executor(1),
        "two processes": lambda: process_executor(2),
        "two Dask workers": lambda: dask_executor(cluster.scheduler_address),
    }
    runs: dict[str, list[dict[str, float]]] = {name: [] for name in ways}
    with tempfile.TemporaryDirectory() as place, cluster:
        folder = Path(place)
        write_studies(folder, count)
        for _ in range(_ROUNDS):
            for name, start in ways.items():
                runs[name].append(timed(folder, start))
    best = {name: min(rows, key=lambda row: row["wall_s"]) for name, rows in runs.items()}
    found |= {"best": best, "all_wall_s": {n: [r["wall_s"] for r in x] for n, x in runs.items()}}
    for name in ("two processes", "two Dask workers"):
        found[f"speedup, {name}"] = best["one process"]["wall_s"] / best[name]["wall_s"]
    found["load_after"] = os.getloadavg()[0]
    TARGET.parent.mkdir(exist_ok=True)
    TARGET.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(found, indent=1))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
