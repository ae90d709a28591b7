"""Solids made by metal salts and lime: stoichiometry, and the water-works formula."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.physics._checked import Floats, checked, plain

__all__ = [
    "Metal",
    "metal_in_salt",
    "solids_concentration_water_works_lang",
    "solids_per_metal_precipitation",
]

# Standard atomic masses, g/mol.
_H, _O, _AL, _P, _S, _CL, _CA, _FE = 1.008, 15.999, 26.982, 30.974, 32.06, 35.45, 40.078, 55.845
_HYDROXIDE = 3 * (_O + _H)
_PHOSPHATE = _P + 4 * _O


class Metal(StrEnum):
    """Trivalent coagulant metals."""

    ALUMINIUM = "aluminium"
    IRON = "iron"


_MASS = {Metal.ALUMINIUM: _AL, Metal.IRON: _FE}
_SALT = {
    "alum_14": (2 * _AL, 2 * _AL + 3 * (_S + 4 * _O) + 14 * (2 * _H + _O)),
    "aluminium_sulphate": (2 * _AL, 2 * _AL + 3 * (_S + 4 * _O)),
    "ferric_chloride": (_FE, _FE + 3 * _CL),
    "ferric_sulphate": (2 * _FE, 2 * _FE + 3 * (_S + 4 * _O)),
}


def metal_in_salt(salt: str) -> float:
    """Metal share of a dry coagulant salt.

    Parameters
    ----------
    salt : str
        ``alum_14`` (14-hydrate), ``aluminium_sulphate``, ``ferric_chloride`` or
        ``ferric_sulphate`` (all free of water but the first). [object]

    Returns
    -------
    share : float
        Mass of metal per mass of salt. [1]

    Raises
    ------
    OutOfRangeError
        If the salt is not one of these.

    References
    ----------
    .. [1] OWN, atomic masses.

    Examples
    --------
    >>> round(metal_in_salt("alum_14"), 4)
    0.0908
    """
    if salt not in _SALT:
        raise OutOfRangeError(
            f"coagulant salt: got {salt!r}; allowed: {', '.join(sorted(_SALT))}; "
            f"for another product give the metal itself"
        )
    metal, whole = _SALT[salt]
    return metal / whole


def solids_per_metal_precipitation(metal: Metal, beta: Floats) -> Floats:
    r"""Dry precipitate per mass of metal dosed, the excess over phosphate as hydroxide.

    .. math:: \frac{M_{MePO_4} + (\beta - 1) M_{Me(OH)_3}}{\beta M_{Me}}

    Parameters
    ----------
    metal : Metal
        Aluminium or iron. [object]
    beta : float or ndarray, shape (n,)
        Metal dosed per phosphorus removed, by moles; :math:`\beta`; >= 1; infinite where no
        phosphorus is precipitated. [1]

    Returns
    -------
    solids_per_metal : float or ndarray, shape (n,)
        Mass of dry solids per mass of metal. [kg/kg]

    Raises
    ------
    OutOfRangeError
        If ``beta`` is below 1: then the metal cannot bind that phosphorus.

    Notes
    -----
    Real precipitate keeps bound water after drying; measured values run 10 to 35 % higher (MEM).

    References
    ----------
    .. [1] OWN, stoichiometry with standard atomic masses.

    Examples
    --------
    >>> round(solids_per_metal_precipitation(Metal.IRON, 1.5), 2)
    2.44
    """
    endless = np.isinf(beta)
    per_metal = checked(np.where(endless, 1.0, beta), "metal per phosphorus", "mol/mol", 1.0)
    inverse = np.where(endless, 0.0, 1.0 / per_metal)
    mass = _MASS[metal]
    return plain(((mass + _PHOSPHATE) * inverse + (1.0 - inverse) * (mass + _HYDROXIDE)) / mass)


def solids_concentration_water_works_lang(
    suspended_solids: Floats,
    alum: Floats = 0.0,
    iron: Floats = 0.0,
    calcium_hardness: Floats = 0.0,
    magnesium_hardness: Floats = 0.0,
    other: Floats = 0.0,
) -> Floats:
    r"""Dry solids made per volume of raw water treated.

    .. math:: X = 2\,Ca + 2.6\,Mg + 0.44\,Al + 1.9\,Fe + SS + A_x

    Parameters
    ----------
    suspended_solids : float or ndarray, shape (n,)
        Suspended solids removed; :math:`SS`; >= 0. [kg/m3]
    alum : float or ndarray, shape (n,)
        Alum dosed, as the 14-hydrate; :math:`Al`; >= 0. [kg/m3]
    iron : float or ndarray, shape (n,)
        Iron dosed, as Fe; :math:`Fe`; >= 0. [kg/m3]
    calcium_hardness : float or ndarray, shape (n,)
        Calcium hardness removed by lime, as CaCO3; :math:`Ca`; >= 0. [kg/m3]
    magnesium_hardness : float or ndarray, shape (n,)
        Magnesium hardness removed by lime, as CaCO3; :math:`Mg`; >= 0. [kg/m3]
    other : float or ndarray, shape (n,)
        Other solids added, such as powdered carbon; :math:`A_x`; >= 0. [kg/m3]

    Returns
    -------
    solids_concentration : float or ndarray, shape (n,)
        Dry solids per volume of raw water. [kg/m3]

    Raises
    ------
    OutOfRangeError
        If a value is negative.

    Notes
    -----
    The source prints 84.4 as the factor from m3/s and mg/L to kg/d; it is 86.4, and not needed
    here. 0.44 counts the precipitate as Al(OH)3 with three waters.

    References
    ----------
    .. [1] L10 eq. 9.1 (Lang et al. 1985).

    Examples
    --------
    >>> round(solids_concentration_water_works_lang(0.010, alum=0.040), 5)
    0.0276
    """
    named = {
        "suspended solids": (suspended_solids, 1.0),
        "alum": (alum, 0.44),
        "iron": (iron, 1.9),
        "calcium hardness": (calcium_hardness, 2.0),
        "magnesium hardness": (magnesium_hardness, 2.6),
        "other solids": (other, 1.0),
    }
    return plain(sum(f * checked(value, name, "kg/m3", 0.0) for name, (value, f) in named.items()))
