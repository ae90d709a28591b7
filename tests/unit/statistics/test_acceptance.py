"""Test plans and risks against simulation of the test itself."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from cakewright.errors import InfeasibleError, OutOfRangeError
from cakewright.statistics import acceptance as a


@pytest.mark.parametrize("known", [True, False])
@pytest.mark.parametrize("margin", [0.0, 0.4, 1.0])
def test_operating_curve_is_what_simulation_shows(known: bool, margin: float) -> None:
    """Chance to pass equals the share of simulated tests that pass."""
    n, factor = 7, 0.3
    x = np.random.default_rng(6).normal(margin, 1.0, (40_000, n))
    spread = 1.0 if known else x.std(axis=1, ddof=1)
    simulated = np.mean(x.mean(axis=1) - factor * spread >= 0)
    got = float(a.chance_pass(margin, n, factor, deviation_known=known))
    assert got == pytest.approx(simulated, abs=0.008)


@pytest.mark.parametrize("difference", [0.3, 0.8, 2.0])
def test_plans_keep_both_risks_with_the_fewest_samples(difference: float) -> None:
    """Both risks are kept at n samples and one of them is not at n - 1."""
    known = a.plan_known_deviation(0.10, 0.05, 1.0, difference)
    unknown = a.plan_unknown_deviation(0.10, 0.05, difference)
    for plan in (known, unknown):
        k = {"deviation_known": plan.deviation_known}
        assert float(a.chance_pass(0.0, plan.samples, plan.factor, **k)) == pytest.approx(0.05)
        fails = 1 - float(a.chance_pass(difference, plan.samples, plan.factor, **k))
        assert fails == pytest.approx(plan.producer_risk)
        assert plan.producer_risk <= 0.10
    fewer = known.samples - 1
    if fewer:
        k_fewer = stats.norm.ppf(0.95) / np.sqrt(fewer)
        assert 1 - a.chance_pass(difference, fewer, k_fewer, deviation_known=True) > 0.10
    fewer = unknown.samples - 1
    if fewer > 1:
        k_fewer = stats.t.ppf(0.95, fewer - 1) / np.sqrt(fewer)
        assert 1 - a.chance_pass(difference, fewer, k_fewer, deviation_known=False) > 0.10
    assert unknown.samples >= known.samples


def test_power_agrees_with_general_library() -> None:
    """The t-test plan equals statsmodels' sample size for the same power."""
    from statsmodels.stats.power import TTestPower

    exact = TTestPower().solve_power(0.5, power=0.9, alpha=0.05, alternative="larger")
    assert a.plan_unknown_deviation(0.10, 0.05, 0.5).samples == int(np.ceil(exact))


def test_guard_band_gives_the_stated_chance() -> None:
    """A value on the guarded limit meets the true limit with the complement of the chance."""
    band = a.guard_band(0.5, 0.05)
    assert float(a.conformity_chance(20.0 + band, 0.5, 20.0)) == pytest.approx(0.95)
    assert a.guard_band(0.5, 0.5) == 0.0


@pytest.mark.parametrize("guard", [0.0, 0.6])
def test_global_risks_are_what_simulation_shows(guard: float) -> None:
    """Chances of a wrong fail and a wrong pass equal simulated ones."""
    generator = np.random.default_rng(4)
    true = generator.normal(21.0, 1.0, 400_000)
    measured = true + generator.normal(0, 0.5, true.size)
    passes, meets = measured >= 20 + guard, true >= 20
    got = a.risks_normal(21.0, 1.0, 0.5, 20.0, guard)
    assert got == pytest.approx((np.mean(meets & ~passes), np.mean(~meets & passes)), abs=0.002)


@pytest.mark.parametrize(
    ("call", "error", "text"),
    [
        (lambda: a.sample_size_known_deviation(0.0, 0.1, 1, 1), OutOfRangeError, "producer"),
        (lambda: a.sample_size_known_deviation(0.1, 1.0, 1, 1), OutOfRangeError, "consumer"),
        (
            lambda: a.sample_size_known_deviation(0.1, 0.1, 1, 0),
            OutOfRangeError,
            "cannot be proved",
        ),
        (lambda: a.sample_size_known_deviation(0.6, 0.6, 1, 1), OutOfRangeError, "less than one"),
        (lambda: a.plan_unknown_deviation(0.05, 0.05, 0.01, 100), InfeasibleError, "promise less"),
        (lambda: a.chance_pass(0, 1, 0, deviation_known=False), OutOfRangeError, "or two"),
        (lambda: a.conformity_chance(1.0, 0.0, 1.0), OutOfRangeError, "must be > 0"),
        (lambda: a.guard_band(-1.0), OutOfRangeError, "guard band"),
        (lambda: a.risks_normal(1, 0, 1, 1), OutOfRangeError, "both must be > 0"),
    ],
)
def test_impossible_plans_are_refused(call: Any, error: type[Exception], text: str) -> None:
    """Risks, margins and spreads without meaning are named."""
    with pytest.raises(error, match=text):
        call()


@pytest.mark.parametrize("margin", [-3.0, 0.2, 2.0, 30.0])
def test_operating_curve_is_the_non_central_t(margin: float) -> None:
    """Where the deviation is judged from the samples, to the far ends."""
    asked = stats.nct.sf(np.sqrt(6) * 0.8, 5, np.sqrt(6) * margin)
    got = float(a.chance_pass(margin, 6, 0.8, deviation_known=False))
    assert got == pytest.approx(float(asked), rel=1e-9, abs=1e-15)
