"""Posterior of eight machine parameters from twelve runs: time, second method, coverage.

`python benchmarks/calibrate_posterior.py [--trials 100]` writes benchmarks/results/calibrate.json.
Coverage: machines and laws are drawn from what is believed before the trial, trials are made up
with the readings' noise, and the share of hidden scores inside their 80 % bands is counted.
With ``--trials 0`` only the time is measured anew, with ``--untimed`` only the coverage; the other
part of the record is kept. ``--workers 0`` takes all trials in one batch, for an accelerator.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from pathlib import Path
from typing import NamedTuple

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "src")]

import numpy as np
from trials_made_up import asked_of, made_up, side_by_side

from cakewright.errors import DisagreementError
from cakewright.jobs.calibrate import calibrate, checked_by_chains, widened
from cakewright.jobs.calibration_density import Density
from cakewright.statistics.population import tempered_population

TIMED = 3
SEED = 12


class Judged(NamedTuple):
    """Hidden scores of one trial against its posterior: inside the 80 % bands, and their ranks."""

    names: tuple[str, ...]
    inside: np.ndarray
    ranks: np.ndarray
    inside_checked: np.ndarray | None
    pooled: bool
    effective: float


def _inside(draws: np.ndarray, hidden: np.ndarray) -> np.ndarray:
    low, high = np.quantile(draws[:, : hidden.size], (0.1, 0.9), axis=0)
    return np.asarray((hidden > low) & (hidden < high))


def _one(number: tuple[int, int]) -> Judged | None:
    """The first method alone, and what is reported once the second has looked at it."""
    trial, hidden = made_up(np.random.default_rng(number))
    density = Density(trial)
    try:
        first = tempered_population(density.log_density, density.prior)
    except DisagreementError:
        return None
    ranks = np.mean(first.draws[:, : trial.size] < hidden, axis=0)
    checked, pooled = None, False
    try:
        reported, word = checked_by_chains(density, first)
        checked, pooled = _inside(widened(reported).draws, hidden), "pooled" in word
    except DisagreementError:
        pass
    inside = _inside(first.draws, hidden)
    return Judged(trial.names, inside, ranks, checked, pooled, first.effective)


def coverage(trials: int, workers: int, seed: int) -> dict[str, object]:
    """Share of hidden scores inside 80 % bands over many trials, ranks, and refusals."""
    judged = side_by_side(_one, [(seed, number) for number in range(trials)], workers)
    told = [one for one in judged if one is not None]
    checked = [one for one in told if one.inside_checked is not None]
    names = told[0].names
    reported = np.array([one.inside_checked for one in checked], dtype=float)
    return {
        "trials": trials,
        "seed": seed,
        "first_method_gave_up": trials - len(told),
        "methods_too_far_apart_or_chains_gave_up": len(told) - len(checked),
        "pooled": sum(one.pooled for one in checked),
        "effective_draws_10_50_90": np.quantile([o.effective for o in told], (0.1, 0.5, 0.9))
        .round()
        .tolist(),
        "first_method": _share(names, np.array([one.inside for one in told], dtype=float)),
        "reported": _share(names, reported),
        "standard_error_of_one_parameter": float(np.sqrt(0.16 / len(told))),
        "mean_rank_of_hidden": _by_name(names, np.mean([one.ranks for one in told], axis=0)),
        "ranks_in_tenths": np.histogram([one.ranks for one in told], 10, (0.0, 1.0))[0].tolist(),
    }


def _share(names: tuple[str, ...], inside: np.ndarray) -> dict[str, object]:
    each = np.mean(inside, axis=1)
    return {
        "inside_80_percent_band": float(np.mean(inside)),
        "standard_error": float(np.std(each) / np.sqrt(len(each))),
        "by_parameter": _by_name(names, np.mean(inside, axis=0)),
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


def device() -> str:
    """What the pressing paths were run on."""
    import jax

    return str(jax.devices()[0].device_kind)


def main() -> None:
    """Run both and write the record."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--trials", type=int, default=100)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--untimed", action="store_true")
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    kept = Path(__file__).parent / "results" / "calibrate.json"
    path = asked.out or kept
    before = json.loads(kept.read_text("utf-8"))
    record = {
        "command": f"python benchmarks/calibrate_posterior.py {asked_of(sys.argv)}",
        "last_run_on": {
            "cores": os.cpu_count(),
            "load": os.getloadavg()[0],
            "batches_on": device(),
        },
        "posterior": before["posterior"] if asked.untimed else timed(),
        "coverage": coverage(asked.trials, asked.workers, asked.seed)
        if asked.trials
        else before["coverage"],
    }
    print(json.dumps(record, indent=1))
    path.write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
