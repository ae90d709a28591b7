"""Degree of consolidation of a layer under constant load: Terzaghi, sine, Terzaghi-Voigt."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain

__all__ = [
    "consolidation_degree_sine",
    "consolidation_degree_terzaghi",
    "consolidation_degree_terzaghi_voigt",
]

_SHORT = 0.05  # below this time factor the square-root form is exact to 1e-8
_TERMS = np.arange(0, 12)


def consolidation_degree_terzaghi(time_factor: Floats) -> Floats:
    r"""Average degree of consolidation, uniform initial pressure.

    .. math:: U = 1 - \sum_{j\ge 0} \frac{2}{M_j^2} e^{-M_j^2 T}, \quad M_j = (2j+1)\pi/2

    Parameters
    ----------
    time_factor : float or ndarray, shape (n,)
        Time factor :math:`T = C_v t/H^2` with the longest drainage path H; >= 0. [1]

    Returns
    -------
    consolidation_degree : float or ndarray, shape (n,)
        Settlement over final settlement, 0 to 1. [1]

    Notes
    -----
    Below T = 0.05 the short-time form :math:`2\sqrt{T/\pi}` replaces the slowly converging series.

    References
    ----------
    .. [1] T30, table of U against T.

    Examples
    --------
    >>> round(consolidation_degree_terzaghi(0.2), 6)
    0.504088
    """
    t = checked(time_factor, "time factor", "1", 0.0)
    m2 = ((2 * _TERMS + 1) * np.pi / 2) ** 2
    series = 1.0 - np.sum(2.0 / m2 * np.exp(-m2 * t[..., None]), axis=-1)
    return plain(np.where(t < _SHORT, 2 * np.sqrt(t / np.pi), series))


def consolidation_degree_sine(time_factor: Floats) -> Floats:
    r"""Average degree of consolidation, half-sine initial pressure (one exponential).

    .. math:: U = 1 - e^{-\pi^2 T/4}

    Parameters
    ----------
    time_factor : float or ndarray, shape (n,)
        Time factor; :math:`T`; >= 0. [1]

    Returns
    -------
    consolidation_degree : float or ndarray, shape (n,)
        Settlement over final settlement, 0 to 1. [1]

    References
    ----------
    .. [1] T30, sine column of the table.

    Examples
    --------
    >>> round(consolidation_degree_sine(0.2809), 3)
    0.5
    """
    t = checked(time_factor, "time factor", "1", 0.0)
    return plain(-np.expm1(-(np.pi**2) * t / 4))


def consolidation_degree_terzaghi_voigt(
    time: Floats,
    coefficient: Floats,
    solids_height: Floats,
    creep_share: Floats,
    creep_rate: Floats,
    drained_faces: Floats = 1.0,
    *,
    one_exponential: bool = False,
) -> Floats:
    r"""Degree of consolidation with creep: Terzaghi's part and a Voigt element.

    .. math:: U = (1-B)\,U_T\!\left(\frac{i^2 C_e\theta}{\omega_0^2}\right)
              + B\left(1 - e^{-\eta\theta}\right)

    Parameters
    ----------
    time : float or ndarray, shape (n,)
        Consolidation time; :math:`\theta`; >= 0. [s]
    coefficient : float or ndarray, shape (n,)
        Modified consolidation coefficient (solids coordinate); :math:`C_e`; > 0. [m2/s]
    solids_height : float or ndarray, shape (n,)
        Solids volume per pressed area; :math:`\omega_0`; > 0. [m]
    creep_share : float or ndarray, shape (n,)
        Creep over total settlement; :math:`B`; 0 to 1. [1]
    creep_rate : float or ndarray, shape (n,)
        Creep rate; :math:`\eta`; >= 0. [1/s]
    drained_faces : float or ndarray, shape (n,)
        Faces that drain; :math:`i`; 1 or 2. [1]
    one_exponential : bool
        Replace the series by its common one-exponential shortcut. [object]

    Returns
    -------
    consolidation_degree : float or ndarray, shape (n,)
        Settlement over final settlement, 0 to 1. [1]

    References
    ----------
    .. [1] MEM, form; T32 gives B about 0.9 for excess activated sludge.

    Examples
    --------
    >>> round(consolidation_degree_terzaghi_voigt(600.0, 1e-10, 5e-4, 0.1, 2e-3), 5)
    0.56598
    """
    theta = checked(time, "time", "s", 0.0)
    height = checked(solids_height, "solids height", "m", 0.0, above=True)
    share = checked(creep_share, "creep share", "1", 0.0, 1.0)
    faces = checked(drained_faces, "drained faces", "1", 1.0, 2.0)
    factor = plain(faces**2 * np.asarray(coefficient) * theta / height**2)
    degree = consolidation_degree_sine if one_exponential else consolidation_degree_terzaghi
    creep = -np.expm1(-checked(creep_rate, "creep rate", "1/s", 0.0) * theta)
    return plain((1 - share) * np.asarray(degree(factor)) + share * creep)
