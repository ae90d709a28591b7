"""Flow curves."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.physics.rheology import (
    apparent_viscosity_herschel_bulkley,
    shear_stress_herschel_bulkley,
)


def test_bingham_and_power_law_are_its_ends() -> None:
    """Index 1 is Bingham, no yield stress is a power law, both together Newtonian."""
    assert shear_stress_herschel_bulkley(50.0, 3.0, 0.02, 1.0) == pytest.approx(4.0)
    assert shear_stress_herschel_bulkley(100.0, 0.0, 0.5, 0.5) == pytest.approx(5.0)
    assert shear_stress_herschel_bulkley(10.0, 0.0, 0.001, 1.0) == pytest.approx(0.01)


def test_apparent_viscosity_falls_with_shear() -> None:
    """A sludge with yield stress thins: apparent viscosity falls towards the plastic one."""
    rates = np.array([1.0, 10.0, 100.0, 1e6])
    found = np.asarray(apparent_viscosity_herschel_bulkley(rates, 5.0, 0.02, 1.0))
    assert np.all(np.diff(found) < 0)
    assert found[-1] == pytest.approx(0.02, rel=1e-3)


def test_no_flow_index_of_zero() -> None:
    """A flow index of zero is refused by name."""
    with pytest.raises(OutOfRangeError, match="flow index: got 0"):
        shear_stress_herschel_bulkley(1.0, 1.0, 1.0, 0.0)
