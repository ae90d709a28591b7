"""Indicators against promise."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import DataError
from cakewright.running.indicators import (
    Against,
    Prices,
    Promise,
    against_promise,
    availability,
    indicators,
    period_indicators,
)
from cakewright.running.practice_plant import invented_shifts
from cakewright.running.reconcile import reconcile_shifts

LOG = invented_shifts(None, seed=5, shifts=90).table
BALANCE = reconcile_shifts(LOG)
PRICES = Prices(polymer=4.0, power=5e-8, water=1.0, cake=0.09, filtrate=0.2, carbon_power=1e-7)


def test_cost_is_the_sum_of_its_parts() -> None:
    """Each price adds its part and nothing else."""
    whole = indicators(LOG, BALANCE, PRICES)["cost_specific"].value
    parts = [
        indicators(LOG, BALANCE, Prices(**{key: getattr(PRICES, key)}))["cost_specific"].value
        for key in ("polymer", "power", "water", "cake", "filtrate")
    ]
    assert whole == pytest.approx(np.sum(parts, axis=0), nan_ok=True)


def test_missing_power_meter_spoils_only_its_own() -> None:
    """Without a power price a missing meter does not take the cost away."""
    mean = {k: v for k, v in LOG.mean.items() if k != "drive_power"}
    bare = type(LOG)(
        LOG.start, LOG.span, LOG.run_time, LOG.seen_time, LOG.starts, mean, LOG.coverage
    )
    found = indicators(bare, reconcile_shifts(bare), Prices(polymer=4.0))
    assert np.isnan(found["specific_energy"].value).all()
    assert np.isfinite(found["cost_specific"].value).any()


def test_uncertainty_does_not_average_out() -> None:
    """Ninety shifts shrink the scatter but not the common uncertainty of the instruments."""
    found = indicators(LOG, BALANCE, PRICES)
    period = period_indicators(found, LOG, np.ones(LOG.size, dtype=bool))
    one = found["capture"]
    assert period["capture"].spread >= np.nanmean(one.spread) * 0.95


def test_promise_both_ways() -> None:
    """More cake keeps a promise, more polymer breaks it."""
    period = {
        "cake_solids": Against("cake_solids", 0.20, 0.002, 0, 0, 1.0, 50),
        "polymer_dose": Against("polymer_dose", 0.009, 0.0002, 0, 0, 1.0, 50),
    }
    got = against_promise(period, Promise({"cake_solids": 0.19, "polymer_dose": 0.008}))
    assert got[0].chance > 0.99
    assert got[1].chance < 0.01


def test_promise_without_readings_is_an_error() -> None:
    """A promise about something never read is told, not passed over."""
    with pytest.raises(DataError, match="cake_solids"):
        against_promise({}, Promise({"cake_solids": 0.19}))


def test_availability_counts_what_was_planned() -> None:
    """Six of eight hours is 90 % of a plan of five sixths."""
    rows = np.ones(LOG.size, dtype=bool)
    run = float(LOG.run_time.sum() / LOG.span.sum())
    assert availability(LOG, rows, 1.0) == pytest.approx(run)
    assert availability(LOG, rows, run / 2) == 1.0


def test_prices_left_out_are_named() -> None:
    """What costs nothing because nobody gave a price is listed."""
    assert Prices(polymer=1.0).left_out == ("power", "water", "cake", "filtrate")
