"""Whole-life cost against a year-by-year ledger."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy_financial as npf
import pytest

from cakewright.economics.lifecycle import (
    Investment,
    YearlyCost,
    life_cycle,
    present_worth_investment,
)
from cakewright.errors import OutOfRangeError


@pytest.mark.parametrize(("life", "residual"), [(7, 0.1), (10, 0.0), (30, 0.05), (20, 0.2)])
def test_investment_equals_its_ledger(life: int, residual: float) -> None:
    """Purchases, trade-ins and the straight-line rest at year 20, booked year by year."""
    cost, rise, rate, years = 100.0, 0.02, 0.06, 20
    ledger = np.zeros(years + 1)
    for year in range(0, years, life):
        price = cost * (1 + rise) ** year
        ledger[year] += price * (1 - (residual if year else 0))
        last = year
    used = (years - last) / life
    worth = cost * (1 + rise) ** years
    ledger[years] -= worth * (1 - used * (1 - residual))
    got = float(present_worth_investment(cost, life, years, rate, residual, rise))
    assert got == pytest.approx(float(npf.npv(rate, ledger)), rel=1e-12)


def test_whole_life_equals_its_ledger_over_samples() -> None:
    """Parts add to the whole; annualised cost is the level payment with the same worth."""
    rate = np.array([0.02, 0.05, 0.08])
    got = life_cycle(
        [Investment("press", np.array([4e5, 5e5, 6e5]), 20), Investment("screen", 3e4, 10)],
        [YearlyCost("polymer", 24000.0, 0.03), YearlyCost("gas sold", -1000.0)],
        20,
        rate,
        1e6,
    )
    assert list(got.parts) == ["press", "screen", "polymer", "gas sold"]
    np.testing.assert_allclose(sum(got.parts.values()), got.present_worth)
    np.testing.assert_allclose(sum(got.annualised_parts.values()), got.annualised)
    for i, r in enumerate(rate):
        flows = [0.0, *(24000 * 1.03**t - 1000 for t in range(1, 21))]
        flows[0] += float(np.array([4e5, 5e5, 6e5])[i]) + 3e4
        flows[10] += 3e4
        assert got.present_worth[i] == pytest.approx(npf.npv(r, flows))
        assert got.annualised[i] == pytest.approx(-npf.pmt(r, 20, npf.npv(r, flows)))
    np.testing.assert_allclose(got.per_dry_solids * 1e6, got.annualised)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: present_worth_investment(1.0, 0, 20, 0.05), "life in years: got 0"),
        (lambda: present_worth_investment(-1.0, 5, 20, 0.05), "purchase cost: got -1"),
        (lambda: present_worth_investment(1.0, 5, 20, 0.05, 1.2), "residual share"),
        (lambda: life_cycle([], [], 20, 0.05, 1.0), "at least one item"),
        (
            lambda: life_cycle([Investment("a", 1.0, 5)], [YearlyCost("a", 1.0)], 5, 0.05, 1.0),
            "its own name",
        ),
        (lambda: life_cycle([Investment("a", 1.0, 5)], [], 5, 0.05, 0.0), "dry solids of a year"),
    ],
)
def test_impossible_lives_are_refused(call: Any, text: str) -> None:
    """Zero life, negative purchase, repeated names and no solids are named."""
    with pytest.raises(OutOfRangeError, match=text):
        call()
