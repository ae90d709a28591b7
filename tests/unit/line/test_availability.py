"""Availability identities against direct enumeration of all states."""

from __future__ import annotations

from itertools import product
from math import comb, exp

import numpy as np
import pytest
from scipy.integrate import quad
from tests.unit.line.lines_for_tests import small_line

from cakewright.errors import OutOfRangeError
from cakewright.line import (
    availability_k_of_n,
    availability_parallel,
    availability_series,
    availability_with_storage,
    capacity_distribution,
    design,
    steady_availability,
    throughput_availability,
)

UNEQUAL = (0.9, 0.95, 0.7, 0.99)


def _enumerated(needed: int) -> float:
    total = 0.0
    for states in product((0, 1), repeat=len(UNEQUAL)):
        if sum(states) >= needed:
            pairs = zip(states, UNEQUAL, strict=True)
            total += float(np.prod([a if s else 1 - a for s, a in pairs]))
    return total


@pytest.mark.parametrize("needed", range(5))
def test_unequal_units_meet_enumeration(needed: int) -> None:
    """The recursion gives what adding up all states gives."""
    assert availability_k_of_n(needed, UNEQUAL) == pytest.approx(_enumerated(needed), rel=1e-12)


def test_equal_units_are_binomial() -> None:
    """Equal units give the binomial sum."""
    expected = sum(comb(5, i) * 0.93**i * 0.07 ** (5 - i) for i in range(3, 6))
    assert availability_k_of_n(3, [0.93] * 5) == pytest.approx(expected, rel=1e-12)


def test_series_and_parallel_are_its_ends() -> None:
    """All of n is the series, one of n the parallel arrangement."""
    assert availability_k_of_n(4, UNEQUAL) == pytest.approx(availability_series(UNEQUAL))
    assert availability_k_of_n(1, UNEQUAL) == pytest.approx(availability_parallel(UNEQUAL))


def test_capacities_meet_enumeration() -> None:
    """Expected capacity over all states is the sum of the units' shares."""
    capacities = (10.0, 20.0, 20.0, 5.0)
    levels, chances = capacity_distribution(capacities, UNEQUAL)
    assert chances.sum() == pytest.approx(1.0, rel=1e-12)
    assert levels @ chances == pytest.approx(float(np.dot(capacities, UNEQUAL)), rel=1e-12)


def test_throughput_counts_what_is_needed_only() -> None:
    """Spare capacity helps, capacity beyond the demand does not."""
    tight = throughput_availability([1.0, 1.0], [0.9, 0.9], 2.0)
    spare = throughput_availability([1.0, 1.0, 1.0], [0.9, 0.9, 0.9], 2.0)
    assert tight == pytest.approx(0.9)
    expected = (2 * (3 * 0.81 * 0.1 + 0.729) + 3 * 0.9 * 0.01) / 2
    assert spare == pytest.approx(expected)


def test_storage_leaves_the_long_stops() -> None:
    """The loss felt is the integral of what outlasts the ride-through, over exponential repairs."""
    up, down, ride = 4e5, 3e4, 2e4
    felt, _ = quad(lambda t: (t - ride) * exp(-t / down) / down, ride, 40 * down, epsrel=1e-10)
    assert availability_with_storage(up, down, ride) == pytest.approx(1 - felt / (up + down))
    assert availability_with_storage(up, down, 0.0) == pytest.approx(steady_availability(up, down))


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


def test_more_needed_than_there_are_is_refused() -> None:
    """k above n is refused by number."""
    with pytest.raises(OutOfRangeError, match="got k = 3 of n = 2"):
        availability_k_of_n(3, [0.9, 0.9])


def test_shares_outside_zero_to_one_are_refused() -> None:
    """An availability of 1.2 is refused."""
    with pytest.raises(OutOfRangeError, match="each 0 to 1"):
        availability_series([0.9, 1.2])
