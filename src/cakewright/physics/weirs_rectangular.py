"""Flow over thin-plate rectangular weirs, forwards and backwards."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain
from cakewright.quantities.constants import GRAVITY

__all__ = [
    "RECTANGULAR_HEAD_CORRECTION",
    "flow_rectangular_kindsvater_carter",
    "head_rectangular_kindsvater_carter",
    "rectangular_coefficient",
    "rectangular_width_correction",
]

RECTANGULAR_HEAD_CORRECTION = 0.001
# Contraction ratio b/B -> a, c of Ce = a + c h/p, and width correction (from memory)
_RATIO = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 1.0)
_CE_BASE = (0.587, 0.589, 0.591, 0.593, 0.597, 0.599, 0.602)
_CE_SLOPE = (-0.0023, -0.0018, 0.0058, 0.018, 0.045, 0.064, 0.075)
_WIDTH = (0.0024, 0.0024, 0.0027, 0.0036, 0.0042, 0.0034, -0.0009)


def rectangular_coefficient(head: Floats, crest_height: Floats, width_ratio: Floats) -> Floats:
    r"""Discharge coefficient of a thin-plate rectangular weir.

    .. math:: C_e = a(b/B) + c(b/B)\,h/p

    Parameters
    ----------
    head : float or ndarray, shape (n,)
        Head above the crest; :math:`h`; >= 0. [m]
    crest_height : float or ndarray, shape (n,)
        Height of the crest above the floor; :math:`p`; > 0. [m]
    width_ratio : float or ndarray, shape (n,)
        Crest width over channel width; :math:`b/B`; 0 to 1. [1]

    Returns
    -------
    coefficient : float or ndarray, shape (n,)
        Discharge coefficient. [1]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    Notes
    -----
    Straight lines between tabulated ratios, from memory. Holds for h/p up to 2.

    References
    ----------
    .. [1] MEM, Kindsvater and Carter 1957.

    Examples
    --------
    >>> round(rectangular_coefficient(0.2, 0.5, 1.0), 3)
    0.632
    """
    h = checked(head, "head on the crest", "m", 0.0)
    p = checked(crest_height, "crest height", "m", 0.0, above=True)
    ratio = checked(width_ratio, "width ratio", "", 0.0, 1.0)
    base = np.interp(ratio, _RATIO, _CE_BASE)
    return plain(base + np.interp(ratio, _RATIO, _CE_SLOPE) * h / p)


def rectangular_width_correction(width_ratio: Floats) -> Floats:
    r"""Width correction of a thin-plate rectangular weir.

    .. math:: k_b = k_b(b/B)

    Parameters
    ----------
    width_ratio : float or ndarray, shape (n,)
        Crest width over channel width; :math:`b/B`; 0 to 1. [1]

    Returns
    -------
    width_correction : float or ndarray, shape (n,)
        Length added to the crest width. [m]

    Raises
    ------
    OutOfRangeError
        If the ratio is outside 0 to 1.

    References
    ----------
    .. [1] MEM, Kindsvater and Carter 1957.

    Examples
    --------
    >>> rectangular_width_correction(1.0)
    -0.0009
    """
    return plain(np.interp(checked(width_ratio, "width ratio", "", 0.0, 1.0), _RATIO, _WIDTH))


def flow_rectangular_kindsvater_carter(
    head: Floats,
    crest_width: Floats,
    crest_height: Floats,
    width_ratio: Floats = 1.0,
    head_correction: Floats = RECTANGULAR_HEAD_CORRECTION,
) -> Floats:
    r"""Flow over a thin-plate rectangular weir.

    .. math:: Q = \tfrac23\sqrt{2g}\,C_e\,(b + k_b)(h + k_h)^{3/2}

    Parameters
    ----------
    head : float or ndarray, shape (n,)
        Head above the crest; :math:`h`; >= 0. [m]
    crest_width : float or ndarray, shape (n,)
        Crest width; :math:`b`; > 0. [m]
    crest_height : float or ndarray, shape (n,)
        Height of the crest above the floor; :math:`p`; > 0. [m]
    width_ratio : float or ndarray, shape (n,)
        Crest width over channel width; :math:`b/B`; 0 to 1. [1]
    head_correction : float or ndarray, shape (n,)
        Length added to the head; :math:`k_h`; 0 to 0.005. [m]

    Returns
    -------
    flow : float or ndarray, shape (n,)
        Volume flow. [m3/s]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    Notes
    -----
    Head at least 0.03 m, width at least 0.15 m, h/p up to 2 (from memory).

    References
    ----------
    .. [1] MEM, Kindsvater and Carter 1957.

    Examples
    --------
    >>> round(flow_rectangular_kindsvater_carter(0.2, 1.0, 0.5), 4)
    0.168
    """
    h = checked(head, "head on the crest", "m", 0.0)
    b = checked(crest_width, "crest width", "m", 0.0, above=True)
    k = checked(head_correction, "head correction", "m", 0.0, 0.005)
    ce = np.asarray(rectangular_coefficient(h, crest_height, width_ratio))
    width = b + rectangular_width_correction(width_ratio)
    return plain(2 / 3 * np.sqrt(2 * GRAVITY) * ce * width * (h + k) ** 1.5)


def head_rectangular_kindsvater_carter(
    flow: Floats, crest_width: Floats, crest_height: Floats, width_ratio: Floats = 1.0
) -> Floats:
    r"""Head at which a rectangular weir passes a flow.

    .. math:: h_{i+1} = \left(\frac{3Q}{2\sqrt{2g}\,C_e(h_i)(b+k_b)}\right)^{2/3} - k_h

    Parameters
    ----------
    flow : float or ndarray, shape (n,)
        Volume flow; :math:`Q`; >= 0. [m3/s]
    crest_width : float or ndarray, shape (n,)
        Crest width; :math:`b`; > 0. [m]
    crest_height : float or ndarray, shape (n,)
        Height of the crest above the floor; :math:`p`; > 0. [m]
    width_ratio : float or ndarray, shape (n,)
        Crest width over channel width; :math:`b/B`; 0 to 1. [1]

    Returns
    -------
    head : float or ndarray, shape (n,)
        Head above the crest. [m]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] MEM, Kindsvater and Carter 1957.

    Examples
    --------
    >>> round(head_rectangular_kindsvater_carter(0.168, 1.0, 0.5), 3)
    0.2
    """
    q = checked(flow, "flow", "m3/s", 0.0)
    b = checked(crest_width, "crest width", "m", 0.0, above=True)
    width = b + rectangular_width_correction(width_ratio)
    h = np.zeros(np.broadcast(q, b, crest_height, width_ratio).shape)
    for _ in range(60):
        ce = np.asarray(rectangular_coefficient(h, crest_height, width_ratio))
        unit = 2 / 3 * np.sqrt(2 * GRAVITY) * ce * width
        new = np.maximum((q / unit) ** (2 / 3) - RECTANGULAR_HEAD_CORRECTION, 0.0)
        if np.all(np.abs(new - h) < 1e-14):
            break
        h = new
    return plain(h)
