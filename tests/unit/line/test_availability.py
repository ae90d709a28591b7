"""Availability identities against direct enumeration of all states."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from tests.unit.line.lines_for_tests import small_line

from cakewright.errors import OutOfRangeError
from cakewright.line import (
    availability_parallel,
    availability_series,
    capacity_distribution,
    design,
)

UNEQUAL = (0.9, 0.95, 0.7, 0.99)


def _enumerated(needed: int) -> float:
    total = 0.0
    for states in product((0, 1), repeat=len(UNEQUAL)):
        if sum(states) >= needed:
            pairs = zip(states, UNEQUAL, strict=True)
            total += float(np.prod([a if s else 1 - a for s, a in pairs]))
    return total


def test_series_and_parallel_are_its_ends() -> None:
    """All of n is the series, one of n the parallel arrangement, over all states."""
    assert availability_series(UNEQUAL) == pytest.approx(_enumerated(4))
    assert availability_parallel(UNEQUAL) == pytest.approx(_enumerated(1))


def test_capacities_meet_enumeration() -> None:
    """Expected capacity over all states is the sum of the units' shares."""
    capacities = (10.0, 20.0, 20.0, 5.0)
    levels, chances = capacity_distribution(capacities, UNEQUAL)
    assert chances.sum() == pytest.approx(1.0, rel=1e-12)
    assert levels @ chances == pytest.approx(float(np.dot(capacities, UNEQUAL)), rel=1e-12)


def test_spare_shaft_raises_the_share_met() -> None:
    """A fourth shaft raises what the presses meet; a line without standby pumps meets less."""
    from dataclasses import replace

    base = small_line()
    more = replace(base, presses=(replace(base.presses[0], shafts=4),))
    bare = replace(base, standby_pumps=False)
    assert design(more).availability.presses > design(base).availability.presses
    assert design(bare).availability.others < design(base).availability.others


def test_service_goes_shaft_by_shaft() -> None:
    """One of three shafts out leaves two thirds; the day gets longer by the missing share."""
    found = design(small_line()).availability.service
    assert found.capacity_left == pytest.approx(2 / 3)
    load = 48 * 1.0025 * 12 * 7 / 5 / 10  # kg DS/h, density from solids of 1400 kg/m3
    assert found.hours_needed == pytest.approx(10 * load / 70.0, rel=0.01)
    assert found.in_idle


def test_shares_outside_zero_to_one_are_refused() -> None:
    """An availability of 1.2 is refused."""
    with pytest.raises(OutOfRangeError, match="each 0 to 1"):
        availability_series([0.9, 1.2])
