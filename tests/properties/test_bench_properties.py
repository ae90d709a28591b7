"""Bench fits: scaling laws and limits that hold whatever the sludge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.bench.simulated import filtration_test

from cakewright.bench import fit_filtration_pressure
from cakewright.bench.law_model import cake_solids_at, values_of
from cakewright.physics.filtration_resistance import specific_resistance_average
from cakewright.sludge.law_prior import prior_of_class

FEW = settings(max_examples=25, deadline=None)
RESISTANCE = st.floats(1e10, 1e14)
MEDIUM = st.floats(1e9, 1e12)


@FEW
@given(alpha=RESISTANCE, medium=MEDIUM)
def test_clean_filtration_comes_back(alpha: float, medium: float) -> None:
    """Any pair of resistances is recovered from clean readings."""
    fit = fit_filtration_pressure(filtration_test(alpha, medium))
    assert fit.estimate("specific_resistance").value == pytest.approx(alpha, rel=1e-4)


@FEW
@given(alpha=RESISTANCE, medium=MEDIUM, factor=st.floats(0.2, 5.0))
def test_resistance_scales_with_time(alpha: float, medium: float, factor: float) -> None:
    """All times stretched by a factor: both resistances stretch by it."""
    test = filtration_test(alpha, medium)
    slow = replace(test, columns={**test.columns, "time": test.columns["time"] * factor})
    one, two = fit_filtration_pressure(test), fit_filtration_pressure(slow)
    for name in ("specific_resistance", "medium_resistance"):
        if one.estimate(name).value > 1e-3 * (alpha if name.startswith("s") else medium):
            ratio = two.estimate(name).value / one.estimate(name).value
            assert ratio == pytest.approx(factor, rel=1e-3)


@FEW
@given(seed=st.integers(0, 10_000))
def test_law_trends(seed: int) -> None:
    """More pressure: drier cake and no smaller resistance, for any law of the prior."""
    prior = prior_of_class("ad_mixed")
    spread = np.sqrt(np.diag(prior.covariance))
    drawn = prior.centre + spread * np.random.default_rng(seed).standard_normal(len(spread))
    law = values_of(drawn)
    pressures = np.geomspace(1e2, 1e6, 30)
    solids = cake_solids_at(law, pressures)
    alpha = np.asarray(
        specific_resistance_average(
            pressures, law["local_resistance"], law["resistance_exponent"], law["yield_scale"]
        )
    )
    assert np.all(np.diff(solids) >= 0)
    assert np.all(np.diff(alpha) >= 0)
    assert solids[0] > 0
    assert solids[-1] < 1
