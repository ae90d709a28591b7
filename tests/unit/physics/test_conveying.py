"""Conveyors and skips."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.physics.conveying import (
    cake_bulk_density,
    conveyor_capacity,
    conveyor_power_iso_7119,
    incline_factor,
    skip_load_mass,
    trips_per_time,
)


def test_shaft_takes_room() -> None:
    """A shaft half the screw's diameter takes a quarter of the capacity."""
    bare = float(conveyor_capacity(0.3, 0.0, 0.3, 0.5, 0.3))
    assert conveyor_capacity(0.3, 0.15, 0.3, 0.5, 0.3) == pytest.approx(0.75 * bare)


def test_incline_only_takes_capacity() -> None:
    """The factor falls with the incline and stays inside the printed bands."""
    degrees = np.array([0.0, 10.0, 15.0, 25.0, 30.0])
    found = np.asarray(incline_factor(np.radians(degrees)))
    assert np.all(np.diff(found) < 0)
    assert found[1] >= 0.95
    assert 0.80 <= found[2] <= 0.90
    assert 0.60 <= found[3] <= 0.70


def test_power_lifts_the_cake() -> None:
    """Rise adds exactly the lifting power."""
    level = float(conveyor_power_iso_7119(0.5, 6.0, 0.0, 0.2, 4.0))
    lifted = float(conveyor_power_iso_7119(0.5, 6.0, 2.0, 0.2, 4.0))
    assert lifted - level == pytest.approx(0.5 * 9.80665 * 2.0)


def test_voids_lower_the_bulk_density() -> None:
    """Fifteen percent air is fifteen percent less mass; pure water stays water."""
    dense = float(cake_bulk_density(0.2, 1400.0, 998.0))
    assert cake_bulk_density(0.2, 1400.0, 998.0, 0.15) == pytest.approx(0.85 * dense)
    assert cake_bulk_density(0.0, 1400.0, 998.0) == pytest.approx(998.0)


def test_skip_is_full_by_volume_or_by_mass() -> None:
    """The smaller limit decides."""
    assert skip_load_mass(8.0, 900.0, 0.9, 1e5) == pytest.approx(6480.0)
    assert skip_load_mass(8.0, 900.0, 0.9, 5000.0) == pytest.approx(5000.0)
    assert trips_per_time(1.0, 5000.0) == pytest.approx(2e-4)


def test_steep_conveyor_is_refused() -> None:
    """Beyond 30 degrees no factor is known."""
    with pytest.raises(OutOfRangeError, match="conveyor incline"):
        incline_factor(np.radians(45.0))
