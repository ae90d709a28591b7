"""Capture of solids: the forms in use, and what each leaves out."""

from __future__ import annotations

from cakewright.errors import OutOfRangeError
from cakewright.physics._checked import Floats, checked, plain

__all__ = ["capture_cake", "capture_loss", "capture_three_stream", "solids_to_dewatering_recycle"]


def capture_three_stream(
    feed_solids: Floats,
    cake_solids: Floats,
    filtrate_solids: Floats,
    added_water_share: Floats = 0.0,
    largest_added: float = 0.02,
) -> Floats:
    r"""Capture from three concentrations, no flow measured.

    .. math:: R = \frac{C_c (C_f - C_e)}{C_f (C_c - C_e)}

    Parameters
    ----------
    feed_solids : float or ndarray, shape (n,)
        Suspended solids of the feed by mass; :math:`C_f`; above 0 to 1. [1]
    cake_solids : float or ndarray, shape (n,)
        Suspended solids of the cake by mass; :math:`C_c`; above feed, to 1. [1]
    filtrate_solids : float or ndarray, shape (n,)
        Suspended solids of the filtrate by mass; :math:`C_e`; 0 to below feed. [1]
    added_water_share : float or ndarray, shape (n,)
        Wash and polymer water in the filtrate sample, over the feed; >= 0. [1]
    largest_added : float
        Largest added water for which the form may be used. [1]

    Returns
    -------
    capture : float or ndarray, shape (n,)
        Share of the feed's suspended solids in the cake. [1]

    Raises
    ------
    OutOfRangeError
        If the cake is not drier than the feed, the filtrate not thinner, or more water was added
        than the form can bear: then use `capture_loss`.

    Notes
    -----
    Exact for two outlets when no water or solids are added. Total solids make capture look poor
    where much is dissolved: use suspended solids.

    References
    ----------
    .. [1] MEM, textbooks; derivation OWN.

    Examples
    --------
    >>> round(capture_three_stream(0.03, 0.22, 0.0015), 4)
    0.9565
    """
    feed = checked(feed_solids, "feed solids", "", 0.0, 1.0, above=True)
    cake = checked(cake_solids, "cake solids", "", 0.0, 1.0, above=True)
    lost = checked(filtrate_solids, "filtrate solids", "", 0.0, 1.0)
    if not ((cake > feed) & (feed > lost)).all():
        raise OutOfRangeError(
            "capture from three concentrations: got a cake no drier than the feed or a filtrate no "
            "thinner; allowed: filtrate < feed < cake; check that all three are on one basis"
        )
    if (checked(added_water_share, "added water", "", 0.0) > largest_added).any():
        raise OutOfRangeError(
            f"capture from three concentrations: got more added water than {largest_added:g} of "
            "the feed; the form leaves wash and polymer water out: use the loss form with flows"
        )
    return plain(cake * (feed - lost) / (feed * (cake - lost)))


def capture_loss(
    feed_flow: Floats, feed_solids: Floats, filtrate_flow: Floats, filtrate_solids: Floats
) -> Floats:
    r"""Capture from what is lost, wash and polymer water included.

    .. math:: R = 1 - \frac{Q_e C_e}{Q_f C_f}

    Parameters
    ----------
    feed_flow : float or ndarray, shape (n,)
        Sludge fed; :math:`Q_f`; > 0. [m3/s]
    feed_solids : float or ndarray, shape (n,)
        Suspended solids of the feed; :math:`C_f`; > 0. [kg/m3]
    filtrate_flow : float or ndarray, shape (n,)
        Filtrate and wash water together; :math:`Q_e`; >= 0. [m3/s]
    filtrate_solids : float or ndarray, shape (n,)
        Suspended solids of that mixture; :math:`C_e`; >= 0. [kg/m3]

    Returns
    -------
    capture : float or ndarray, shape (n,)
        Share of the feed's suspended solids in the cake. [1]

    Raises
    ------
    OutOfRangeError
        If a value is outside its range or more is lost than was fed.

    Notes
    -----
    Valid with any amount of added water. Polymer lost with the filtrate counts as lost sludge.

    References
    ----------
    .. [1] P47 belt-press exercise, recovery from wastewater.

    Examples
    --------
    >>> round(capture_loss(45.0, 50.0, 64.0, 2.2), 4)
    0.9374
    """
    fed = checked(feed_flow, "feed flow", "m3/s", 0.0, above=True) * checked(
        feed_solids, "feed solids", "kg/m3", 0.0, above=True
    )
    lost = checked(filtrate_flow, "filtrate flow", "m3/s", 0.0) * checked(
        filtrate_solids, "filtrate solids", "kg/m3", 0.0
    )
    return plain(1.0 - checked(lost / fed, "solids lost over solids fed", "", 0.0, 1.0))


