"""Most load a screw press takes, by cause: one bisection for all samples and limits at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from cakewright.machines.batches import in_chunks
from cakewright.machines.pressing_path import Floats, PressedSludge, PressLoad, checked_inputs
from cakewright.machines.screw.path import ScrewGeometry, ScrewOperation, ScrewParameters
from cakewright.quantities import FloatArray

__all__ = ["ScrewCapacity", "screw_capacity"]

BoolArray: TypeAlias = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class ScrewCapacity:
    """Most dry solids one machine takes, by cause, and the least of them [kg/s]."""

    dry_solids_flow: FloatArray
    cause: npt.NDArray[np.str_]
    by_cause: Mapping[str, FloatArray]


def screw_capacity(
    sludge: PressedSludge,
    operation: ScrewOperation,
    parameters: ScrewParameters,
    geometry: ScrewGeometry,
    feed_solids: Floats,
    fines_share: Floats = 0.0,
    halvings: int = 24,
) -> ScrewCapacity:
    """Most dry solids one machine takes, by cause: bisection on the logarithm of the load.

    Causes: hydraulic (network stands within the length), conveying (plug carried away at the
    plate), plate (asked stress reachable from the earliest start), torque (only with a rated one;
    infinite where another limit comes first).
    """
    from cakewright.machines.screw import program as screw_program

    columns = checked_inputs(
        sludge, PressLoad(1e-3, feed_solids, fines_share), operation, parameters
    )
    numbers = geometry.numbers()
    creeps = bool(np.any(columns["creep_share"] > 0.0))
    causes = ["hydraulic", "conveying", "plate"]
    high = np.log(_most_conveyed(columns, geometry))

    def within(flows: FloatArray) -> BoolArray:
        wide = {k: np.tile(v, 3) for k, v in columns.items()}
        wide["dry_solids_flow"] = flows.ravel()
        found = in_chunks(
            lambda x: screw_program.limits(x, numbers, how=screw_program.FINE, creeps=creeps), wide
        )
        three = {k: v.reshape(3, len(high)) for k, v in found.items()}
        rows = [three["network"][0] < 1.0, three["conveyed"][1] < 1.0, three["reach"][2] >= 0.0]
        return np.stack(rows)

    found = _largest(within, np.broadcast_to(high, (3, len(high))), halvings)
    by_cause = {cause: found[i] for i, cause in enumerate(causes)}
    if np.isfinite(geometry.rated_torque):
        least = found.min(axis=0)
        by_cause["torque"] = _torque_capacity(columns, numbers, creeps, least, halvings)
    table = np.stack(list(by_cause.values()))
    nearest = np.array(list(by_cause))[np.argmin(table, axis=0)]
    return ScrewCapacity(table.min(axis=0), nearest, by_cause)


def _largest(
    within: Callable[[FloatArray], BoolArray], high: FloatArray, halvings: int
) -> FloatArray:
    """Largest load that is within, by bisection on its logarithm; 0 where not even 1e-8 kg/s is."""
    low = np.full(high.shape, np.log(1e-8))
    for _ in range(halvings):
        middle = 0.5 * (low + high)
        inside = within(np.exp(middle))
        low, high = np.where(inside, middle, low), np.where(inside, high, middle)
    return np.where(low <= np.log(1.0001e-8), 0.0, np.exp(low))


def _torque_capacity(
    columns: dict[str, FloatArray],
    numbers: Mapping[str, float],
    creeps: bool,
    least: FloatArray,
    halvings: int,
) -> FloatArray:
    """Load at which the drive's torque is used up; infinite where another limit comes first.

    Torque grows with the load, so one march at the other limits' capacity tells which samples need
    a search at all.
    """
    from cakewright.machines.screw import program as screw_program

    def within(pick: npt.NDArray[np.int_], flows: FloatArray) -> BoolArray:
        loaded = {k: v[pick] for k, v in columns.items()} | {"dry_solids_flow": flows}
        full = in_chunks(
            lambda x: screw_program.answers(x, numbers, how=screw_program.FINE, creeps=creeps),
            loaded,
        )
        return np.asarray(~(full["margin_torque"] < 0.0))

    found = np.full(least.shape, np.inf)
    some = np.flatnonzero(least > 0.0)
    over = some[~within(some, 0.999 * least[some])] if some.size else some
    if over.size:
        high = np.log(least[over])
        found[over] = _largest(lambda flows: within(over, flows), high, halvings)
    return found


def _most_conveyed(columns: Mapping[str, FloatArray], geometry: ScrewGeometry) -> FloatArray:
    """Load no screw exceeds: every turn's swept volume at the inlet, solid, times three."""
    swept = np.pi / 4.0 * geometry.screw_diameter**2 * max(geometry.pitch)
    return np.asarray(3.0 * geometry.shafts * swept * columns["speed"] * columns["solids_density"])
