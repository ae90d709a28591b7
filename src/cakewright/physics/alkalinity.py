"""What inorganic conditioners do to alkalinity, pH and dry solids (stoichiometry)."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from cakewright.physics._checked import Floats, checked, plain

__all__ = [
    "Conditioner",
    "alkalinity_after_dose",
    "alkalinity_use",
    "conditioner_solids",
    "ph_carbonate",
]

# Molar masses [g/mol] from standard atomic masses
_FE, _AL, _CA, _CL, _O, _H, _S, _C = 55.845, 26.982, 40.078, 35.45, 15.999, 1.008, 32.06, 12.011
_CACO3 = _CA + _C + 3 * _O
_HYDROXIDE = _O + _H


class Conditioner(StrEnum):
    """Inorganic conditioners and the form their dose is counted in."""

    FERRIC_CHLORIDE = "ferric chloride, anhydrous"
    IRON = "iron(III), as Fe"
    ALUM = "aluminium sulphate, 14 hydrate"
    ALUMINIUM = "aluminium, as Al"
    HYDRATED_LIME = "hydrated lime"
    QUICKLIME = "quicklime, as CaO"


# Molar mass of the dosed form, moles of metal in it, acid equivalents per mole of metal
_FERRIC_HYDROXIDE = _FE + 3 * _HYDROXIDE
_ALUMINIUM_HYDROXIDE = _AL + 3 * _HYDROXIDE
_HYDRATED_LIME = _CA + 2 * _HYDROXIDE
_ALUM = 2 * _AL + 3 * (_S + 4 * _O) + 14 * (2 * _H + _O)
_FORMS = {
    Conditioner.FERRIC_CHLORIDE: (_FE + 3 * _CL, 3.0, _FERRIC_HYDROXIDE),
    Conditioner.IRON: (_FE, 3.0, _FERRIC_HYDROXIDE),
    Conditioner.ALUM: (_ALUM, 6.0, 2 * _ALUMINIUM_HYDROXIDE),
    Conditioner.ALUMINIUM: (_AL, 3.0, _ALUMINIUM_HYDROXIDE),
    Conditioner.HYDRATED_LIME: (_HYDRATED_LIME, -2.0, _HYDRATED_LIME),
    Conditioner.QUICKLIME: (_CA + _O, -2.0, _HYDRATED_LIME),
}


def alkalinity_use(conditioner: Conditioner) -> float:
    r"""Alkalinity used per mass of conditioner, as calcium carbonate.

    .. math:: u = \frac{z\,M_{CaCO_3}}{2 M}

    Parameters
    ----------
    conditioner : Conditioner
        Conditioner and the form its dose is counted in. [object]

    Returns
    -------
    alkalinity_use : float
        Mass of calcium carbonate per mass dosed; negative for lime, which adds. [kg/kg]

    Notes
    -----
    Full hydrolysis of the metal is assumed; pre-hydrolysed products use less.

    References
    ----------
    .. [1] OWN, stoichiometry from atomic masses.

    Examples
    --------
    >>> round(alkalinity_use(Conditioner.IRON), 2)
    2.69
    """
    molar, acid, _ = _FORMS[conditioner]
    return acid / 2 * _CACO3 / molar


def conditioner_solids(conditioner: Conditioner) -> float:
    r"""Dry solids a conditioner adds to the sludge per mass dosed.

    .. math:: s = M_{hydroxide}/M

    Parameters
    ----------
    conditioner : Conditioner
        Conditioner and the form its dose is counted in. [object]

    Returns
    -------
    solids : float
        Dry solids (hydroxide, or lime as hydrated lime) per mass dosed. [kg/kg]

    Notes
    -----
    Phosphate or carbonate precipitates differ; lime that dissolves and leaves with the filtrate is
    not taken off here.

    References
    ----------
    .. [1] OWN, stoichiometry from atomic masses.

    Examples
    --------
    >>> round(conditioner_solids(Conditioner.FERRIC_CHLORIDE), 3)
    0.659
    """
    molar, _, solid = _FORMS[conditioner]
    return solid / molar


def alkalinity_after_dose(alkalinity: Floats, dose: Floats, conditioner: Conditioner) -> Floats:
    r"""Alkalinity left after dosing (may be negative: then there was not enough).

    .. math:: A' = A - u\,c

    Parameters
    ----------
    alkalinity : float or ndarray, shape (n,)
        Alkalinity of the sludge water as calcium carbonate; :math:`A`; >= 0. [kg/m3]
    dose : float or ndarray, shape (n,)
        Conditioner per volume; :math:`c`; >= 0. [kg/m3]
    conditioner : Conditioner
        Conditioner and the form its dose is counted in. [object]

    Returns
    -------
    alkalinity : float or ndarray, shape (n,)
        Alkalinity left, as calcium carbonate. [kg/m3]

    Raises
    ------
    OutOfRangeError
        If a number is negative.

    References
    ----------
    .. [1] OWN, balance.

    Examples
    --------
    >>> round(alkalinity_after_dose(0.5, 0.1, Conditioner.FERRIC_CHLORIDE), 3)
    0.407
    """
    have = checked(alkalinity, "alkalinity", "kg/m3", 0.0)
    c = checked(dose, "conditioner per volume", "kg/m3", 0.0)
    return plain(have - c * alkalinity_use(conditioner))


def ph_carbonate(ph_before: Floats, alkalinity_before: Floats, alkalinity_left: Floats) -> Floats:
    r"""pH after a strong acid or base has acted on a closed carbonate system.

    .. math:: pH = pK_1 + \log_{10}\frac{A'}{C_T - A'}, \quad
              C_T = A\,(1 + 10^{pK_1 - pH_0})

    Parameters
    ----------
    ph_before : float or ndarray, shape (n,)
        pH before dosing; :math:`pH_0`; 5 to 8.3. [1]
    alkalinity_before : float or ndarray, shape (n,)
        Alkalinity before, as calcium carbonate; :math:`A`; > 0. [kg/m3]
    alkalinity_left : float or ndarray, shape (n,)
        Alkalinity left, as calcium carbonate; :math:`A'`; > 0, below the total carbon. [kg/m3]

    Returns
    -------
    ph : float or ndarray, shape (n,)
        Estimated pH. [1]

    Raises
    ------
    OutOfRangeError
        If the alkalinity is used up or the system leaves the bicarbonate range.

    Notes
    -----
    No carbon dioxide leaves, bicarbonate is the only alkalinity, pK1 6.35 at 25 degC from memory.
    An indication that says when to measure: sludge also holds ammonia, phosphate and organic acids.

    References
    ----------
    .. [1] MEM, first dissociation constant of carbonic acid.

    Examples
    --------
    >>> round(ph_carbonate(7.2, 0.5, 0.407), 2)
    6.75
    """
    ph0 = checked(ph_before, "pH", "", 5.0, 8.3)
    before = checked(alkalinity_before, "alkalinity", "kg/m3", 0.0, above=True)
    left = checked(alkalinity_left, "alkalinity left", "kg/m3", 0.0, above=True)
    carbon = before * (1 + 10 ** (6.35 - ph0))
    dissolved = checked(carbon - left, "carbonic acid left", "kg/m3", 0.0, above=True)
    return plain(6.35 + np.log10(left / dissolved))
