"""Scaling and estimate classes."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.economics.capital import capital_cost_scaled, estimate_classes
from cakewright.errors import OutOfRangeError
from cakewright.sources import source


def test_exponent_one_is_proportional_and_zero_is_flat() -> None:
    """The exponent decides how cost follows size; the index multiplies."""
    got = capital_cost_scaled(100.0, 2.0, 6.0, np.array([1.0, 0.0, 0.5]))
    np.testing.assert_allclose(got, [300.0, 100.0, 100 * np.sqrt(3)])
    assert float(capital_cost_scaled(100.0, 1, 1, 0.6, 80.0, 120.0)) == pytest.approx(150.0)


def test_better_defined_estimates_have_narrower_bands() -> None:
    """Bands shrink from class 5 to class 1, hold the estimate, and name their source."""
    widths = []
    for number in (5, 4, 3, 2, 1):
        row = estimate_classes()[number]
        assert row.low < 0 < row.high
        widths.append(row.high - row.low)
        assert source(row.source)
        assert f"class {number}" in row.statement
    assert widths == sorted(widths, reverse=True)


def test_impossible_costs_are_refused() -> None:
    """Negative cost, zero size and an unknown class are named."""
    with pytest.raises(OutOfRangeError, match="cost: got -1"):
        capital_cost_scaled(-1.0, 1, 1, 0.6)
    with pytest.raises(OutOfRangeError, match="size: got 0"):
        capital_cost_scaled(1.0, 0.0, 1, 0.6)
