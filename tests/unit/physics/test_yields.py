"""Biological, primary and flotation solids."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.physics.yields import (
    solids_flow_flotation,
    solids_flow_settled,
    solids_per_bod_load_rule,
    temperature_factor_load_rule,
    yield_observed,
)

DAY = 86400.0


def test_older_sludge_yields_less() -> None:
    """Net yield falls with sludge age and equals the true yield without decay."""
    ages = np.array([1.0, 5.0, 20.0]) * DAY
    assert (np.diff(np.asarray(yield_observed(0.5, 0.06 / DAY, ages))) < 0.0).all()
    assert yield_observed(0.5, 0.0, 10 * DAY) == 0.5


def test_load_rule_falls_with_age_and_warmth_and_rises_with_solids() -> None:
    """The load rule moves the way its terms say."""
    base = float(solids_per_bod_load_rule(0.8, 12 * DAY, 285.15))
    assert float(solids_per_bod_load_rule(0.8, 20 * DAY, 285.15)) < base
    assert float(solids_per_bod_load_rule(0.8, 12 * DAY, 295.15)) < base
    assert solids_per_bod_load_rule(1.8, 12 * DAY, 285.15) == pytest.approx(base + 0.6)


def test_temperature_factor_is_one_at_15_degrees_and_refuses_celsius() -> None:
    """The factor is one at 15 degC; a temperature given in Celsius is refused."""
    assert temperature_factor_load_rule(288.15) == pytest.approx(1.0)
    with pytest.raises(OutOfRangeError, match="temperature in the biology"):
        temperature_factor_load_rule(15.0)


def test_more_settled_than_came_is_refused() -> None:
    """A removal above one is refused by name."""
    with pytest.raises(OutOfRangeError, match="share that settles"):
        solids_flow_settled(0.01, 0.2, 1.2)


def test_oil_weighed_with_the_solids_is_not_counted_twice() -> None:
    """All oil inside the suspended solids adds nothing."""
    assert solids_flow_flotation(1.0, 0.8, 0.3, 0.0, 1.0) == pytest.approx(0.8)
    assert solids_flow_flotation(1.0, 0.8, 0.3, 0.1, 0.0) == pytest.approx(1.2)
