"""Newtonian friction against an open fluids library, Hazen-Williams against its US form."""

from __future__ import annotations

import numpy as np
import pytest
from fluids import friction_factor

from cakewright.errors import OutOfRangeError
from cakewright.physics.pipes import (
    friction_factor_newtonian,
    mean_velocity,
    pressure_drop_darcy,
    reynolds_number,
)


@pytest.mark.parametrize("rough", [0.0, 1e-4, 5e-3])
@pytest.mark.parametrize("re", [10.0, 1500.0, 5e3, 1e5, 1e7])
def test_friction_factor_meets_the_library(re: float, rough: float) -> None:
    """Laminar and Colebrook factors equal the library's exact solution."""
    found = friction_factor_newtonian(re, rough)
    assert found == pytest.approx(friction_factor(re, eD=rough, Method="Clamond"), rel=1e-9)


def test_laminar_pressure_drop_is_hagen_poiseuille() -> None:
    """Below the limit the pressure drop is 32 mu V L / D2."""
    v, d, mu = 0.05, 0.02, 0.01
    f = friction_factor_newtonian(reynolds_number(v, d, 1000.0, mu))
    assert pressure_drop_darcy(f, 3.0, d, 1000.0, v) == pytest.approx(32 * mu * v * 3.0 / d**2)


def test_velocity_of_an_array() -> None:
    """Continuity holds over arrays."""
    d = np.array([0.05, 0.1])
    v = np.asarray(mean_velocity(0.002, d))
    assert v * np.pi / 4 * d**2 == pytest.approx([0.002, 0.002])


def test_negative_flow_is_refused() -> None:
    """A negative flow is named with its unit."""
    with pytest.raises(OutOfRangeError, match=r"flow: got -1 m3/s"):
        mean_velocity(-1.0, 0.1)
