"""Polymer solutions: mass is kept from product to sludge."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.physics.polymer_solution import (
    active_flow,
    batch_tank_volume,
    dilution_water_flow,
    dose_from_trial,
    product_flow,
    solution_age,
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


def test_trial_dose_gives_the_dose_back() -> None:
    """The dose read from pump settings is the dose that was set."""
    sludge, ts = 0.002, 0.012
    stock = solution_flow(active_flow(sludge * 1000 * ts, 0.007), 0.003)
    assert dose_from_trial(stock, 0.003, sludge, ts) == pytest.approx(0.007)


def test_two_tanks_keep_up() -> None:
    """Drawing one tank takes exactly as long as making the other."""
    volume = float(batch_tank_volume(2e-4, 600.0, 300.0, 3600.0))
    assert solution_age(volume, 2e-4) == pytest.approx(4500.0)


def test_dilution_cannot_strengthen() -> None:
    """A final strength above the stock's is refused."""
    with pytest.raises(OutOfRangeError, match="stock strength less final strength"):
        dilution_water_flow(1.0, 0.001, 0.003)
