"""Whole-life cost: what is bought, what is paid every year, what is left at the end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from cakewright.economics.checks import Number, least, share
from cakewright.economics.discounting import (
    capital_recovery_factor,
    present_worth_growing_annuity,
)
from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = ["Investment", "LifeCycle", "YearlyCost", "life_cycle", "present_worth_investment"]


@dataclass(frozen=True, slots=True, eq=False)
class Investment:
    """Something bought, replaced when its life is over, with a residual worth."""

    name: str
    cost: Number
    life: int
    residual: Number = 0.0
    price_rise: Number = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class YearlyCost:
    """A cost of every year, at today's price, with its own price rise; income is negative."""

    name: str
    cost: Number
    price_rise: Number = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class LifeCycle:
    """Present worth of every item, and the whole as present worth, per year and per dry mass."""

    parts: Mapping[str, FloatArray]
    annualised_parts: Mapping[str, FloatArray]
    present_worth: FloatArray
    annualised: FloatArray
    per_dry_solids: FloatArray
    years: int


def present_worth_investment(
    cost: Number,
    life: int,
    years: int,
    rate: Number,
    residual: Number = 0.0,
    price_rise: Number = 0.0,
) -> FloatArray:
    r"""Present worth of buying, replacing at the end of each life, and what is left.

    .. math:: C \sum_{j \ge 0,\; jL < N} q^{jL} - C\,[\rho + (1-\rho)\,u]\,q^N, \quad
        q = \frac{1+g}{1+i}

    with u the share of the last life not used up at the horizon (straight line) and
    :math:`\rho` the residual share.

    Parameters
    ----------
    cost : float or ndarray
        Purchase at today's price; :math:`C`; >= 0. [currency]
    life : int
        Years until it is replaced; :math:`L`; >= 1. [1]
    years : int
        Horizon; :math:`N`; >= 1. [1]
    rate : float or ndarray
        Interest per year; :math:`i`; > -1. [1]
    residual : float or ndarray
        Share of the cost left at the end of a life; :math:`\rho`; 0 to 1. [1]
    price_rise : float or ndarray
        Price rise per year; :math:`g`; > -1. [1]

    Returns
    -------
    present_worth_investment : ndarray
        Worth today. [currency]

    Notes
    -----
    Replaced items bring their residual share at each replacement.

    References
    ----------
    .. [1] OWN, straight-line residual.

    Examples
    --------
    >>> float(present_worth_investment(100.0, 20, 20, 0.05))
    100.0
    """
    price = least("purchase cost", cost)
    whole = int(least("life in years", life, 1.0))
    horizon = int(least("horizon in years", years, 1.0))
    left = share("residual share", residual)
    q = (1 + least("price rise", price_rise, -1.0, strict=True)) / (
        1 + least("interest rate", rate, -1.0, strict=True)
    )
    bought = list(range(0, horizon, whole))
    worth = sum((q**year * (1 - (left if year else 0.0)) for year in bought), np.zeros(()))
    unused = 1 - (horizon - bought[-1]) / whole
    return np.asarray(price * (worth - (left + (1 - left) * unused) * q**horizon))


def life_cycle(
    investments: Sequence[Investment],
    yearly: Sequence[YearlyCost],
    years: int,
    rate: Number,
    dry_solids: Number,
) -> LifeCycle:
    r"""Whole-life cost of an option.

    .. math:: PW = \sum PW_j, \quad A = PW \cdot CRF(i, N), \quad c = A / m_{DS}

    Parameters
    ----------
    investments : sequence of Investment
        What is bought. [object]
    yearly : sequence of YearlyCost
        What is paid every year. [object]
    years : int
        Horizon; >= 1. [1]
    rate : float or ndarray
        Interest per year; nominal if the price rises are nominal, real if they are real. [1]
    dry_solids : float or ndarray
        Dry solids treated in a year; > 0. [kg]

    Returns
    -------
    life_cycle : LifeCycle
        Present worth in currency, annualised cost in currency a year, and currency per kg of
        dry solids, over samples. [object]

    Raises
    ------
    OutOfRangeError
        If a life is zero, a purchase negative, names repeat, or no solids are treated.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> press, rest = Investment("press", 4e5, 20), YearlyCost("all", 289400.0)
    >>> got = life_cycle([press], [rest], 20, 0.05, 1e6)
    >>> round(float(got.per_dry_solids), 4)
    0.3215
    """
    names = [item.name for item in investments] + [item.name for item in yearly]
    if not names or len(set(names)) != len(names):
        raise OutOfRangeError(
            f"life-cycle cost: items are {names}; at least one item, each with its own name"
        )
    parts = {
        item.name: present_worth_investment(
            item.cost, item.life, years, rate, item.residual, item.price_rise
        )
        for item in investments
    }
    for cost in yearly:
        worth = present_worth_growing_annuity(rate, years, cost.price_rise)
        parts[cost.name] = np.asarray(np.asarray(cost.cost, dtype=float) * worth)
    factor = capital_recovery_factor(rate, float(years))
    whole = np.asarray(sum(parts.values()))
    solids = least("dry solids of a year", dry_solids, strict=True)
    return LifeCycle(
        MappingProxyType(parts),
        MappingProxyType({name: np.asarray(part * factor) for name, part in parts.items()}),
        whole,
        np.asarray(whole * factor),
        np.asarray(whole * factor / solids),
        years,
    )
