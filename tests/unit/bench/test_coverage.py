"""Short coverage: 95 % intervals hold the truth about 95 times in 100.

The bounds are those that a true 95 % would leave less than once in a thousand runs of the test;
the long version is in benchmarks/bench_coverage.py.
"""

from __future__ import annotations

import numpy as np
from scipy.stats import binom
from tests.unit.bench.simulated import (
    clue_design,
    dose_test,
    filtration_test,
    simulated_clues,
)

from cakewright.bench import fit_dose_response, fit_filtration_pressure, fit_law
from cakewright.bench.filtration import FiltrationSpread
from cakewright.sludge.law_prior import prior_of_class

REPEATS = 150


def _fair(hits: int, trials: int, level: float = 0.95) -> bool:
    low, high = (float(binom.ppf(p, trials, level)) for p in (0.0005, 0.9995))
    return low <= hits <= high


def test_filtration_intervals_cover() -> None:
    """Specific and medium resistance of simulated filtration tests."""
    rng = np.random.default_rng(101)
    exact = FiltrationSpread(pressure_share=0.0, solids_share=0.0)
    hits = np.zeros(2)
    for _ in range(REPEATS):
        fit = fit_filtration_pressure(filtration_test(4e11, 6e10, rng), exact)
        for place, truth in enumerate((4e11, 6e10)):
            hits[place] += fit.estimates[place].low < truth < fit.estimates[place].high
    assert all(_fair(int(h), REPEATS) for h in hits), hits / REPEATS


def test_optimum_dose_intervals_cover() -> None:
    """Optimum dose of simulated jars, by profile."""
    rng = np.random.default_rng(102)
    trials = 80
    hits = 0
    for _ in range(trials):
        low, high = fit_dose_response(dose_test(6.5e-3, rng)).optimum_interval
        hits += low < 6.5e-3 < high
    assert _fair(hits, trials), hits / trials


def test_law_intervals_cover() -> None:
    """All law parameters, the true law drawn from the prior each time."""
    rng = np.random.default_rng(103)
    prior, design, trials = prior_of_class("was"), clue_design(), 10
    spread = np.sqrt(np.diag(prior.covariance))
    hits = np.zeros(len(spread))
    for _ in range(trials):
        truth = prior.centre + spread * rng.standard_normal(len(spread))
        law = fit_law("s", simulated_clues(truth, rng, design), prior).law
        sd = np.sqrt(np.diag(law.covariance))
        hits += np.abs(law.centre - truth) < 1.959964 * sd
    assert _fair(int(hits.sum()), trials * len(spread)), hits / trials
