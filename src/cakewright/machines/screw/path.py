"""Pressing path of the two screw presses on arrays of samples: records in, `PathResult` out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from cakewright.errors import OutOfRangeError
from cakewright.machines.batches import in_chunks
from cakewright.machines.pressing_path import (
    Floats,
    PathResult,
    PathStatus,
    PressedSludge,
    PressLoad,
    checked_columns,
    checked_inputs,
    columns_of,
    path_result,
)
from cakewright.quantities import FloatArray

if TYPE_CHECKING:
    from cakewright.machines.screw.root import Resolution

__all__ = [
    "ScrewGeometry",
    "ScrewOperation",
    "ScrewParameters",
    "ScrewProfile",
    "screw_columns",
    "screw_path",
    "screw_profile",
    "screw_sensitivities",
    "settled_columns",
]

_PATIENCE = 10  # times the usual marches for the few samples they do not settle


@dataclass(frozen=True, slots=True)
class ScrewGeometry:
    """One frame, SI. Core and pitch: inlet and outlet, or inlet, middle and outlet.

    ``ring_gap`` is the clear gap between rings (or the opening of the screen), ``drained_share``
    the share of the barrel's wall that drains, ``rated_torque`` that of one shaft.
    """

    screw_diameter: float
    drained_length: float
    core_diameter: tuple[float, ...]
    pitch: tuple[float, ...]
    ring_gap: float = 0.5e-3
    drained_share: float = 1.0
    shafts: int = 1
    rated_torque: float = np.inf

    def __post_init__(self) -> None:
        faults: list[str] = []
        sizes = ("screw_diameter", "drained_length", "ring_gap", "drained_share", "rated_torque")
        faults += [
            f"{name.replace('_', ' ')}: got {getattr(self, name):g}; allowed: > 0"
            for name in sizes
            if not getattr(self, name) > 0.0
        ]
        if not 0.0 < self.drained_share <= 1.0:
            faults.append(f"drained share: got {self.drained_share:g}; allowed: > 0 and <= 1")
        if self.shafts < 1:
            faults.append(f"shafts: got {self.shafts}; allowed: 1 or more")
        faults += self._faults_along("core_diameter", self.screw_diameter)
        faults += self._faults_along("pitch", np.inf)
        if faults:
            raise OutOfRangeError("screw geometry: " + "; ".join(faults))

    def _faults_along(self, name: str, below: float) -> list[str]:
        values, words = getattr(self, name), name.replace("_", " ")
        if len(values) not in (2, 3):
            return [f"{words}: got {len(values)} values; allowed: 2 (ends) or 3 (with the middle)"]
        along = np.polynomial.polynomial.polyval(np.linspace(0.0, 1.0, 41), quadratic(values))
        if np.all((along > 0.0) & (along < below)):
            return []
        limit = "> 0 m" if below == np.inf else f"> 0 and < {below:g} m (screw diameter)"
        return [f"{words}: {along.min():.4g} to {along.max():.4g} m along it; allowed: {limit}"]

    def numbers(self) -> dict[str, float]:
        """Scalars the compiled programs take."""
        core, pitch = quadratic(self.core_diameter), quadratic(self.pitch)
        found = {f"core_{i}": core[i] for i in range(3)} | {
            f"pitch_{i}": pitch[i] for i in range(3)
        }
        names = ("screw_diameter", "drained_length", "ring_gap", "drained_share", "rated_torque")
        return found | {n: float(getattr(self, n)) for n in names} | {"shafts": float(self.shafts)}


def quadratic(values: tuple[float, ...]) -> tuple[float, float, float]:
    """Coefficients in z/L of the parabola (or line) through inlet, middle and outlet."""
    first, last = values[0], values[-1]
    middle = values[1] if len(values) == 3 else 0.5 * (first + last)
    bend = 2.0 * (first + last - 2.0 * middle)
    return first, last - first - bend, bend


@dataclass(frozen=True, slots=True, eq=False)
class ScrewOperation:
    """Settings: speed [1/s], back pressure at the plate [Pa], level over the crown [m]."""

    speed: Floats
    back_pressure: Floats
    level: Floats = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class ScrewParameters:
    """What no drawing tells; each with a prior in the priors of its kind."""

    grip: Floats
    side_ratio: Floats
    conveying: Floats
    medium_resistance: Floats
    remix: Floats
    kneading: Floats
    critical_shear: Floats
    path_share: Floats
    renewals: Floats
    fines_factor: Floats
    wash_load: Floats
    wash_gap: Floats
    extrusion: Floats
    friction: Floats
    idle_shear: Floats
    drive_efficiency: Floats


@dataclass(frozen=True, slots=True, eq=False)
class ScrewProfile:
    """Along one barrel: place, total solids (mean, at the rings, at the core), stress, water."""

    z: FloatArray
    zone: npt.NDArray[np.str_]
    total_solids: FloatArray
    total_solids_face: FloatArray
    total_solids_core: FloatArray
    axial_stress: FloatArray
    drained_volume: FloatArray
    slip: FloatArray
    pressing_start: float


def screw_path(
    sludge: PressedSludge,
    load: PressLoad,
    operation: ScrewOperation,
    parameters: ScrewParameters,
    geometry: ScrewGeometry,
    resolution: Resolution | None = None,
    chunk: int = 0,
) -> PathResult:
    """Path of a screw press; see ``docs/theory/press.md``.

    ``resolution`` other than the default is for convergence studies; ``chunk`` fixes the size of
    the batches, so that a short job compiles one program only.
    """
    return screw_columns(
        columns_of(sludge, load, operation, parameters), geometry, resolution, chunk
    )


def screw_columns(
    columns: Mapping[str, Floats],
    geometry: ScrewGeometry,
    resolution: Resolution | None = None,
    chunk: int = 0,
) -> PathResult:
    """The same on a table whose columns are named as the fields of the records."""
    return _result(settled_columns(checked_columns(columns), geometry, resolution, chunk))


def settled_columns(
    columns: Mapping[str, FloatArray],
    geometry: ScrewGeometry,
    resolution: Resolution | None = None,
    chunk: int = 0,
) -> dict[str, FloatArray]:
    """Every number of the path, nothing masked; samples that settle late are given their time."""
    from cakewright.machines.screw import program as screw_program

    numbers = geometry.numbers()
    how = resolution or screw_program.FINE
    creeps = bool(np.any(columns["creep_share"] > 0.0))

    def answered(some: Mapping[str, FloatArray], patience: int) -> dict[str, FloatArray]:
        return in_chunks(
            lambda x: screw_program.answers(x, numbers, patience, how=how, creeps=creeps),
            some,
            chunk,
        )

    found = answered(columns, 1)
    late = found["status"] == PathStatus.UNRESOLVED
    if np.any(late):  # few, so that the many need not wait for them
        again = answered({k: v[late] for k, v in columns.items()}, _PATIENCE)
        for name, value in again.items():
            found[name][..., late] = value
    return found


def _result(found: dict[str, FloatArray]) -> PathResult:
    margins = {k[7:]: v for k, v in found.items() if k.startswith("margin_")}
    figures = {k: v for k, v in found.items() if k != "status" and not k.startswith("margin_")}
    return path_result(found["status"].astype(int), figures, margins)


def screw_sensitivities(
    sludge: PressedSludge,
    load: PressLoad,
    operation: ScrewOperation,
    parameters: ScrewParameters,
    geometry: ScrewGeometry,
) -> dict[str, dict[str, float]]:
    """Derivative of every answer by every input at the first sample: ``[answer][input]``, SI."""
    from cakewright.machines.screw import program as screw_program

    columns = {k: v[:1] for k, v in checked_inputs(sludge, load, operation, parameters).items()}
    creeps = bool(np.any(columns["creep_share"] > 0.0))
    table = screw_program.sensitivities(
        columns, geometry.numbers(), how=screw_program.FINE, creeps=creeps
    )
    return {
        answer: dict(zip(sorted(columns), np.asarray(row, dtype=float).tolist(), strict=True))
        for answer, row in table.items()
    }


def screw_profile(
    sludge: PressedSludge,
    load: PressLoad,
    operation: ScrewOperation,
    parameters: ScrewParameters,
    geometry: ScrewGeometry,
    sample: int = 0,
    pressing_start: float | None = None,
) -> ScrewProfile:
    """Profile along the barrel for one sample.

    ``pressing_start`` is where its pressing zone begins, when the path has answered already.

    Raises
    ------
    InfeasibleError
        If that sample has no answer.
    """
    from cakewright.machines.pressing_path import require_answer
    from cakewright.machines.screw import program as screw_program

    columns = checked_inputs(sludge, load, operation, parameters)
    one = {k: v[sample : sample + 1] for k, v in columns.items()}
    numbers = geometry.numbers()
    how = screw_program.FINE
    creeps = bool(np.any(one["creep_share"] > 0.0))
    if pressing_start is None:
        found = settled_columns(one, geometry)
        require_answer(_result(found))
        start = found["pressing_start"]
    else:
        start = np.array([pressing_start])
    rows = screw_program.profile(one, numbers, start, how=how, creeps=creeps)
    return _profile({k: np.asarray(v)[:, 0] for k, v in rows.items()}, one, geometry)


def _profile(
    rows: dict[str, FloatArray], one: Mapping[str, FloatArray], geometry: ScrewGeometry
) -> ScrewProfile:
    solids, water = one["solids_density"][0], one["liquid_density"][0]

    def total_solids(void: FloatArray) -> FloatArray:
        return np.asarray(solids / (solids + void * water))

    early, late = rows["drainage_void"], rows["pressing_void"]
    void = np.concatenate([early, late])
    flow = one["dry_solids_flow"][0] / (solids * geometry.shafts)
    nothing = np.full(early.size, 0.0)
    return ScrewProfile(
        z=np.concatenate([rows["drainage_z"], rows["pressing_z"]]),
        zone=np.array(["drainage"] * early.size + ["pressing"] * late.size),
        total_solids=total_solids(void),
        total_solids_face=total_solids(np.concatenate([early, rows["pressing_void_face"]])),
        total_solids_core=total_solids(np.concatenate([early, rows["pressing_void_core"]])),
        axial_stress=np.concatenate([nothing, rows["pressing_stress"]]),
        drained_volume=flow * geometry.shafts * (void[0] - void),
        slip=np.concatenate([nothing, rows["pressing_slip"]]),
        pressing_start=float(rows["drainage_z"][-1]),
    )
