"""Pumps against definitions and an open fluids library."""

from __future__ import annotations

import pytest
from fluids.core import P_from_head

from cakewright.errors import OutOfRangeError
from cakewright.physics.pumps import pump_head, pump_shaft_power, suction_head_available


def test_power_meets_the_library() -> None:
    """Q rho g H over efficiency, with the library's pressure of a head."""
    pressure = P_from_head(12.0, 1010.0, 9.80665)
    assert pump_shaft_power(0.004, pressure, 0.5) == pytest.approx(
        0.004 * 1010.0 * 9.80665 * 12.0 / 0.5
    )
    assert pump_head(pressure, 1010.0) == pytest.approx(12.0)


def test_lift_and_friction_lower_the_suction_head() -> None:
    """Two metres of lift cost two metres; friction costs its head."""
    flooded = float(suction_head_available(0.6, 0.0, 1000.0, 2339.0))
    lifted = float(suction_head_available(-1.4, 0.0, 1000.0, 2339.0))
    rubbed = float(suction_head_available(0.6, 9806.65, 1000.0, 2339.0))
    assert flooded - lifted == pytest.approx(2.0)
    assert flooded - rubbed == pytest.approx(1.0)


def test_perfect_pump_is_the_limit() -> None:
    """An efficiency above one is refused."""
    with pytest.raises(OutOfRangeError, match="pump efficiency"):
        pump_shaft_power(0.001, 1e5, 1.2)
