"""How conditioning acts on the sludge law: resistance and fines against polymer dose."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain

__all__ = ["dose_bowl", "fines_share_dose", "resistance_ratio_dose"]


def dose_bowl(dose: Floats, optimum_dose: Floats, curvature: Floats, gain: Floats) -> Floats:
    r"""Rise of the logarithm of a response away from the optimum dose.

    .. math:: b = G\left[1 - \exp\left(-\frac{k}{G}\ln^2\frac{d}{d_{opt}}\right)\right]

    Parameters
    ----------
    dose : float or ndarray, shape (n,)
        Active polymer per dry solids; :math:`d`; >= 0, 0 is the raw sludge. [kg/kg]
    optimum_dose : float or ndarray, shape (n,)
        Optimum dose; :math:`d_{opt}`; > 0. [kg/kg]
    curvature : float or ndarray, shape (n,)
        Curvature at the optimum; :math:`k`; >= 0. [1]
    gain : float or ndarray, shape (n,)
        Rise for the raw sludge; :math:`G`; > 0. [1]

    Returns
    -------
    rise : float or ndarray, shape (n,)
        0 at the optimum, :math:`k\ln^2(d/d_{opt})` near it, :math:`G` far from it. [1]

    Notes
    -----
    A bowl in the logarithm of the dose that flattens out at the response of the raw sludge.
    The form is our own choice: no published closed form of a dose response could be read.

    References
    ----------
    .. [1] OWN, smallest form with an optimum and a finite raw response.
    .. [2] T24, an optimum dose exists for capillary suction, consolidation and centrifuging alike.

    Examples
    --------
    >>> round(dose_bowl(0.006, 0.006, 2.0, 4.0), 3), round(dose_bowl(0.0, 0.006, 2.0, 4.0), 3)
    (0.0, 4.0)
    """
    best = checked(optimum_dose, "optimum dose", "kg/kg", 0.0, above=True)
    given = checked(dose, "dose", "kg/kg", 0.0)
    top = checked(gain, "gain", "1", 0.0, above=True)
    bend = checked(curvature, "curvature", "1", 0.0)
    distance = np.log(np.maximum(given, best * 1e-12) / best)
    rise = -top * np.expm1(-bend / top * distance**2)
    return plain(np.where(given > 0, rise, top))


def resistance_ratio_dose(
    dose: Floats, optimum_dose: Floats, curvature: Floats, gain: Floats
) -> Floats:
    r"""Specific resistance at a dose over that at the optimum dose.

    .. math:: \alpha(d)/\alpha(d_{opt}) = e^{b(d)}

    Parameters
    ----------
    dose : float or ndarray, shape (n,)
        Active polymer per dry solids; :math:`d`; >= 0. [kg/kg]
    optimum_dose : float or ndarray, shape (n,)
        Optimum dose; > 0. [kg/kg]
    curvature : float or ndarray, shape (n,)
        Curvature of ln resistance; >= 0. [1]
    gain : float or ndarray, shape (n,)
        ln of raw over best resistance; > 0. [1]

    Returns
    -------
    resistance_ratio : float or ndarray, shape (n,)
        1 at the optimum, larger elsewhere. [1]

    References
    ----------
    .. [1] OWN, `dose_bowl`; T25 supports that dose moves resistance, hardly strength.

    Examples
    --------
    >>> round(resistance_ratio_dose(0.003, 0.006, 2.0, 4.0), 2)
    2.35
    """
    return plain(np.exp(dose_bowl(dose, optimum_dose, curvature, gain)))


def fines_share_dose(
    dose: Floats, optimum_dose: Floats, fines_at_optimum: Floats, curvature: Floats
) -> Floats:
    r"""Share of the solids that joined no floc, against dose.

    .. math:: f(d) = f_0\, e^{b(d)}, \quad G = -\ln f_0

    Parameters
    ----------
    dose : float or ndarray, shape (n,)
        Active polymer per dry solids; :math:`d`; >= 0. [kg/kg]
    optimum_dose : float or ndarray, shape (n,)
        Optimum dose; > 0. [kg/kg]
    fines_at_optimum : float or ndarray, shape (n,)
        Fines at the optimum; :math:`f_0`; between 0 and 1. [1]
    curvature : float or ndarray, shape (n,)
        Curvature of ln fines; >= 0. [1]

    Returns
    -------
    fines_share : float or ndarray, shape (n,)
        From :math:`f_0` at the optimum to 1 for the raw sludge. [1]

    Notes
    -----
    The gain is fixed by the definition: without polymer no solids count as flocculated.

    References
    ----------
    .. [1] OWN, `dose_bowl` with the raw sludge wholly fines.

    Examples
    --------
    >>> round(fines_share_dose(0.006, 0.006, 0.02, 3.0), 3)
    0.02
    """
    least = checked(fines_at_optimum, "fines at the optimum", "1", 0.0, 1.0 - 1e-12, above=True)
    rise = np.asarray(dose_bowl(dose, optimum_dose, curvature, plain(-np.log(least))))
    return plain(np.minimum(least * np.exp(rise), 1.0))