def capture_cake(
    feed_solids_flow: Floats, cake_dry_flow: Floats, conditioner_in_cake: Floats = 0.0
) -> Floats:
    r"""Capture from the cake, conditioner solids kept apart.

    .. math:: R = \frac{\dot m_c - \dot m_k}{\dot m_f}

    Parameters
    ----------
    feed_solids_flow : float or ndarray, shape (n,)
        Suspended solids fed, without conditioner; :math:`\dot m_f`; > 0. [kg/s]
    cake_dry_flow : float or ndarray, shape (n,)
        Dry solids in the cake, conditioner included; :math:`\dot m_c`; >= 0. [kg/s]
    conditioner_in_cake : float or ndarray, shape (n,)
        Conditioner solids kept in the cake; :math:`\dot m_k`; 0 to the cake's. [kg/s]

    Returns
    -------
    capture : float or ndarray, shape (n,)
        Share of the sludge's own solids in the cake. [1]

    Raises
    ------
    OutOfRangeError
        If a value is outside its range or the cake holds more than was fed.

    Notes
    -----
    Without the subtraction lime and iron make capture and dryness look better than they are.

    References
    ----------
    .. [1] P05 5-2.3.4 and 5-3.2.4, chemicals counted with a retained share of their own.

    Examples
    --------
    >>> round(capture_cake(1060.0, 1197.8, 159.0), 3)
    0.98
    """
    fed = checked(feed_solids_flow, "solids fed", "kg/s", 0.0, above=True)
    own = checked(cake_dry_flow, "dry solids in the cake", "kg/s", 0.0) - checked(
        conditioner_in_cake, "conditioner in the cake", "kg/s", 0.0
    )
    return plain(checked(own / fed, "sludge solids in the cake over solids fed", "", 0.0, 1.0))


def solids_to_dewatering_recycle(
    generated: Floats, capture: Floats, caught_again: Floats
) -> Floats:
    r"""Solids sent to dewatering once the filtrate's solids come back as sludge.

    .. math:: M = \frac{G}{1 - (1 - r)\,e}

    Parameters
    ----------
    generated : float or ndarray, shape (n,)
        Solids arising without recycle; :math:`G`; >= 0. [kg/s]
    capture : float or ndarray, shape (n,)
        Overall capture of thickening and dewatering; :math:`r`; 0 to 1. [1]
    caught_again : float or ndarray, shape (n,)
        Share of returned solids that becomes sludge again; :math:`e`; 0 to 1. [1]

    Returns
    -------
    solids_flow : float or ndarray, shape (n,)
        Solids to dewatering in the steady state. [kg/s]

    Raises
    ------
    OutOfRangeError
        If a value is outside its range or nothing ever leaves.

    Notes
    -----
    The limit of passing the recycle round until it no longer changes.

    References
    ----------
    .. [1] OWN, one-loop solids balance.

    Examples
    --------
    >>> round(solids_to_dewatering_recycle(2317.5, 0.828, 0.8975), 1)
    2740.6
    """
    fresh = checked(generated, "solids arising", "kg/s", 0.0)
    lost = 1.0 - checked(capture, "capture", "", 0.0, 1.0)
    again = checked(caught_again, "share caught again", "", 0.0, 1.0)
    leaves = checked(1.0 - lost * again, "share that leaves the loop", "", 0.0, above=True)
    return plain(fresh / leaves)
