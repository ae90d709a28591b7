"""How often an odd run is named, and how often an honest trial is accused.

`python benchmarks/calibrate_contradictions.py [--trials 40]` writes
benchmarks/results/contradictions.json. Every made-up trial is judged as it is, and again with the
cake of one run read too high by each of several factors.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "src")]

import numpy as np
from trials_made_up import asked_of, made_up, side_by_side, with_odd_run

from cakewright.errors import DisagreementError
from cakewright.jobs.calibration_density import Density, better, most_likely
from cakewright.jobs.contradictions import Contradictions, contradictions_of
from cakewright.jobs.trial import Trial, calibration_table
from cakewright.statistics.population import tempered_population

FACTORS = (1.1, 1.2, 1.3, 1.5)
SEED = 31


def judged(trial: Trial) -> Contradictions:
    """What is said of a trial; nothing where the posterior is refused."""
    density = Density(trial)
    try:
        draws = tempered_population(density.log_density, density.prior).draws
    except DisagreementError:
        return Contradictions((), np.zeros(0), np.ones(1), "", 1.0)
    mode = better(density, most_likely(density), draws)
    return contradictions_of(density, mode, draws)


def _told(trials: list[Trial], odd: list[str], workers: int) -> dict[str, float]:
    found = side_by_side(judged, trials, workers)
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


def _least(found: Contradictions) -> float:
    """Least chance of a run, shared by all that were judged."""
    return float(found.chances.min()) * int(np.sum(found.chances < 1.0))


def main() -> None:
    """Judge all and write the record."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--trials", type=int, default=40)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--factors", type=float, nargs="*", default=FACTORS)
    parser.add_argument("--odd", type=int, help="Trials judged again with an odd run.")
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    count, workers = asked.trials, asked.workers
    rng = np.random.default_rng(asked.seed)
    drawn = lambda n: made_up(np.random.default_rng([asked.seed, n]))[0]  # noqa: E731
    honest = side_by_side(drawn, range(count), min(workers, 1))
    places = [int(rng.choice([i for i, r in enumerate(t.runs) if r.ran])) for t in honest]
    record: dict[str, object] = {
        "command": f"python benchmarks/calibrate_contradictions.py {asked_of(sys.argv)}",
        "trials": count,
        "trials_with_an_odd_run": min(count, asked.odd or count),
        "false_alarm_stated": calibration_table()["contradiction"]["false_alarm"],
    }
    clean = side_by_side(judged, honest, workers)
    record["honest"] = {
        "a_run_named": round(float(np.mean([bool(f.accused) for f in clean])), 3),
        "said_to_contradict": round(float(np.mean([bool(f.words) for f in clean])), 3),
        "least_shared_chance": [round(float(v), 5) for v in sorted(map(_least, clean))[:20]],
    }
    print(record["honest"], flush=True)
    rows = {}
    for factor in asked.factors:
        told = list(zip(honest, places, strict=True))[: asked.odd]
        odd = [with_odd_run(t, at, factor) for t, at in told]
        names = [t.runs[at].name for t, at in told]
        rows[f"cake x {factor}"] = _told(odd, names, workers)
        print(factor, rows[f"cake x {factor}"], flush=True)
    record["one_odd_run"] = rows
    path = asked.out or Path(__file__).parent / "results" / "contradictions.json"
    path.write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
