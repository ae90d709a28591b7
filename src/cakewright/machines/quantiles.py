"""A value at a quantile of a band told by three points."""

from __future__ import annotations

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import NORMAL_90

__all__ = ["split_normal"]


def split_normal(
    low: float, typical: float, high: float, quantile: float | FloatArray
) -> FloatArray:
    """Value at a quantile when low, typical and high are the 10, 50 and 90 % points.

    A half of a normal curve on each side; cut where each half-width has been passed twice, because
    nothing is published beyond, and never below a third of ``low``. Quantile 0.5 gives ``typical``.

    Raises
    ------
    OutOfRangeError
        If the three are not in order, or a quantile is not between 0 and 1.
    """
    if not 0.0 <= low <= typical <= high:
        raise OutOfRangeError(
            f"band: got {low:g}, {typical:g}, {high:g}; allowed: 0 <= low <= typical <= high"
        )
    q = np.asarray(quantile, dtype=float)
    if not ((q > 0.0) & (q < 1.0)).all():
        raise OutOfRangeError("band: quantile: allowed: between 0 and 1, ends left out")
    from scipy.special import ndtri

    z = np.clip(ndtri(q) / NORMAL_90, -2.0, 2.0)
    value = typical + z * np.where(z < 0.0, typical - low, high - typical)
    return np.maximum(value, low / 3.0)
