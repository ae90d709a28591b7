"""Consolidation: inverse, limits, own values at more digits, creep."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.physics.consolidation import (
    consolidation_degree_terzaghi,
    consolidation_degree_terzaghi_voigt,
)

# Series summed outside this program.
EXACT = {
    0.001: 0.035682, 0.005: 0.079788, 0.008: 0.100925, 0.01: 0.112838, 0.02: 0.159577,
    0.05: 0.252313, 0.1: 0.356823, 0.15: 0.436950, 0.2: 0.504088, 0.3: 0.613236, 0.4: 0.697882,
    0.5: 0.763950, 0.6: 0.815565, 0.8: 0.887403, 1.0: 0.931260, 1.5: 0.979982, 2.0: 0.994170,
    3.0: 0.999506,
}  # fmt: skip


@pytest.mark.parametrize(("factor", "degree"), EXACT.items())
def test_degree_to_six_digits(factor: float, degree: float) -> None:
    """Short-time form and series agree with the series summed elsewhere."""
    assert consolidation_degree_terzaghi(factor) == pytest.approx(degree, abs=1e-6)


def test_no_step_where_the_forms_meet() -> None:
    """Short-time form and series join at T = 0.05."""
    ends = consolidation_degree_terzaghi(np.array([0.05 - 1e-12, 0.05 + 1e-12]))
    assert np.ptp(ends) < 1e-7


def test_two_faces_are_four_times_as_fast() -> None:
    """Two drained faces reach a degree in a quarter of the time when nothing creeps."""
    one = consolidation_degree_terzaghi_voigt(400.0, 1e-10, 5e-4, 0.0, 1e-3, 1.0)
    two = consolidation_degree_terzaghi_voigt(100.0, 1e-10, 5e-4, 0.0, 1e-3, 2.0)
    assert one == pytest.approx(two, rel=1e-12)


def test_creep_alone_is_one_exponential() -> None:
    """B = 1 leaves the Voigt element."""
    degree = consolidation_degree_terzaghi_voigt(500.0, 1e-10, 5e-4, 1.0, 2e-3)
    assert degree == pytest.approx(1 - np.exp(-1.0))


def test_three_faces_are_refused() -> None:
    """A layer has two faces."""
    with pytest.raises(OutOfRangeError, match="drained faces"):
        consolidation_degree_terzaghi_voigt(1.0, 1e-10, 5e-4, 0.5, 1e-3, 3.0)
