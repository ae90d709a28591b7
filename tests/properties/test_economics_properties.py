"""What holds for any rate, life, price and mass."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cakewright.economics import (
    Investment,
    YearlyCost,
    capital_cost_scaled,
    capital_recovery_factor,
    haulage_cost,
    landfill_methane,
    life_cycle,
    present_worth_annuity,
    present_worth_investment,
)

FEW = settings(max_examples=40, deadline=None)
rate = st.floats(-0.2, 0.5)
years = st.integers(1, 60)
share = st.floats(0.0, 1.0)
money = st.floats(0.0, 1e7)


@FEW
@given(rate, years)
def test_recovery_and_worth_are_inverse(i: float, n: int) -> None:
    """Any rate: the yearly payment of a unit is worth a unit, and dearer money costs more."""
    assert float(capital_recovery_factor(i, n) * present_worth_annuity(i, n)) == pytest.approx(1)
    assert capital_recovery_factor(i + 0.01, n) > capital_recovery_factor(i, n)


@FEW
@given(money, st.integers(1, 40), years, rate, share)
def test_residual_never_makes_it_dearer(
    cost: float, life: int, n: int, i: float, residual: float
) -> None:
    """Any purchase: something left at the end lowers the worth, and cost scales it."""
    bare = float(present_worth_investment(cost, life, n, i))
    kept = float(present_worth_investment(cost, life, n, i, residual))
    assert kept <= bare + 1e-9 * abs(bare)
    double = float(present_worth_investment(2 * cost, life, n, i, residual))
    assert double == pytest.approx(2 * kept)


@FEW
@given(st.lists(money, min_size=2, max_size=5), rate, years)
def test_parts_add_to_the_whole(costs: list[float], i: float, n: int) -> None:
    """Any bundle: parts add up in present worth and per year."""
    items = [YearlyCost(f"c{k}", cost) for k, cost in enumerate(costs)]
    got = life_cycle([Investment("x", 1000.0, 10)], items, n, i, 1e5)
    assert float(np.sum(list(got.parts.values()))) == pytest.approx(float(got.present_worth))
    assert float(np.sum(list(got.annualised_parts.values()))) == pytest.approx(
        float(got.annualised)
    )


@FEW
@given(st.floats(1.0, 1e6), st.floats(0.1, 10), st.floats(0.1, 10), st.floats(0.3, 1.0))
def test_scaling_there_and_back(cost: float, size: float, new: float, x: float) -> None:
    """Any size: scaling up and down returns the cost."""
    there = capital_cost_scaled(cost, size, new, x, 100.0, 130.0)
    assert float(capital_cost_scaled(there, new, size, x, 130.0, 100.0)) == pytest.approx(cost)


@FEW
@given(st.floats(1.0, 1e7), st.floats(1e3, 3e4), st.floats(0, 1e6), st.floats(0, 0.01))
def test_haulage_rises_with_distance_and_falls_with_payload(
    cake: float, payload: float, distance: float, price: float
) -> None:
    """Any trip: farther is not cheaper, a larger load is not dearer."""
    base = haulage_cost(cake, payload, distance, price, 10.0)
    assert haulage_cost(cake, payload, distance + 1e3, price, 10.0) >= base
    assert haulage_cost(cake, 2 * payload, distance, price, 10.0) == pytest.approx(base / 2)


@FEW
@given(st.floats(0, 1e6), share, share, share, share, share)
def test_methane_never_passes_the_carbon(
    mass: float, doc: float, decays: float, mcf: float, cover: float, caught: float
) -> None:
    """Any landfill: carbon in the methane is at most the decaying carbon."""
    methane = float(landfill_methane(mass, doc, decays, mcf, 1.0, cover, caught))
    assert 0 <= methane * 12 / 16 <= mass * doc * decays * (1 + 1e-9)
