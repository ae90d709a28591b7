"""Posterior of eight machine parameters from twelve runs: time, second method, coverage.

`python benchmarks/calibrate_posterior.py [--trials 100]` writes benchmarks/results/calibrate.json.
Coverage: machines and laws are drawn from what is believed before the trial, trials are made up
with the readings' noise, and the share of hidden scores inside their 80 % bands is counted.
With ``--trials 0`` only the time is measured anew, with ``--untimed`` only the coverage; the other
part of the record is kept.
"""

from __future__ import annotations

import argparse
import json
import os
import time
from pathlib import Path

import numpy as np
from trials_made_up import in_processes, made_up

from cakewright.errors import DisagreementError
from cakewright.jobs.calibrate import calibrate

TIMED = 3


Judged = tuple[tuple[str, ...], np.ndarray, np.ndarray, bool]


def _one(number: int) -> Judged | None:
    """Names, hidden scores inside their bands, their ranks, and whether a run is accused."""
    trial, hidden = made_up(np.random.default_rng([11, number]))
    try:
        found = calibrate(trial, "made up", with_check=False)
    except DisagreementError:
        return None
    low, high = np.quantile(found.draws, (0.1, 0.9), axis=0)
    inside = (hidden > low) & (hidden < high)
    ranks = np.mean(found.draws < hidden, axis=0)
    print(f"{number}: {np.mean(inside):.3f} inside", flush=True)
    return trial.names, inside, ranks, bool(found.contradictions)


def coverage(trials: int, workers: int) -> dict[str, object]:
    """Share of hidden scores inside 80 % bands over many trials, ranks, and refusals."""
    judged = in_processes(_one, range(trials), workers)
    told = [one for one in judged if one is not None]
    names = told[0][0]
    inside, ranks = [one[1] for one in told], [one[2] for one in told]
    refused, flagged = trials - len(told), sum(one[3] for one in told)
    count = len(inside)
    return {
        "trials": trials,
        "refused": refused,
        "honest_trials_said_to_contradict": flagged,
        "inside_80_percent_band": float(np.mean(inside)),
        "standard_error": float(np.std([np.mean(i) for i in inside]) / np.sqrt(count)),
        "standard_error_of_one_parameter": float(np.sqrt(0.16 / count)),
        "by_parameter": _by_name(names, np.mean(inside, axis=0)),
        "mean_rank_of_hidden": _by_name(names, np.mean(ranks, axis=0)),
    }


def _by_name(names: tuple[str, ...], values: np.ndarray) -> dict[str, float]:
    return dict(zip(names, [round(float(v), 3) for v in values], strict=True))


def timed() -> dict[str, object]:
    """Posteriors with their second method, wall and processor seconds, the programs loaded."""
    rows = []
    for number in range(TIMED):
        trial, _ = made_up(np.random.default_rng([4, number]), all_ran=True)
        trial.predicted(np.zeros((1, trial.size)))
        wall, cpu = time.perf_counter(), time.process_time()
        found = calibrate(trial, "made up")
        rows.append((time.perf_counter() - wall, time.process_time() - cpu, found.agreement))
    return {
        "parameters": trial.size,
        "law_parameters_drawn_with_them": trial.law_size,
        "runs": len(trial.runs),
        "readings": int(trial.data.size),
        "wall_s": [round(row[0], 1) for row in rows],
        "processor_s": [round(row[1], 1) for row in rows],
        "agreement": [row[2] for row in rows],
    }


def main() -> None:
    """Run both and write the record."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--trials", type=int, default=100)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--untimed", action="store_true")
    asked = parser.parse_args()
    path = Path(__file__).parent / "results" / "calibrate.json"
    before = json.loads(path.read_text("utf-8"))
    record = {
        "command": f"python benchmarks/calibrate_posterior.py --trials {asked.trials}",
        "last_run_on": {"cores": os.cpu_count(), "load": os.getloadavg()[0]},
        "posterior": before["posterior"] if asked.untimed else timed(),
        "coverage": coverage(asked.trials, asked.workers) if asked.trials else before["coverage"],
    }
    print(json.dumps(record, indent=1))
    path.write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
