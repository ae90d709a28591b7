"""Pressing path of the multi-disc screw press: rings renew the drained face, nothing blinds.

Drainage zone with a face renewed every turn, pressing zone marched to the plate with its own
stress. Equations, validity and reasons: ``docs/theory/press.md``.
"""

from __future__ import annotations

from cakewright.machines.pressing_path import Floats, PathResult, PressedSludge, PressLoad
from cakewright.machines.screw.capacity import ScrewCapacity, screw_capacity
from cakewright.machines.screw.path import (
    ScrewGeometry,
    ScrewOperation,
    ScrewParameters,
    ScrewProfile,
    screw_path,
    screw_profile,
    screw_sensitivities,
)

__all__ = [
    "multi_disc_capacity",
    "multi_disc_path",
    "multi_disc_profile",
    "multi_disc_sensitivities",
]


def multi_disc_path(
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

    Examples
    --------
    >>> sludge = PressedSludge(1350.0, 0.02, 300.0, 3.5, 1e10, 0.8)
    >>> machine = ScrewParameters(1.0, 0.5, 0.5, 1e9, 0.2, 1.0, 1.0, 3e-11, 0.3, 100.0, 0.7)
    >>> frame = ScrewGeometry(0.2, 1.2, (0.08, 0.11), (0.12, 0.07))
    >>> answer = multi_disc_path(
    ...     sludge, PressLoad(8.0 / 3600.0, 0.02), ScrewOperation(3.0 / 60.0, 2e4), machine, frame)
    >>> bool(0.05 < answer.cake_solids[0] < 0.25), answer.counts()["answer"]
    (True, 1)
    """
    return screw_path(sludge, load, operation, parameters, geometry)


def multi_disc_capacity(
    sludge: PressedSludge,
    operation: ScrewOperation,
    parameters: ScrewParameters,
    geometry: ScrewGeometry,
    feed_solids: Floats,
    fines_share: Floats = 0.0,
) -> ScrewCapacity:
    """Most dry solids one machine takes at these settings, by cause."""
    return screw_capacity(sludge, operation, parameters, geometry, feed_solids, fines_share)


def multi_disc_profile(
    sludge: PressedSludge,
    load: PressLoad,
    operation: ScrewOperation,
    parameters: ScrewParameters,
    geometry: ScrewGeometry,
    sample: int = 0,
) -> ScrewProfile:
    """Profile along the barrel for one sample; raises InfeasibleError where it has no answer."""
    return screw_profile(sludge, load, operation, parameters, geometry, sample)


def multi_disc_sensitivities(
    sludge: PressedSludge,
    load: PressLoad,
    operation: ScrewOperation,
    parameters: ScrewParameters,
    geometry: ScrewGeometry,
) -> dict[str, dict[str, float]]:
    """Derivative of every answer by every input at the first sample: ``[answer][input]``, SI."""
    return screw_sensitivities(sludge, load, operation, parameters, geometry)
