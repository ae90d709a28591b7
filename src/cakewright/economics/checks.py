"""What money and mass may be, checked in one place for the whole room."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = ["Number", "least", "share"]

Number = float | FloatArray


def _show(values: FloatArray, bad: NDArray[np.bool_]) -> str:
    worst = values[bad].flat[0]
    return f"{worst:g}" if values.size == 1 else f"{worst:g} in {int(bad.sum())} of {values.size}"


def least(what: str, value: Number, bound: float = 0.0, *, strict: bool = False) -> FloatArray:
    r"""Value as an array, refused if it is below a bound or not finite.

    Parameters
    ----------
    what : str
        Name of the quantity, for the message. [object]
    value : float or ndarray
        The value. [1]
    bound : float
        Smallest value allowed. [1]
    strict : bool
        True refuses the bound itself. [1]

    Returns
    -------
    least : ndarray
        The value. [1]

    Raises
    ------
    OutOfRangeError
        If any sample is below the bound or not finite.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> float(least("price", 2.0))
    2.0
    """
    values = np.asarray(value, dtype=float)
    if values.size == 1:
        number = values.item()
        if math.isfinite(number) and (number > bound if strict else number >= bound):
            return values
    low = values <= bound if strict else values < bound
    bad = np.asarray(low | ~np.isfinite(values))
    if bad.any():
        sign = ">" if strict else ">="
        raise OutOfRangeError(
            f"{what}: got {_show(values, bad)}; must be finite and {sign} {bound:g}; "
            "check the sign and the unit"
        )
    return values


def share(what: str, value: Number, *, strict: bool = False) -> FloatArray:
    r"""Value as an array, refused if it is not a share of one.

    Parameters
    ----------
    what : str
        Name of the quantity, for the message. [object]
    value : float or ndarray
        The share. [1]
    strict : bool
        True refuses zero. [1]

    Returns
    -------
    share : ndarray
        The share. [1]

    Raises
    ------
    OutOfRangeError
        If any sample is outside 0 to 1.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> float(share("active share", 0.4))
    0.4
    """
    values = least(what, value, 0.0, strict=strict)
    bad = np.asarray(values > 1)
    if bad.any():
        raise OutOfRangeError(
            f"{what}: got {_show(values, bad)}; must be at most 1; give a fraction, not percent"
        )
    return values
