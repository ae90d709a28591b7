"""Cakes under high stress: from 0.35 MPa on they stiffen as published piston tests do."""

from __future__ import annotations

import numpy as np

from cakewright.quantities import FloatArray

__all__ = ["stiffened_exponent"]

# Piston tests on sewage sludge: solidosity grows as stress^0.18 from 0.35 to 8 MPa (T41) and on to
# 50 MPa, where a cake's solidosity was 0.69 (T33). The law is set at and below the first of these.
_STIFF_FROM = 3.5e5  # Pa
_STIFF_EXPONENT = 5.6
_DENSEST = 0.69


def stiffened_exponent(
    pressure: FloatArray, gel_point: FloatArray, yield_scale: FloatArray, exponent: FloatArray
) -> FloatArray:
    """Yield exponent whose law meets at ``pressure`` the solidosity of a cake that stiffens.

    Up to 0.35 MPa the law stands; above, solidosity grows as published for piston tests. The law
    from the gel point to that end is one power law again, so that one solver serves every press.
    """
    end = np.maximum(np.log1p(pressure / yield_scale), 1e-9)
    knee = np.minimum(end, np.log1p(_STIFF_FROM / yield_scale))
    growth = knee / exponent + (end - knee) / np.maximum(exponent, _STIFF_EXPONENT)
    most = np.log(np.maximum(_DENSEST / gel_point, 1.01))
    return np.asarray(end / np.minimum(growth, most))
