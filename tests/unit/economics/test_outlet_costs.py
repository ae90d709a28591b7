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


def test_refused_cake_goes_to_the_other_outlet() -> None:
    """Samples under the dryness limit pay the other gate price, an income is allowed."""
    taken = np.array([0.0, 1.0, 0.0])
    got = c.disposal_cost(1000.0, -0.01, taken, 0.08)
    np.testing.assert_allclose(got, [80.0, -10.0, 80.0])
    with pytest.raises(OutOfRangeError, match="refuses cake in 2 of 3 samples"):
        c.disposal_cost(1000.0, 0.05, taken)
