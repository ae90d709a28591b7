"""Sludge-law functions."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.physics.compression import solidosity_equilibrium, total_solids_cake, void_ratio

LAW = (0.02, 150.0, 3.1)


def test_yield_stress_and_solidosity_are_inverse() -> None:
    """Reading the law forwards and backwards gives the stress again, for arrays."""
    stress = np.geomspace(10.0, 1e6, 30)
    there = solidosity_equilibrium(stress, *LAW)
    gel, scale, exponent = LAW
    assert np.allclose(scale * ((there / gel) ** exponent - 1.0), stress, rtol=1e-12)


def test_total_solids_from_void_ratio() -> None:
    """4 volumes of water per volume of solids of 1500 kg/m3 are 27.3 % total solids."""
    assert np.isclose(total_solids_cake(void_ratio(0.2), 1500.0, 1000.0), 1.5 / 5.5)


@pytest.mark.parametrize("law", [(0.02, 150.0, 0.0), (0.02, -1.0, 3.0), (0.0, 150.0, 3.0)])
def test_impossible_laws_are_refused(law: tuple[float, float, float]) -> None:
    """n <= 0, a negative stress scale and a gel point of 0 are named."""
    with pytest.raises(OutOfRangeError, match=r"yield|gel"):
        solidosity_equilibrium(1e3, *law)
