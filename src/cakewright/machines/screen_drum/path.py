"""Pressing path of the screen-drum screw press: the multi-disc path with a fixed screen.

The flight alone renews the face, the layer is remixed less, the plate may press harder and the
feed is thicker. Only the parameters differ; see ``docs/theory/press.md``.
"""

from __future__ import annotations

from cakewright.machines.pressing_path import Floats, PathResult, PressedSludge, PressLoad
from cakewright.machines.screw.capacity import ScrewCapacity, screw_capacity
from cakewright.machines.screw.path import (
    ScrewGeometry,
    ScrewOperation,
    ScrewParameters,
    screw_path,
)

__all__ = ["screen_drum_capacity", "screen_drum_path"]


def screen_drum_path(
    sludge: PressedSludge,
    load: PressLoad,
    operation: ScrewOperation,
    parameters: ScrewParameters,
    geometry: ScrewGeometry,
) -> PathResult:
    """Cake solids, capture, residence, torque, power and margins, per sample.

    Raises
    ------
    OutOfRangeError
        If an input lies where the path has no meaning; every such input is named.
    """
    return screw_path(sludge, load, operation, parameters, geometry)


def screen_drum_capacity(
    sludge: PressedSludge,
    operation: ScrewOperation,
    parameters: ScrewParameters,
    geometry: ScrewGeometry,
    feed_solids: Floats,
    fines_share: Floats = 0.0,
) -> ScrewCapacity:
    """Most dry solids one machine takes at these settings, by cause."""
    return screw_capacity(sludge, operation, parameters, geometry, feed_solids, fines_share)
