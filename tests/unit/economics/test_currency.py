"""Money of different kinds never mixes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from cakewright.economics.currency import Money, exchanged, total, updated
from cakewright.errors import OutOfRangeError, QuantityError

EUR = Money(np.array([10.0, 20.0]), "EUR", 2024)


def test_alike_money_adds_over_samples() -> None:
    """Sums, differences and multiples keep currency and year."""
    got = total([EUR, 2 * EUR, EUR * np.array([1.0, 0.0])]) - EUR
    assert np.asarray(got.amount).tolist() == [30.0, 40.0]
    assert (got.currency, got.year) == ("EUR", 2024)


@pytest.mark.parametrize("other", [Money(1.0, "USD", 2024), Money(1.0, "EUR", 2023)])
def test_unlike_money_is_refused(other: Money) -> None:
    """Another currency or another year needs a rate first; both are named."""
    mixes: list[Callable[[], Money]] = [
        lambda: EUR + other,
        lambda: EUR - other,
        lambda: total([EUR, other]),
    ]
    for mix in mixes:
        with pytest.raises(QuantityError, match="exchange rate") as error:
            mix()
        assert other.currency in str(error.value)
        assert str(other.year) in str(error.value)


def test_exchange_and_update_there_and_back() -> None:
    """A rate and its inverse, an index and its inverse, lead back to the start."""
    there = updated(exchanged(EUR, "USD", 1.1), 2030, 100.0, 125.0)
    assert np.asarray(there.amount)[0] == pytest.approx(10 * 1.1 * 1.25)
    assert (there.currency, there.year) == ("USD", 2030)
    back = exchanged(updated(there, 2024, 125.0, 100.0), "EUR", 1 / 1.1)
    np.testing.assert_allclose((EUR + back).amount, [20.0, 40.0])


@pytest.mark.parametrize(
    ("call", "error", "text"),
    [
        (lambda: Money(1.0, "euro", 2024), QuantityError, "ISO 4217"),
        (lambda: Money(1.0, "EUR", 24), QuantityError, "calendar year"),
        (lambda: Money(np.nan, "EUR", 2024), QuantityError, "finite"),
        (lambda: total([]), QuantityError, "nothing"),
        (lambda: exchanged(EUR, "USD", 0.0), OutOfRangeError, "exchange rate EUR to USD"),
        (lambda: updated(EUR, 2030, 100.0, -1.0), OutOfRangeError, "price index of 2030"),
    ],
)
def test_unknown_money_is_refused(call: Any, error: type[Exception], text: str) -> None:
    """Currencies, years and rates without meaning are named."""
    with pytest.raises(error, match=text):
        call()
