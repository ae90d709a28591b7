"""Cycles of plate presses: solids per cycle, cycles needed, chamber volume needed."""

from __future__ import annotations

from cakewright.errors import OutOfRangeError
from cakewright.machines.interface import Floats

__all__ = ["chamber_volume_needed", "cycles_needed", "solids_per_cycle"]


def solids_per_cycle(
    chamber_volume: Floats,
    cake_density: Floats,
    cake_solids: Floats,
    conditioner_share: Floats = 0.0,
    fill: Floats = 1.0,
) -> Floats:
    """Sludge solids one filling takes: cake in the chambers less the conditioner in it. [kg]

    ``conditioner_share`` is conditioner kept in the cake per sludge solids kept in it (P05).
    """
    return chamber_volume * fill * cake_density * cake_solids / (1.0 + conditioner_share)


def chamber_volume_needed(
    dry_solids_per_day: Floats,
    conditioner_share: Floats,
    cake_solids: Floats,
    cake_density: Floats,
    cycles_per_day: Floats,
) -> Floats:
    """Chamber volume for a day's dry solids in so many cycles. [m3] (P05 3-4.1.2)

    ``dry_solids_per_day`` in kg per day; densities in kg/m3.
    """
    cake_volume = dry_solids_per_day * (1.0 + conditioner_share) / (cake_solids * cake_density)
    return cake_volume / cycles_per_day


def cycles_needed(hours_per_day: float, cycle_time: float) -> int:
    """Whole cycles that fit a day of so many seconds. [1]

    Raises
    ------
    OutOfRangeError
        If not one cycle fits.
    """
    fit = int(hours_per_day / cycle_time + 1e-9)
    if fit < 1:
        raise OutOfRangeError(
            f"cycles: got a day of {hours_per_day:g} s for a cycle of {cycle_time:g} s; allowed: "
            "at least one cycle; run longer hours or take a shorter cycle"
        )
    return fit
