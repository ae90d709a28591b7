"""How often an odd run is named, and how often an honest trial is accused.

`python benchmarks/calibrate_contradictions.py [--trials 40]` writes
benchmarks/results/contradictions.json. Every made-up trial is judged as it is, and again with the
cake of one run read too high by each of several factors.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np
from trials_made_up import in_processes, made_up, with_odd_run

from cakewright.jobs.calibration_density import Density, most_likely
from cakewright.jobs.contradictions import Contradictions, contradictions_of
from cakewright.jobs.trial import Trial, calibration_table

FACTORS = (1.1, 1.2, 1.3, 1.5)


def judged(trial: Trial) -> Contradictions:
    """What is said of a trial."""
    density = Density(trial)
    return contradictions_of(density, most_likely(density))


def _told(trials: list[Trial], odd: list[str], workers: int) -> dict[str, float]:
    found = in_processes(judged, trials, workers)
    right = np.mean([f.accused == name for f, name in zip(found, odd, strict=True)])
    spread = np.sqrt(right * (1.0 - right) / len(found))
    return {
        "named_rightly": round(float(right), 3),
        "standard_error": round(float(spread), 3),
        "another_named": round(
            float(np.mean([f.accused not in ("", n) for f, n in zip(found, odd, strict=True)])), 3
        ),
        "said_to_contradict": round(float(np.mean([bool(f.words) for f in found])), 3),
    }


def main() -> None:
    """Judge all and write the record."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--trials", type=int, default=40)
    parser.add_argument("--workers", type=int, default=2)
    asked = parser.parse_args()
    count, workers = asked.trials, asked.workers
    rng = np.random.default_rng(31)
    honest = [made_up(np.random.default_rng([31, n]))[0] for n in range(count)]
    places = [int(rng.choice([i for i, r in enumerate(t.runs) if r.ran])) for t in honest]
    record: dict[str, object] = {
        "command": f"python benchmarks/calibrate_contradictions.py --trials {count}",
        "trials": count,
        "false_alarm_stated": calibration_table()["contradiction"]["false_alarm"],
    }
    clean = in_processes(judged, honest, workers)
    record["honest"] = {
        "a_run_named": round(float(np.mean([bool(f.accused) for f in clean])), 3),
        "said_to_contradict": round(float(np.mean([bool(f.words) for f in clean])), 3),
        "least_chance_of_a_run": sorted(round(float(f.chances.min()), 4) for f in clean)[:10],
    }
    print(record["honest"], flush=True)
    rows = {}
    for factor in FACTORS:
        odd = [with_odd_run(t, at, factor) for t, at in zip(honest, places, strict=True)]
        names = [t.runs[at].name for t, at in zip(honest, places, strict=True)]
        rows[f"cake x {factor}"] = _told(odd, names, workers)
        print(factor, rows[f"cake x {factor}"], flush=True)
    record["one_odd_run"] = rows
    path = Path(__file__).parent / "results" / "contradictions.json"
    path.write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
