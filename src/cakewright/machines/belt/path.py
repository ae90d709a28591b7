"""Pressing path of the belt press on arrays of samples: gravity zone, wedge, rollers.

The cloth's resistance grows with the solids pressed since the wash and with oil, and the wash
resets it; a layer whose floc network does not stand at the wedge is squeezed out sideways.
Equations, validity and reasons: ``docs/theory/press.md``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.machines.batches import in_chunks
from cakewright.machines.pressing_path import (
    Floats,
    PathResult,
    PathStatus,
    PressedSludge,
    PressLoad,
    checked_inputs,
    path_result,
)
from cakewright.quantities import FloatArray

__all__ = ["BeltGeometry", "BeltOperation", "BeltParameters", "belt_path"]


@dataclass(frozen=True, slots=True)
class BeltGeometry:
    """One frame, SI: belt width, lengths of the zones, rollers in the order they are met.

    ``roller_radii``, ``contact_lengths`` (along the belt) and ``rest_lengths`` (free run after
    each roller) have one entry per roller.
    """

    width: float
    gravity_length: float
    wedge_length: float
    roller_radii: tuple[float, ...]
    contact_lengths: tuple[float, ...]
    rest_lengths: tuple[float, ...]

    def __post_init__(self) -> None:
        sizes = {len(self.roller_radii), len(self.contact_lengths), len(self.rest_lengths)}
        lengths: tuple[float, ...] = (self.width, self.gravity_length, self.wedge_length)
        lengths += (*self.roller_radii, *self.contact_lengths, *self.rest_lengths)
        if len(sizes) != 1 or not self.roller_radii or not all(v > 0.0 for v in lengths):
            raise OutOfRangeError(
                f"belt geometry: got {len(self.roller_radii)} radii, {len(self.contact_lengths)} "
                f"contacts, {len(self.rest_lengths)} rests, smallest length {min(lengths):g} m; "
                "allowed: one of each per roller, one roller or more, all lengths > 0"
            )


@dataclass(frozen=True, slots=True, eq=False)
class BeltOperation:
    """Settings: belt speed [m/s], tension [N/m], solids pressed since the wash [kg/m2]."""

    belt_speed: Floats
    belt_tension: Floats
    solids_since_wash: Floats = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class BeltParameters:
    """What no drawing tells; each with a prior in the priors of its kind."""

    medium_resistance: Floats
    medium_growth: Floats
    oil_blinding: Floats
    plough_rate: Floats
    fines_factor: Floats
    traction: Floats
    drive_efficiency: Floats


def belt_path(
    sludge: PressedSludge,
    load: PressLoad,
    operation: BeltOperation,
    parameters: BeltParameters,
    geometry: BeltGeometry,
) -> PathResult:
    """Cake solids, capture, residence, power and margins, per sample.

    Raises
    ------
    OutOfRangeError
        If an input lies where the path has no meaning; every such input is named.
    """
    found = _run(checked_inputs(sludge, load, operation, parameters), geometry)
    wet = found["margin_hydraulic"] < 0.0
    status = np.where(wet, int(PathStatus.SQUEEZED_OUT), int(PathStatus.ANSWER))
    figures = {k: v for k, v in found.items() if k != "margin_hydraulic"}
    return path_result(status, figures, {"hydraulic": found["margin_hydraulic"]})


def _run(columns: dict[str, FloatArray], geometry: BeltGeometry) -> dict[str, FloatArray]:
    from cakewright.machines.belt import program as belt_program

    rollers = tuple(
        np.array(row)
        for row in (geometry.roller_radii, geometry.contact_lengths, geometry.rest_lengths)
    )
    sizes = {n: getattr(geometry, n) for n in ("width", "gravity_length", "wedge_length")}
    creeps = bool(np.any(columns["creep_share"] > 0.0))
    return in_chunks(lambda x: belt_program.belt_answers(x, rollers, sizes, creeps=creeps), columns)
