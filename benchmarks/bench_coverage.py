"""How often 95 % intervals of the bench hold the truth: 1,000 simulated tests of each kind.

Run: ``python benchmarks/bench_coverage.py [repeats]``; writes results/bench_coverage.csv.
"""

from __future__ import annotations

import csv
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.unit.bench.simulated import (
    clue_design,
    dose_test,
    filtration_test,
    press_course_test,
    simulated_clues,
)

from cakewright.bench import (
    fit_dose_response,
    fit_filtration_pressure,
    fit_law,
    fit_press_course,
)
from cakewright.bench.filtration import FiltrationSpread
from cakewright.sludge.law import LAW_PARAMETERS
from cakewright.sludge.law_prior import prior_of_class

RESULTS = Path(__file__).parent / "results" / "bench_coverage.csv"
EXACT = FiltrationSpread(pressure_share=0.0, solids_share=0.0)
Hits = Iterator[tuple[str, bool]]


def filtration(rng: np.random.Generator) -> Hits:
    """Specific and medium resistance, straight part chosen by the program."""
    fit = fit_filtration_pressure(filtration_test(4e11, 6e10, rng), EXACT)
    for estimate, truth in zip(fit.estimates, (4e11, 6e10), strict=True):
        yield estimate.name, estimate.low < truth < estimate.high


def dose(rng: np.random.Generator) -> Hits:
    """Optimum dose, profile interval."""
    low, high = fit_dose_response(dose_test(6.5e-3, rng)).optimum_interval
    yield "optimum_dose", low < 6.5e-3 < high


def press(rng: np.random.Generator) -> Hits:
    """Consolidation coefficient, creep share and rate; rates well apart."""
    truth = (5e-8, 0.82, 1.2e-3)
    for estimate, value in zip(fit_press_course(press_course_test(*truth, rng)).estimates, truth,
                               strict=True):  # fmt: skip
        yield estimate.name, estimate.low < value < estimate.high


def press_alike(rng: np.random.Generator) -> Hits:
    """The same where consolidation and creep run equally fast: the hard case."""
    truth = (2e-9, 0.7, 1.5e-3)
    for estimate, value in zip(fit_press_course(press_course_test(*truth, rng)).estimates, truth,
                               strict=True):  # fmt: skip
        yield f"{estimate.name} (equal rates)", estimate.low < value < estimate.high


def law(rng: np.random.Generator) -> Hits:
    """Every law parameter, the true law drawn from the class's prior."""
    prior, design = prior_of_class("was"), clue_design()
    spread = np.sqrt(np.diag(prior.covariance))
    truth = prior.centre + spread * rng.standard_normal(len(spread))
    found = fit_law("s", simulated_clues(truth, rng, design), prior).law
    sd = np.sqrt(np.diag(found.covariance))
    for index, name in enumerate(LAW_PARAMETERS):
        yield f"law: {name}", bool(abs(found.centre[index] - truth[index]) < 1.959964 * sd[index])


PARTS: tuple[tuple[Callable[[np.random.Generator], Hits], float], ...] = (
    (filtration, 1.0),
    (dose, 1.0),
    (press, 1.0),
    (press_alike, 0.3),
    (law, 1.0),
)


def main(repeats: int) -> None:
    """Count hits, print and write the shares with their sampling error."""
    rows = []
    for part, share in PARTS:
        start = time.monotonic()
        trials = max(int(repeats * share), 10)
        rng = np.random.default_rng(2026)
        hits: dict[str, int] = {}
        for _ in range(trials):
            for name, inside in part(rng):
                hits[name] = hits.get(name, 0) + int(inside)
        for name, count in hits.items():
            covered = count / trials
            error = (0.95 * 0.05 / trials) ** 0.5
            verdict = "inside" if 0.93 <= covered <= 0.97 else "outside"
            rows.append((part.__name__, name, trials, f"{covered:.3f}", f"{error:.3f}", verdict))
            print(*rows[-1])
        print(f"  {part.__name__}: {time.monotonic() - start:.0f} s")
    with RESULTS.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("part", "quantity", "repeats", "covered", "sampling_error", "93-97 %"))
        writer.writerows(rows)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
