"""Cycles of plate presses: solids per cycle, cycles needed, chamber volume needed."""

from __future__ import annotations

from cakewright.machines.interface import Floats

__all__ = ["solids_per_cycle"]


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
