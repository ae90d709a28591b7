"""Haulage, disposal and drier cake: hand arithmetic."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.economics import outlet_costs as c
from cakewright.errors import OutOfRangeError

KWH = 3.6e6


def test_haulage_by_hand() -> None:
    """500 loads of 10 t, 50 km out and back at 1.5 per km and 60 a load."""
    assert float(c.haulage_trips(5e6, 1e4)) == 500
    assert float(c.haulage_cost(5e6, 1e4, 50e3, 1.5e-3, 60.0)) == pytest.approx(500 * 210)
    by_mass = c.haulage_cost_mass_distance(5e6, np.array([50e3, 100e3]), 0.2e-6)
    np.testing.assert_allclose(by_mass, [5000 * 50 * 0.2, 5000 * 100 * 0.2])


def test_refused_cake_goes_to_the_other_outlet() -> None:
    """Samples under the dryness limit pay the other gate price, an income is allowed."""
    taken = c.route_accepts(np.array([0.18, 0.25, 0.95]), 0.2, 0.9)
    assert taken.tolist() == [0.0, 1.0, 0.0]
    got = c.disposal_cost(1000.0, -0.01, taken, 0.08)
    np.testing.assert_allclose(got, [80.0, -10.0, 80.0])
    with pytest.raises(OutOfRangeError, match="refuses cake in 2 of 3 samples"):
        c.disposal_cost(1000.0, 0.05, taken)


def test_dryness_saving_equals_the_difference_of_two_bills() -> None:
    """Per dry tonne the saving is the wet mass no longer hauled times its price."""
    bills = [float(c.disposal_cost(1000.0 / ts, 0.09)) for ts in (0.2, 0.24)]
    assert 1000 * float(c.dryness_saving(0.2, 0.24, 0.09)) == pytest.approx(bills[0] - bills[1])
