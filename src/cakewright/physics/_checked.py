"""Range check shared by the formulas of this room: a number outside is named, never passed on."""

from __future__ import annotations

import math
from typing import TypeAlias, cast

import numpy as np
import numpy.typing as npt

from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = ["Floats", "checked", "plain"]

Floats: TypeAlias = float | FloatArray


def checked(
    value: Floats,
    name: str,
    unit: str,
    low: float = -np.inf,
    high: float = np.inf,
    *,
    above: bool = False,
) -> FloatArray:
    """Value as an array if all of it lies where the formula has a meaning.

    Parameters
    ----------
    value : float or ndarray
        Number to check. [1]
    name : str
        Its name in the message. [object]
    unit : str
        Its unit in the message. [object]
    low : float
        Smallest value allowed. [1]
    high : float
        Largest value allowed. [1]
    above : bool
        True when ``low`` itself is not allowed. [object]

    Returns
    -------
    value : ndarray
        The same numbers. [1]

    Raises
    ------
    OutOfRangeError
        If any number is not finite or outside the range.

    References
    ----------
    .. [1] OWN, range check.

    Examples
    --------
    >>> float(checked(2.0, "head", "m", 0.0))
    2.0
    """
    numbers = np.asarray(value, dtype=float)
    if numbers.size == 1 and _inside(numbers.item(), low, high, above=above):
        return numbers
    low_ok = numbers > low if above else numbers >= low
    bad = ~(low_ok & (numbers <= high) & np.isfinite(numbers))
    if bad.any():
        worst = float(numbers[bad].flat[0])
        sign = ">" if above else ">="
        top = "" if np.isinf(high) else f" and <= {high:g}"
        bottom = "finite" if np.isinf(low) else f"{sign} {low:g}"
        raise OutOfRangeError(
            f"{name}: got {worst:g} {unit}; allowed: {bottom}{top} {unit}; "
            "outside it the formula has no meaning: check the value and its unit"
        )
    return numbers


def _inside(number: float, low: float, high: float, *, above: bool) -> bool:
    """The check for one number, which is most of them: plain comparisons are much quicker."""
    return math.isfinite(number) and number <= high and (number > low if above else number >= low)


def plain(result: npt.ArrayLike) -> Floats:
    """A result as a plain number when it holds one value, else as an array.

    Parameters
    ----------
    result : ndarray
        Computed numbers. [1]

    Returns
    -------
    result : float or ndarray
        The same numbers. [1]

    References
    ----------
    .. [1] OWN, form of the answer only.

    Examples
    --------
    >>> plain(np.float64(2.5))
    2.5
    """
    numbers = np.asarray(result, dtype=float)
    return float(numbers) if numbers.ndim == 0 else cast(FloatArray, numbers)
