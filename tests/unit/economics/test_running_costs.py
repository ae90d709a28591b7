"""Running costs on the site: hand arithmetic, and what is refused."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cakewright import economics as c
from cakewright.errors import OutOfRangeError

KWH = 3.6e6


def test_tariff_bands_and_demand_add_up() -> None:
    """Day and night energy at their prices, plus the demand charge, over samples."""
    energy = KWH * np.array([[1000.0, 2000.0], [500.0, 0.0]])
    got = c.energy_cost(energy, np.array([0.30, 0.10]) / KWH, 5000.0, 0.06)
    np.testing.assert_allclose(got, [300 + 50 + 300, 600 + 300])
    assert float(c.energy_cost(KWH * 10, 0.2 / KWH)) == pytest.approx(2.0)
    prices = np.array([[0.30, 0.20], [0.10, 0.05]]) / KWH
    np.testing.assert_allclose(c.energy_cost(energy, prices), [350.0, 400.0])


def test_prices_over_samples() -> None:
    """A price for each sample meets the amount of the same sample, never that of another."""
    got = c.energy_cost(KWH * np.array([10.0, 20.0]), np.array([0.1, 0.2]) / KWH)
    np.testing.assert_allclose(got, [1.0, 4.0])
    loads, prices = np.array([[10.0, 20.0]]), np.array([[2.0, 3.0]])
    np.testing.assert_allclose(c.filtrate_cost(loads, prices), [20.0, 60.0])


def test_dearer_product_with_more_active_can_be_cheaper() -> None:
    """Liquid at 2.4 and 40 % costs 6 per active kg, powder at 4.5 and 90 % costs 5."""
    got = c.active_polymer_price(np.array([2.4, 4.5]), np.array([0.4, 0.9]))
    np.testing.assert_allclose(got, [6.0, 5.0])
    assert float(c.polymer_cost(1e6, 0.008, 5.0)) == pytest.approx(40000.0)


def test_simple_products() -> None:
    """Water, labour, upkeep and filtrate by hand."""
    assert float(c.water_cost(300.0, 2.5)) == 750.0
    assert float(c.labour_cost(7200.0, 0.01)) == pytest.approx(72.0)
    assert float(c.maintenance_cost(1000.0, 0.03)) == pytest.approx(30.0)
    loads = np.array([[10.0, 20.0], [1.0, 0.0]])
    np.testing.assert_allclose(c.filtrate_cost(loads, np.array([2.0, 5.0])), [25.0, 40.0])


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: c.energy_cost(1.0, -0.2), "energy price: got -0.2"),
        (lambda: c.energy_cost(np.ones(3), np.ones(2)), "2 prices"),
        (lambda: c.active_polymer_price(2.0, 0.0), "active share: got 0"),
        (lambda: c.active_polymer_price(2.0, 40.0), "fraction, not percent"),
        (lambda: c.polymer_cost(1.0, 0.01, -1.0), "price of active polymer: got -1"),
        (lambda: c.water_cost(1.0, np.array([1.0, -2.0])), "water price: got -2 in 1 of 2"),
        (lambda: c.labour_cost(-1.0, 1.0), "working time"),
        (lambda: c.maintenance_cost(1.0, 3.0), "maintenance share"),
        (lambda: c.haulage_cost(1.0, 0.0, 1.0, 1.0), "payload: got 0"),
        (lambda: c.haulage_cost(1.0, 1.0, 1.0, -1.0), "price of distance"),
        (lambda: c.filtrate_cost(np.ones(2), np.ones(3)), "one row per price"),
        (lambda: c.water_cost(np.nan, 1.0), "finite"),
    ],
)
def test_negative_prices_and_shares_are_refused(call: Any, text: str) -> None:
    """Every quantity and price that cannot be negative is named with its value."""
    with pytest.raises(OutOfRangeError, match=text):
        call()
