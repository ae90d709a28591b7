"""Capture of solids: the forms in use, and what each leaves out."""

from __future__ import annotations

from cakewright.errors import OutOfRangeError
from cakewright.physics._checked import Floats, checked, plain

__all__ = [
    "capture_three_stream",
]


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
