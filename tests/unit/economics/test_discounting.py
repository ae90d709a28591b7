"""Annuities and present worth against the general financial library and term-by-term sums."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy_financial as npf
import pytest

from cakewright.economics import discounting as d
from cakewright.errors import InfeasibleError, OutOfRangeError


@pytest.mark.parametrize("rate", [0.0, 0.03, 0.2, -0.02])
def test_recovery_factor_repays_the_capital(rate: float) -> None:
    """Yearly payments of the factor bring the debt to zero, term by term."""
    payment = float(d.capital_recovery_factor(rate, 12))
    debt = 1.0
    for _ in range(12):
        debt = debt * (1 + rate) - payment
    assert debt == pytest.approx(0, abs=1e-12)


def test_factors_agree_with_general_library() -> None:
    """Annuity, recovery factor and payback equal the library's away from zero rates."""
    rates, years = np.array([0.01, 0.05, 0.12]), np.array([5.0, 10.0, 40.0])
    np.testing.assert_allclose(d.present_worth_annuity(rates, years), -npf.pv(rates, years, 1.0))
    np.testing.assert_allclose(d.capital_recovery_factor(rates, years), -npf.pmt(rates, years, 1.0))
    assert d.payback_time(1000.0, 180.0, 0.06) == pytest.approx(npf.nper(0.06, -180, 1000))


def test_tiny_rates_keep_their_figures() -> None:
    """Where rate and growth nearly cancel the annuity is the number of years, not zero."""
    np.testing.assert_allclose(d.present_worth_annuity(np.array([1e-17, 1e-15, 1e-13]), 20.0), 20.0)
    assert d.payback_time(100.0, 25.0, 1e-15) == pytest.approx(4.0)


def test_factors_broadcast_over_samples() -> None:
    """Rates and lives over samples give one factor each, worth and recovery being inverse."""
    rate = np.array([0.01, 0.05, 0.1])
    years = np.array([5, 10, 20])
    product = d.capital_recovery_factor(rate, years) * d.present_worth_annuity(rate, years)
    np.testing.assert_allclose(product, 1.0, rtol=1e-12)


@pytest.mark.parametrize("growth", [0.0, 0.02, 0.05, 0.08])
def test_growing_annuity_is_its_sum(growth: float) -> None:
    """The closed form equals the sum, also where growth equals the rate."""
    expected = sum(((1 + growth) / 1.05) ** t for t in range(1, 21))
    got = float(d.present_worth_growing_annuity(0.05, 20, growth))
    assert got == pytest.approx(expected, rel=1e-12)


def test_payback_brings_worth_to_zero() -> None:
    """Savings over the payback time are worth the investment."""
    time = d.payback_time(1000.0, 180.0, 0.06)
    worth = 180.0 * float(d.present_worth_annuity(0.06, time))
    assert worth == pytest.approx(1000.0, rel=1e-9)
    assert d.payback_time(0.0, 5.0) == 0.0


def test_real_and_nominal_lead_to_the_same_worth() -> None:
    """Constant prices at the real rate equal rising prices at the nominal rate."""
    nominal = d.nominal_rate(0.03, 0.025)
    assert float(d.real_rate(nominal, 0.025)) == pytest.approx(0.03)
    worth = d.present_worth_growing_annuity(nominal, 15, 0.025)
    assert float(worth) == pytest.approx(float(d.present_worth_annuity(0.03, 15)))


@pytest.mark.parametrize(
    ("call", "error", "text"),
    [
        (lambda: d.capital_recovery_factor(0.05, 0), OutOfRangeError, "life in years: got 0"),
        (lambda: d.capital_recovery_factor(-1.0, 5), OutOfRangeError, "interest rate"),
        (lambda: d.present_worth_growing_annuity(0.05, 0, 0.0), OutOfRangeError, "years"),
        (lambda: d.payback_time(100.0, 5.0, 0.06), InfeasibleError, "more than 6 a year"),
        (lambda: d.payback_time(-1.0, 5.0), OutOfRangeError, "investment: got -1"),
        (lambda: d.payback_time(100.0, 0.0), InfeasibleError, "never pays back"),
    ],
)
def test_impossible_terms_are_refused(call: Any, error: type[Exception], text: str) -> None:
    """Zero life, rates of -100 % and savings that never pay are named."""
    with pytest.raises(error, match=text):
        call()
