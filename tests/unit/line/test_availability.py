"""Availability against direct enumeration of all states."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from tests.unit.line.lines_for_tests import small_line

from cakewright.errors import OutOfRangeError
from cakewright.line import (
    availability_parallel,
    availability_series,
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


def test_share_met_by_shafts_and_machines_is_enumerated() -> None:
    """Every state of two machines of two shafts, each with its chance: the share of the load."""
    press = replace(small_line().presses[0], units=2, shafts=2)
    found = design(small_line(presses=(press,))).availability
    each = press.solids_capacity
    demand = found.service.hours_needed / 10.0 * 3 * each  # one of four shafts out
    met = 0.0
    for state in product((0, 1), repeat=6):
        chances = (*(found.machine,) * 2, *(found.shaft,) * 4)
        weight = np.prod([a if s else 1 - a for s, a in zip(state, chances, strict=True)])
        up = state[0] * sum(state[2:4]) + state[1] * sum(state[4:])
        met += float(weight) * min(up * each, demand)
    assert found.presses == pytest.approx(met / demand, rel=1e-12)


def test_spare_shaft_raises_the_share_met() -> None:
    """A fourth shaft raises what the presses meet; a line without standby pumps meets less."""
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
