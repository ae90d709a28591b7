"""A run against draws of the others: chances of a mixture, and suspects that are acquitted."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from scipy.stats import chi2, kstest

from cakewright.errors import DisagreementError
from cakewright.jobs import contradictions
from cakewright.jobs.calibrate import widened
from cakewright.jobs.calibration_density import Density
from cakewright.jobs.rest_of_trial import Foretold, judged_by_mixture
from cakewright.statistics.bayes import Posterior


@pytest.mark.parametrize("size", [1, 2])
def test_one_normal_gives_the_chance_of_chi_square(size: int) -> None:
    """Draws that agree foretell a unit normal: the exact chance of its region."""
    away = np.tile(np.full(size, 1.5), (512, 1))
    found = judged_by_mixture(away)
    assert found.chance == pytest.approx(float(chi2.sf(size * 1.5**2, size)), rel=0.1)
    assert np.allclose(found.odd, 1.5)


def test_between_two_machines_is_odd_and_on_one_of_them_is_not() -> None:
    """Two machines the rest allows, 20 deviations apart: one normal would say the reverse."""
    two = np.repeat([[-10.0], [10.0]], 256, axis=0)
    assert judged_by_mixture(two).chance < 0.002
    assert judged_by_mixture(two + 10.0).chance > 0.5


def test_chances_of_honest_readings_are_even() -> None:
    """Readings from the mixture itself: every chance as often as any other."""
    rng = np.random.default_rng(3)
    foretold = rng.standard_t(3, (256, 2)) * [1.0, 0.3]
    read = foretold[rng.integers(256, size=120)] + rng.standard_normal((120, 2))
    chances = [judged_by_mixture(one - foretold).chance for one in read]
    assert kstest(chances, "uniform").pvalue > 0.01


def _suspects(monkeypatch: pytest.MonkeyPatch, chances: dict[int, float]) -> int | None:
    """Runs 0, 1 and 2 with one reading each; 0 is the oddest, then 1; the rest is given."""

    def foretold(_: Density, run: int) -> Foretold:
        if run not in chances:
            raise DisagreementError("posterior: draws no longer move")
        return Foretold(np.zeros(1), chances[run])

    monkeypatch.setattr(contradictions, "foretold_by_rest", foretold)
    trial = SimpleNamespace(observed=tuple((i, "cake_solids") for i in range(3)))
    density = cast(Any, SimpleNamespace(trial=trial))
    linear = np.array([1e-6, 1e-4, 0.5])
    return contradictions._accused(density, np.zeros(3), linear, 0.02)


def test_a_suspect_whom_the_rest_foretells_is_acquitted(monkeypatch: pytest.MonkeyPatch) -> None:
    """The next suspect is judged then; whoever was no suspect is not."""
    assert _suspects(monkeypatch, {0: 0.4, 1: 0.001}) == 1
    assert _suspects(monkeypatch, {0: 0.4, 1: 0.4, 2: 0.0}) is None
    assert _suspects(monkeypatch, {0: 0.001, 1: 0.001}) == 0


def test_where_the_rest_cannot_be_drawn_the_fit_stands(monkeypatch: pytest.MonkeyPatch) -> None:
    """No silence about a run that the fit finds odd."""
    assert _suspects(monkeypatch, {}) == 0


def test_widened_draws_keep_their_mean() -> None:
    """Only the spread grows, by the factor of the table, and not beyond that before the trial."""
    draws = np.random.default_rng(1).standard_normal((400, 4))
    draws *= np.array([0.3, 0.9, 0.97, 1.1]) / draws.std(axis=0, ddof=1)
    found = widened(Posterior(draws, 100.0, 1.0, "made up"))
    assert np.allclose(found.mean, draws.mean(axis=0))
    assert np.allclose(found.deviation, [0.318, 0.954, 1.0, 1.1])
