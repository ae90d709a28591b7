"""Posterior of eight machine parameters from twelve runs: time, second method, coverage.

`python benchmarks/calibrate_posterior.py [--trials 40]` writes benchmarks/results/calibrate.json.
Coverage: machines and laws are drawn from what is believed before the trial, trials are made up
with the readings' noise, and the share of hidden scores inside their 80 % bands is counted.
"""

from __future__ import annotations

import argparse
import json
import os
import time
from pathlib import Path

import numpy as np

from cakewright.errors import DisagreementError
from cakewright.jobs.calibrate import calibrate
from cakewright.jobs.screw_case import screw_geometry
from cakewright.jobs.trial import PilotRun, Trial
from cakewright.machines import Kind, shipped_catalogue
from cakewright.machines.frames import frame_named
from cakewright.quantities import Basis
from cakewright.sludge.law import LawParameter, SludgeLaw
from cakewright.sludge.law_prior import prior_of_class

FRAME = "disc 200 x 1"
# turns a minute, kPa, kg/h, feed %, kg/t
SETTINGS = (
    (2.0, 40, 8.0, 1.2, 11), (3.0, 40, 8.0, 1.2, 11), (4.5, 40, 8.0, 1.2, 11),
    (3.0, 25, 8.0, 1.2, 11), (3.0, 70, 8.0, 1.2, 11), (3.0, 40, 5.5, 1.2, 11),
    (4.0, 40, 11.0, 1.2, 11), (3.0, 40, 8.0, 2.0, 11), (3.0, 40, 8.0, 1.2, 8.5),
    (3.0, 40, 8.0, 1.2, 13.5), (2.0, 60, 6.0, 1.5, 11), (4.5, 60, 10.0, 1.5, 11),
)  # fmt: skip


def law() -> SludgeLaw:
    """The class prior with a quarter of its spread."""
    prior = prior_of_class("industrial_biological")
    parameters = tuple(
        LawParameter(p.name, p.value, 0.25 * p.sd, Basis.BENCH, "OWN", learnt=0.94)
        for p in prior.parameters
    )
    return SludgeLaw("made up", "industrial_biological", parameters, prior.covariance / 16.0)


def trial_of(runs: list[PilotRun]) -> Trial:
    """Runs on the frame."""
    geometry = screw_geometry(frame_named(FRAME, shipped_catalogue()))
    return Trial(Kind.MULTI_DISC_SCREW_PRESS, FRAME, geometry, law(), tuple(runs), (2e4, 1.5e5))


def made_up(rng: np.random.Generator, hidden_law: bool) -> tuple[Trial, np.ndarray]:
    """A trial of a hidden machine that can run at least eight of the settings."""
    runs = [
        PilotRun(f"R{i}", n / 60, m / 3600, ts / 100, dose / 1000,
                 {"cake_solids": (0.12, 0.004), "capture": (0.93, 0.012)},
                 back_pressure=1000.0 * p)
        for i, (n, p, m, ts, dose) in enumerate(SETTINGS, start=1)
    ]  # fmt: skip
    trial = trial_of(runs)
    while True:
        scores = rng.standard_normal(trial.size)
        sludge = rng.standard_normal(trial.law_size) * hidden_law
        rows, missed = trial.predicted_with_reach(scores[None, :], sludge[None, :])
        if np.sum(missed[0] == 0.0) >= 8:
            break
    noisy = rows[0] + rng.standard_normal(rows.shape[1]) * trial.noise
    kept: list[PilotRun] = []
    for i, run in enumerate(runs):
        if missed[0, i] == 0.0:
            at = [k for k, (r, _) in enumerate(trial.observed) if r == i]
            cake, capture = float(np.exp(noisy[at[0]])), min(float(noisy[at[1]]), 0.999)
            readings = {"cake_solids": (cake, 0.004), "capture": (capture, 0.012)}
            kept.append(PilotRun(run.name, run.speed, run.dry_solids_flow, run.feed_solids,
                                 run.dose, readings, back_pressure=run.back_pressure))  # fmt: skip
    return trial_of(kept), scores


def coverage(trials: int) -> dict[str, object]:
    """Share of hidden scores inside 80 % bands over many trials, and refusals."""
    rng = np.random.default_rng(11)
    inside: list[np.ndarray] = []
    refused = flagged = 0
    for _ in range(trials):
        trial, hidden = made_up(rng, hidden_law=True)
        try:
            found = calibrate(trial, "made up", with_check=False)
        except DisagreementError:
            refused += 1
            continue
        low, high = np.quantile(found.draws, (0.1, 0.9), axis=0)
        inside.append((hidden > low) & (hidden < high))
        flagged += bool(found.contradictions)
        print(f"{len(inside)} of {trials}: {np.mean(inside):.2f} inside", flush=True)
    names = trial.names
    share = np.mean(inside, axis=0)
    return {
        "trials": trials,
        "refused": refused,
        "honest_trials_said_to_contradict": flagged,
        "inside_80_percent_band": float(np.mean(inside)),
        "standard_error": float(np.std([np.mean(i) for i in inside]) / np.sqrt(len(inside))),
        "by_parameter": dict(zip(names, [float(s) for s in share], strict=True)),
    }


def timed() -> dict[str, object]:
    """One posterior with its second method, wall and processor seconds, the programs loaded."""
    rng = np.random.default_rng(4)
    trial, _ = made_up(rng, hidden_law=False)
    while len(trial.runs) < 12:
        trial, _ = made_up(rng, hidden_law=False)
    trial.predicted(np.zeros((1, trial.size)))
    wall, cpu = time.perf_counter(), time.process_time()
    found = calibrate(trial, "made up")
    return {
        "parameters": trial.size,
        "runs": len(trial.runs),
        "readings": int(trial.data.size),
        "wall_s": time.perf_counter() - wall,
        "processor_s": time.process_time() - cpu,
        "agreement": found.agreement,
    }


def main() -> None:
    """Run both and write the record."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--trials", type=int, default=40)
    asked = parser.parse_args()
    record = {
        "command": f"python benchmarks/calibrate_posterior.py --trials {asked.trials}",
        "machine": {"cores": os.cpu_count(), "load": os.getloadavg()[0]},
        "posterior": timed(),
        "coverage": coverage(asked.trials) if asked.trials else None,
    }
    print(json.dumps(record, indent=1))
    path = Path(__file__).parent / "results" / "calibrate.json"
    path.write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
