"""Figures over samples, bands and bases."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.quantities import Basis, Figure, Given, weakest


def test_band_leaves_the_point_case_out() -> None:
    """Percentiles come from the drawn samples, the point from sample 0."""
    figure = Figure("cake_solids", np.concatenate(([9.0], np.linspace(0, 1, 101))), Basis.BENCH)
    assert figure.point == 9.0
    band = figure.band
    assert (band.p10, band.p50, band.p90) == pytest.approx((0.1, 0.5, 0.9))


def test_a_point_alone_is_its_own_band() -> None:
    """With one sample the band has no width."""
    band = Figure("cake_solids", np.array([0.2]), Basis.BENCH).band
    assert band.p10 == band.p90 == 0.2


def test_no_answer_is_no_number() -> None:
    """An empty figure says so."""
    assert not Figure("cake_solids", np.array([]), Basis.ASSUMED, note="over capacity").exists


def test_weakest_basis_wins() -> None:
    """A result is no better known than its poorest input."""
    assert weakest([Basis.MEASURED, Basis.PRACTICE, Basis.BENCH]) is Basis.PRACTICE
    assert weakest([]) is Basis.ASSUMED


def test_spread_needs_both_ends() -> None:
    """A value with equal ends has no spread."""
    assert not Given("ph", 7.0, low=7.0, high=7.0).has_spread
    assert Given("ph", 7.0, low=6.0, high=8.0).has_spread
