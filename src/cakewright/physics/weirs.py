"""Flow over thin-plate V-notches and through gates, forwards and backwards."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain
from cakewright.quantities.constants import GRAVITY

__all__ = [
    "GATE_COEFFICIENT",
    "flow_gate",
    "flow_v_notch_kindsvater_shen",
    "head_v_notch_kindsvater_shen",
    "v_notch_coefficient",
    "v_notch_head_correction",
]

GATE_COEFFICIENT = 0.61  # free flow under a sharp gate, from memory. [1]


def v_notch_coefficient(angle: Floats) -> Floats:
    r"""Discharge coefficient of a fully contracted V-notch.

    .. math:: C_e = 0.60717 - 0.00087447\,\theta + 6.1039\cdot10^{-6}\,\theta^2

    Parameters
    ----------
    angle : float or ndarray, shape (n,)
        Notch angle; :math:`\theta`; 25 to 100 degrees. [rad]

    Returns
    -------
    coefficient : float or ndarray, shape (n,)
        Discharge coefficient. [1]

    Raises
    ------
    OutOfRangeError
        If the angle is outside 25 to 100 degrees.

    Notes
    -----
    Curve through the standard's diagram, from memory; 0.578 at 90 degrees.

    References
    ----------
    .. [1] L24, range of angles and value at 90 degrees.
    .. [2] MEM, curve between.

    Examples
    --------
    >>> round(v_notch_coefficient(1.5707963), 3)
    0.578
    """
    limits = np.radians([24.99, 100.01])
    degrees = np.degrees(checked(angle, "notch angle", "rad", *limits))
    return plain(0.607165052 - 0.000874466963 * degrees + 6.10393334e-6 * degrees**2)


def v_notch_head_correction(angle: Floats) -> Floats:
    r"""Head correction of a V-notch for viscosity and surface tension.

    .. math:: k_h = 0.3048\,(0.01449 - 3.3956\cdot10^{-4}\theta + 3.2982\cdot10^{-6}\theta^2
              - 1.0622\cdot10^{-8}\theta^3)

    Parameters
    ----------
    angle : float or ndarray, shape (n,)
        Notch angle; :math:`\theta`; 25 to 100 degrees. [rad]

    Returns
    -------
    head_correction : float or ndarray, shape (n,)
        Length added to the head. [m]

    Raises
    ------
    OutOfRangeError
        If the angle is outside 25 to 100 degrees.

    Notes
    -----
    From memory; gives 0.88 mm at 90 degrees where the standard's table has 0.85 mm.

    References
    ----------
    .. [1] MEM, fit of the standard's diagram.

    Examples
    --------
    >>> round(v_notch_head_correction(1.5707963) * 1000, 2)
    0.88
    """
    limits = np.radians([24.99, 100.01])
    t = np.degrees(checked(angle, "notch angle", "rad", *limits))
    feet = 0.0144902648 - 0.00033955535 * t + 3.29819003e-6 * t**2 - 1.06215442e-8 * t**3
    return plain(0.3048 * feet)


def flow_v_notch_kindsvater_shen(
    head: Floats, angle: Floats, coefficient: Floats = 0.578, head_correction: Floats = 0.00085
) -> Floats:
    r"""Flow over a thin-plate V-notch.

    .. math:: Q = \tfrac{8}{15}\sqrt{2g}\,C_e\tan(\theta/2)\,(h + k_h)^{5/2}

    Parameters
    ----------
    head : float or ndarray, shape (n,)
        Head above the notch's point, upstream of the drawdown; :math:`h`; >= 0. [m]
    angle : float or ndarray, shape (n,)
        Notch angle; :math:`\theta`; 25 to 100 degrees. [rad]
    coefficient : float or ndarray, shape (n,)
        Discharge coefficient; :math:`C_e`; 0.576 to 0.61. [1]
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
    Fully contracted notch, head 0.06 to 0.38 m, tailwater at least 0.06 m below the notch. Thin
    plates hold for thin sludge (below about 1 % solids, no rags): calibrate with a bucket above.

    References
    ----------
    .. [1] L24, form, angles and lower head.
    .. [2] MEM, coefficient and head correction.

    Examples
    --------
    >>> round(1000 * flow_v_notch_kindsvater_shen(0.10, 1.5707963), 3)
    4.41
    """
    h = checked(head, "head on the notch", "m", 0.0)
    t = checked(angle, "notch angle", "rad", *np.radians([24.99, 100.01]))
    c = checked(coefficient, "discharge coefficient", "", 0.4, 0.8)
    k = checked(head_correction, "head correction", "m", 0.0, 0.005)
    return plain(8 / 15 * np.sqrt(2 * GRAVITY) * c * np.tan(t / 2) * (h + k) ** 2.5)


def head_v_notch_kindsvater_shen(
    flow: Floats, angle: Floats, coefficient: Floats = 0.578, head_correction: Floats = 0.00085
) -> Floats:
    r"""Head at which a V-notch passes a flow.

    .. math:: h = \left(\frac{15 Q}{8\sqrt{2g}\,C_e\tan(\theta/2)}\right)^{2/5} - k_h

    Parameters
    ----------
    flow : float or ndarray, shape (n,)
        Volume flow; :math:`Q`; >= 0. [m3/s]
    angle : float or ndarray, shape (n,)
        Notch angle; :math:`\theta`; 25 to 100 degrees. [rad]
    coefficient : float or ndarray, shape (n,)
        Discharge coefficient; :math:`C_e`. [1]
    head_correction : float or ndarray, shape (n,)
        Length added to the head; :math:`k_h`. [m]

    Returns
    -------
    head : float or ndarray, shape (n,)
        Head above the notch's point (zero where the correction alone would pass the flow). [m]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] L24, form.

    Examples
    --------
    >>> round(head_v_notch_kindsvater_shen(2 / 3600, 1.5707963), 4)
    0.0432
    """
    q = checked(flow, "flow", "m3/s", 0.0)
    unit = np.asarray(flow_v_notch_kindsvater_shen(1.0, angle, coefficient, 0.0))
    return plain(np.maximum((q / unit) ** 0.4 - head_correction, 0.0))


def flow_gate(
    head: Floats, width: Floats, opening: Floats, coefficient: Floats = GATE_COEFFICIENT
) -> Floats:
    r"""Free flow through a gate opening under a head on its centre.

    .. math:: Q = C_d\,b\,a\,\sqrt{2 g h}

    Parameters
    ----------
    head : float or ndarray, shape (n,)
        Head above the centre of the opening; :math:`h`; >= 0. [m]
    width : float or ndarray, shape (n,)
        Width of the opening; :math:`b`; > 0. [m]
    opening : float or ndarray, shape (n,)
        Height of the opening; :math:`a`; >= 0. [m]
    coefficient : float or ndarray, shape (n,)
        Discharge coefficient; :math:`C_d`; 0.55 to 0.85. [1]

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
    Sharp edges, free outlet, opening small against the head; approach velocity left out.

    References
    ----------
    .. [1] MEM, sharp-edged orifice.

    Examples
    --------
    >>> round(1000 * flow_gate(0.3, 0.1, 0.05), 2)
    7.4
    """
    h = checked(head, "head on the gate", "m", 0.0)
    b = checked(width, "gate width", "m", 0.0, above=True)
    a = checked(opening, "gate opening", "m", 0.0)
    c = checked(coefficient, "discharge coefficient", "", 0.5, 0.9)
    return plain(c * b * a * np.sqrt(2 * GRAVITY * h))
