"""What a thing costs to buy: scaled from another size and year, with its accuracy band."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import numpy as np

from cakewright.economics.checks import Number, least
from cakewright.quantities import FloatArray
from cakewright.quantities.tables import packaged_table

__all__ = ["EstimateClass", "capital_cost_scaled", "estimate_classes"]


@dataclass(frozen=True, slots=True)
class EstimateClass:
    """One class of capital estimate: how far defined, how far off it may be."""

    number: int
    definition_percent: tuple[float, float]
    low: float
    high: float
    use: str
    source: str

    @property
    def statement(self) -> str:
        """The class in words."""
        return (
            f"class {self.number} ({self.use}): {100 * self.low:+.0f} % to {100 * self.high:+.0f} %"
        )


def capital_cost_scaled(
    cost: Number,
    size: Number,
    new_size: Number,
    exponent: Number,
    index: Number = 1.0,
    new_index: Number = 1.0,
) -> FloatArray:
    r"""Cost of another size in another year.

    .. math:: C_2 = C_1 \left(\frac{S_2}{S_1}\right)^x \frac{I_2}{I_1}

    Parameters
    ----------
    cost : float or ndarray
        Known cost; :math:`C_1`; >= 0. [currency]
    size : float or ndarray
        Size that it bought, in any unit; > 0. [1]
    new_size : float or ndarray
        Size wanted, in the same unit; > 0. [1]
    exponent : float or ndarray
        Scale exponent; :math:`x`; 0.6 where nothing better is known. [1]
    index : float or ndarray
        Cost index of the year of the known cost; > 0. [1]
    new_index : float or ndarray
        The same index in the year wanted; > 0. [1]

    Returns
    -------
    capital_cost_scaled : ndarray
        Cost of the size wanted. [currency]

    Notes
    -----
    Holds between neighbouring sizes of one type, roughly up to a factor of ten; not where the
    number of units changes.

    References
    ----------
    .. [1] L72, capacity exponent.
    .. [2] L74, cost index.

    Examples
    --------
    >>> round(float(capital_cost_scaled(100.0, 1.0, 2.0, 0.6)), 2)
    151.57
    """
    ratio = least("new size", new_size, strict=True) / least("size", size, strict=True)
    rise = least("new index", new_index, strict=True) / least("index", index, strict=True)
    return np.asarray(least("cost", cost) * ratio ** np.asarray(exponent, dtype=float) * rise)


@cache
def estimate_classes() -> Mapping[int, EstimateClass]:
    r"""Classes of capital estimate by number.

    Returns
    -------
    estimate_classes : mapping of int to EstimateClass
        Five classes, 5 the roughest. [object]

    References
    ----------
    .. [1] L83, table of classes, outer edges.

    Examples
    --------
    >>> estimate_classes()[3].use
    'budget'
    """
    return MappingProxyType(
        {
            int(key): EstimateClass(
                int(key),
                tuple(row["definition"]),
                row["low"],
                row["high"],
                row["use"],
                row["source"],
            )
            for key, row in packaged_table(
                "cakewright.economics", "data", "estimate_classes.toml"
            ).items()
        }
    )
