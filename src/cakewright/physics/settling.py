"""Settling of sludge in a cylinder: volume index and zone settling; charge by titration."""

from __future__ import annotations

from cakewright.physics._checked import Floats, checked, plain

__all__ = ["charge_demand", "sludge_volume_index"]


def sludge_volume_index(settled_share: Floats, suspended_solids: Floats) -> Floats:
    r"""Volume of a kilogram of suspended solids after 30 minutes of settling.

    .. math:: SVI = \frac{v_{30}}{X}

    Parameters
    ----------
    settled_share : float or ndarray, shape (n,)
        Settled volume over sample volume after 30 min; :math:`v_{30}`; 0 to 1. [1]
    suspended_solids : float or ndarray, shape (n,)
        Suspended solids of the sample; :math:`X`; > 0. [kg/m3]

    Returns
    -------
    sludge_volume_index : float or ndarray, shape (n,)
        Settled volume per dry solids (0.1 m3/kg is 100 mL/g). [m3/kg]

    References
    ----------
    .. [1] T22, example 10.8.

    Examples
    --------
    >>> round(sludge_volume_index(0.150, 2.0), 4)
    0.075
    """
    share = checked(settled_share, "settled share", "1", 0.0, 1.0)
    return plain(share / checked(suspended_solids, "suspended solids", "kg/m3", 0.0, above=True))


def charge_demand(titrant_volume: Floats, titrant_charge: Floats, dry_solids: Floats) -> Floats:
    r"""Charge needed to neutralise the solids, from a titration to zero streaming current.

    .. math:: q = V_t N_t / m_{DS}

    Parameters
    ----------
    titrant_volume : float or ndarray, shape (n,)
        Titrant used, less that of the blank; :math:`V_t`; >= 0. [m3]
    titrant_charge : float or ndarray, shape (n,)
        Charge of the titrant; :math:`N_t`; > 0. [mol/m3]
    dry_solids : float or ndarray, shape (n,)
        Dry solids in the beaker; :math:`m_{DS}`; > 0. [kg]

    Returns
    -------
    charge_demand : float or ndarray, shape (n,)
        Charge per dry solids (1 mol/kg is 1 meq/g). [mol/kg]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> round(charge_demand(8e-6, 1.0, 0.02e-3), 2)
    0.4
    """
    volume = checked(titrant_volume, "titrant volume", "m3", 0.0)
    solids = checked(dry_solids, "dry solids", "kg", 0.0, above=True)
    return plain(volume * checked(titrant_charge, "titrant charge", "mol/m3", 0.0) / solids)
