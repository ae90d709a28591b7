"""Polymer solutions: mass is kept from product to sludge."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.physics.polymer_solution import (
    active_flow,
    dilution_water_flow,
    product_flow,
    solution_flow,
)


def test_active_mass_is_kept_on_the_way() -> None:
    """Product times activity, stock times strength and final times strength carry the same."""
    active = float(active_flow(np.float64(0.05), 0.006))
    stock, water = (
        float(solution_flow(active, 0.004)),
        float(dilution_water_flow(active, 0.004, 1e-3)),
    )
    assert float(product_flow(active, 0.4)) * 0.4 == pytest.approx(active)
    assert stock * 1000 * 0.004 == pytest.approx(active)
    assert (stock + water) * 1000 * 1e-3 == pytest.approx(active)


def test_dilution_cannot_strengthen() -> None:
    """A final strength above the stock's is refused."""
    with pytest.raises(OutOfRangeError, match="stock strength less final strength"):
        dilution_water_flow(1.0, 0.001, 0.003)
