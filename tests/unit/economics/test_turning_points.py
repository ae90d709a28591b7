"""Break-even at equal cost."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.economics import turning_points as c

KWH = 3.6e6


def test_costs_are_equal_at_break_even() -> None:
    """At the point found both options cost the same; parallel options never meet."""
    x = float(c.break_even(500.0, 3.0, 900.0, 1.0))
    assert 500 + 3 * x == pytest.approx(900 + x)
    assert c.break_even(1.0, np.array([2.0, 3.0]), 5.0, 2.0).tolist() == [np.inf, 4.0]
