"""Amounts that know their currency and year, so that unlike money is never added."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.economics.checks import Number, least
from cakewright.errors import QuantityError

__all__ = ["Money", "exchanged", "total", "updated"]


@dataclass(frozen=True, slots=True, eq=False)
class Money:
    """An amount, or one per sample, in a currency at the prices of a year."""

    amount: Number
    currency: str
    year: int

    def __post_init__(self) -> None:
        if len(self.currency) != 3 or not self.currency.isupper():
            raise QuantityError(
                f"currency {self.currency!r}: write the three capital letters of ISO 4217, "
                "such as EUR"
            )
        if not 1900 <= self.year <= 2200:
            raise QuantityError(f"price year {self.year}: write a calendar year, such as 2024")
        amount = np.asarray(self.amount, dtype=float)
        if not np.all(np.isfinite(amount)):
            raise QuantityError(f"amount in {self.currency}: every sample must be finite")
        object.__setattr__(self, "amount", amount)

    def _same(self, other: Money) -> None:
        if (self.currency, self.year) != (other.currency, other.year):
            raise QuantityError(
                f"{self.currency} of {self.year} and {other.currency} of {other.year} cannot be "
                "put together; give an exchange rate or a price index and convert one first"
            )

    def __add__(self, other: Money) -> Money:
        self._same(other)
        return Money(self.amount + other.amount, self.currency, self.year)

    def __sub__(self, other: Money) -> Money:
        self._same(other)
        return Money(self.amount - other.amount, self.currency, self.year)

    def __mul__(self, factor: Number) -> Money:
        return Money(np.asarray(self.amount) * factor, self.currency, self.year)

    __rmul__ = __mul__

    def __str__(self) -> str:
        point = float(np.asarray(self.amount).flat[0])
        return f"{point:,.2f} {self.currency} ({self.year})"


def total(amounts: Sequence[Money]) -> Money:
    r"""Sum of amounts of one currency and year.

    Parameters
    ----------
    amounts : sequence of Money
        At least one. [object]

    Returns
    -------
    total : Money
        Their sum. [object]

    Raises
    ------
    QuantityError
        If there is none, or currencies or years differ; names every kind found.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> str(total([Money(1.0, "EUR", 2024), Money(2.0, "EUR", 2024)]))
    '3.00 EUR (2024)'
    """
    kinds = sorted({f"{money.currency} of {money.year}" for money in amounts})
    if len(kinds) != 1:
        raise QuantityError(
            f"sum of money: got {', '.join(kinds) or 'nothing'}; one currency and one year are "
            "needed; give an exchange rate or a price index and convert first"
        )
    result = amounts[0]
    for money in amounts[1:]:
        result = result + money
    return result


def exchanged(money: Money, currency: str, rate: Number) -> Money:
    r"""The same amount in another currency, at the prices of the same year.

    Parameters
    ----------
    money : Money
        Amount to be exchanged. [object]
    currency : str
        Currency wanted. [object]
    rate : float or ndarray
        Units of the wanted currency for one unit of the given one; > 0. [1]

    Returns
    -------
    exchanged : Money
        Amount in the currency wanted. [object]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> str(exchanged(Money(10.0, "USD", 2024), "EUR", 0.9))
    '9.00 EUR (2024)'
    """
    factor = least(f"exchange rate {money.currency} to {currency}", rate, strict=True)
    return Money(np.asarray(money.amount) * factor, currency, money.year)


def updated(money: Money, year: int, index: Number, new_index: Number) -> Money:
    r"""The same thing at the prices of another year.

    Parameters
    ----------
    money : Money
        Amount at the prices of its year. [object]
    year : int
        Year wanted. [1]
    index : float or ndarray
        Price index of the amount's year; > 0. [1]
    new_index : float or ndarray
        The same index in the year wanted; > 0. [1]

    Returns
    -------
    updated : Money
        Amount at the prices of the year wanted. [object]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> str(updated(Money(10.0, "EUR", 2020), 2024, 100.0, 120.0))
    '12.00 EUR (2024)'
    """
    then = least(f"price index of {money.year}", index, strict=True)
    now = least(f"price index of {year}", new_index, strict=True)
    return Money(np.asarray(money.amount) * now / then, money.currency, year)
