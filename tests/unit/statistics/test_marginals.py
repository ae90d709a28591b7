"""Marginals against the general library's distributions and their own definition."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from cakewright.errors import OutOfRangeError
from cakewright.quantities import Given
from cakewright.statistics import marginals as m

SHARES = np.array([0.001, 0.1, 0.3, 0.5, 0.77, 0.9, 0.999])


@pytest.mark.parametrize(
    ("marginal", "reference"),
    [
        (m.normal_marginal(2, 0.5), stats.norm(2, 0.5)),
    ],
)
def test_quantiles_match_the_general_library(marginal: m.Marginal, reference: Any) -> None:
    """Each quantile function equals the one of the statistics library."""
    np.testing.assert_allclose(m.quantile(marginal, SHARES), reference.ppf(SHARES), rtol=1e-10)


@pytest.mark.parametrize("bounds", [(-np.inf, np.inf), (0.0, np.inf), (-np.inf, 10.0), (0.0, 10.0)])
def test_two_piece_meets_its_three_percentiles(bounds: tuple[float, float]) -> None:
    """P10, P50 and P90 are the numbers given, whatever the bounds, and bounds hold."""
    marginal = m.two_piece_marginal(2.0, 3.0, 7.0, *bounds)
    got = m.quantile(marginal, np.array([0.1, 0.5, 0.9]))
    np.testing.assert_allclose(got, [2.0, 3.0, 7.0], rtol=1e-12)
    tails = m.quantile(marginal, np.array([1e-9, 1 - 1e-9]))
    assert bounds[0] <= tails[0] < 2
    assert 7 < tails[1] <= bounds[1]


def test_two_piece_is_lognormal_when_halves_agree() -> None:
    """Equal steps in the logarithm above a bound of zero give a plain lognormal."""
    marginal = m.two_piece_marginal(1.0, 2.0, 4.0, lower=0.0)
    reference = stats.lognorm(np.log(2) / stats.norm.ppf(0.9), scale=2.0)
    np.testing.assert_allclose(m.quantile(marginal, SHARES), reference.ppf(SHARES), rtol=1e-12)


@pytest.mark.parametrize(
    "make",
    [
        lambda: m.two_piece_marginal(3, 2, 4),
    ],
)
def test_unordered_values_are_refused(make: object) -> None:
    """Low above typical or typical above high is named with the numbers."""
    with pytest.raises(OutOfRangeError, match="low <= typical <= high"):
        make()  # type: ignore[operator]


@pytest.mark.parametrize(
    ("make", "text"),
    [
        (lambda: m.two_piece_marginal(0, 1, 2, lower=0), "strictly between"),
        (lambda: m.two_piece_marginal(0.5, 0.9, 1.0, upper=1), "strictly between"),
        (lambda: m.normal_marginal(1, -1), "must be >= 0"),
        (lambda: m.normal_marginal(np.nan, 1), "finite"),
        (lambda: m.quantile(m.normal_marginal(0, 1), 0.0), "strictly between 0 and 1"),
    ],
)
def test_impossible_parameters_are_refused(make: object, text: str) -> None:
    """Parameters without meaning raise and say what is allowed."""
    with pytest.raises(OutOfRangeError, match=text):
        make()  # type: ignore[operator]


def test_no_spread_becomes_a_constant() -> None:
    """Equal ends or zero deviation give a constant at the typical value."""
    for marginal in (
        m.two_piece_marginal(2, 2, 2),
        m.normal_marginal(2, 0),
    ):
        assert not marginal.has_spread
        assert marginal.point == 2
        assert m.quantile(marginal, 0.3) == 2


@pytest.mark.parametrize("lower", [0, -np.inf])
def test_whole_numbers_are_taken(lower: float) -> None:
    """Low, typical and high written without a decimal point work as well."""
    got = m.quantile(m.two_piece_marginal(1, 2, 4, lower), np.array([0.1, 0.5, 0.9]))
    np.testing.assert_allclose(got, [1, 2, 4])


def test_one_sided_spread_is_allowed() -> None:
    """A typical value at its low end spreads upwards only."""
    got = m.quantile(m.two_piece_marginal(2.0, 2.0, 3.0), np.array([0.01, 0.5, 0.9]))
    np.testing.assert_allclose(got, [2, 2, 3])


def test_given_value_names_itself_in_the_fault() -> None:
    """A given value with swapped ends is named."""
    given = Given("cake_solids", 0.2, low=0.3, high=0.25)
    with pytest.raises(OutOfRangeError, match="cake_solids"):
        m.given_marginal(given, 0, 1)
    fine = m.given_marginal(Given("cake_solids", 0.2, low=0.15, high=0.25), 0, 1)
    assert fine.point == 0.2
    assert m.quantile(fine, 0.9) == pytest.approx(0.25)
