"""Density of solids and slurries."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.physics.solids import (
    density_solids,
    dry_solids_flow,
    total_solids_blend,
    volume_flow,
)


def test_more_ash_is_denser() -> None:
    """Density of solids rises with the ash share, from the volatile to the mineral density."""
    rho = np.asarray(density_solids(np.linspace(0.0, 1.0, 11), 1020.0, 2500.0))
    assert (np.diff(rho) > 0.0).all()
    assert rho[0] == pytest.approx(1020.0)
    assert rho[-1] == pytest.approx(2500.0)


def test_ash_given_in_per_cent_is_refused() -> None:
    """An ash of 25 is refused by name with what is allowed."""
    with pytest.raises(OutOfRangeError, match=r"ash: got 25 .*<= 1"):
        density_solids(25.0)


def test_flow_round_trip() -> None:
    """Volume flow of the dry solids of a volume flow is that volume flow."""
    dry = dry_solids_flow(0.002, 0.02, 1005.0)
    assert volume_flow(dry, 0.02, 1005.0) == pytest.approx(0.002, rel=1e-14)


def test_blend_of_nothing_is_refused() -> None:
    """A blend without any solids has no total solids."""
    with pytest.raises(OutOfRangeError, match="dry solids of the blend"):
        total_solids_blend(np.zeros(2), np.array([0.01, 0.02]))
