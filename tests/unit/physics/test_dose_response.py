"""Dose response form: bottom, raw sludge, curvature."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.physics.dose_response import dose_bowl, fines_share_dose, resistance_ratio_dose


def test_bowl_at_its_three_places() -> None:
    """Nothing at the optimum, the gain for raw sludge, a parabola close to the optimum."""
    assert dose_bowl(0.006, 0.006, 2.0, 4.0) == 0.0
    assert dose_bowl(0.0, 0.006, 2.0, 4.0) == 4.0
    near = dose_bowl(0.006 * np.exp(0.01), 0.006, 2.0, 4.0)
    assert near == pytest.approx(2.0 * 0.01**2, rel=1e-3)


def test_bowl_continues_to_the_raw_sludge() -> None:
    """No jump towards dose zero."""
    assert dose_bowl(1e-12, 0.006, 2.0, 4.0) == pytest.approx(4.0, rel=1e-6)


def test_raw_sludge_is_all_fines() -> None:
    """Without polymer the fines are everything; the optimum has the least."""
    doses = np.array([0.0, 0.003, 0.006, 0.012])
    fines = np.asarray(fines_share_dose(doses, 0.006, 0.02, 2.0))
    assert fines[0] == pytest.approx(1.0)
    assert fines[2] == pytest.approx(0.02)
    assert fines.argmin() == 2


def test_resistance_ratio_never_below_one() -> None:
    """No dose beats the optimum."""
    ratio = np.asarray(resistance_ratio_dose(np.geomspace(1e-4, 1e-1, 50), 0.006, 2.0, 4.0))
    assert ratio.min() >= 1.0


def test_negative_dose_is_refused() -> None:
    """A dose is not negative."""
    with pytest.raises(OutOfRangeError, match="dose"):
        dose_bowl(-0.001, 0.006, 2.0, 4.0)
