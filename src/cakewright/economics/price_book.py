"""The price book: invented prices by kind of item and work, and published factors on top."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

from cakewright.economics.capital import capital_cost_scaled
from cakewright.errors import UnknownNameError
from cakewright.quantities.tables import packaged_table

__all__ = ["fixed_capital", "price_book", "price_of_item"]


@cache
def price_book() -> Mapping[str, Any]:
    r"""The whole book: currency, items, works, factors, what is left out.

    Returns
    -------
    price_book : mapping of str to object
        Tables ``book``, ``item``, ``work``, ``factor``, ``stored`` and ``excluded``. [object]

    References
    ----------
    .. [1] JUDGEMENT, invented prices.
    .. [2] L127, table 17, factors.

    Examples
    --------
    >>> price_book()["book"]["currency"]
    'EUR'
    """
    return MappingProxyType(packaged_table("cakewright.economics", "data", "price_book.toml"))


def price_of_item(kind: str, size: float | None) -> float:
    r"""Delivered price of one item of a kind.

    .. math:: C = C_1 \left(\frac{S}{S_1}\right)^x

    Parameters
    ----------
    kind : str
        Kind of item as the equipment list names it. [object]
    size : float
        The figure the row is scaled by, in its SI unit; None: as the row stands. [1]

    Returns
    -------
    price : float
        In the currency of the book. [currency]

    Raises
    ------
    UnknownNameError
        If the book has no price for this kind.

    References
    ----------
    .. [1] L72, capacity exponent.
    .. [2] L73, six-tenths rule.

    Examples
    --------
    >>> price_of_item("tank", 50.0)
    36000.0
    """
    row = price_book()["item"].get(kind)
    if row is None:
        raise UnknownNameError(
            f"the price book has no price for {kind!r}; add it to economics/data/price_book.toml"
        )
    if size is None or size <= 0.0 or "of" not in row:
        return float(row["price"])
    return float(capital_cost_scaled(row["price"], row["size"], size, row["exponent"]))


def fixed_capital(
    equipment: float, direct: float, indirect_share: float, fee: float, contingency: float
) -> float:
    r"""Fixed capital from delivered equipment and the works that go with it.

    .. math:: C = (E + D + k_i E)(1 + k_f + k_c)

    Parameters
    ----------
    equipment : float
        Delivered equipment; :math:`E`; >= 0. [currency]
    direct : float
        Erection, instruments, pipes, electrics and building; :math:`D`; >= 0. [currency]
    indirect_share : float
        Engineering and construction per equipment; :math:`k_i`; >= 0. [1]
    fee : float
        Contractor's fee per direct and indirect cost; :math:`k_f`; >= 0. [1]
    contingency : float
        Contingency per direct and indirect cost; :math:`k_c`; >= 0. [1]

    Returns
    -------
    fixed_capital : float
        Without working capital. [currency]

    References
    ----------
    .. [1] L127, table 17.

    Examples
    --------
    >>> round(fixed_capital(100.0, 193.0, 0.66, 0.05, 0.10))
    413
    """
    return (equipment + direct + indirect_share * equipment) * (1.0 + fee + contingency)
