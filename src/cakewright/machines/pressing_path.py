"""What every pressing path takes and answers: sludge, load, status by cause, limits.

Paths evaluate arrays of samples; a sample that has no answer carries the cause instead of a number.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from enum import IntEnum
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from cakewright.errors import InfeasibleError, OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = [
    "Floats",
    "PathResult",
    "PathStatus",
    "PressLoad",
    "PressedSludge",
    "checked_columns",
    "checked_inputs",
    "columns_of",
    "path_result",
    "require_answer",
]

Floats: TypeAlias = float | FloatArray
IntArray: TypeAlias = npt.NDArray[np.int_]


class PathStatus(IntEnum):
    """Whether a sample has an answer, or which limit took it away."""

    ANSWER = 0
    HYDRAULIC = 1
    PLATE = 2
    CONVEYING = 3
    TORQUE = 4
    PLATE_IDLE = 5
    FILLING = 6
    SQUEEZED_OUT = 7
    UNRESOLVED = 8
    CYCLE = 9
    DRY = 10

    @property
    def label(self) -> str:
        """The cause in a word or two."""
        return "drive torque" if self is PathStatus.TORQUE else self.name.lower().replace("_", " ")

    @property
    def words(self) -> str:
        """The cause, and what to change."""
        return _WORDS[self]


_WORDS = {
    PathStatus.ANSWER: "within all limits",
    PathStatus.HYDRAULIC: (
        "hydraulic: the water does not leave fast enough for a floc network to stand; "
        "less load, thicker feed, better flocculation, or more drained area"
    ),
    PathStatus.PLATE: (
        "plate: the screw cannot push this sludge against the plate that hard; "
        "open the plate, slow the load, or flocculate better"
    ),
    PathStatus.CONVEYING: (
        "conveying: the screw cannot carry the plug away; turn faster, less load, or drain better"
    ),
    PathStatus.TORQUE: (
        "drive torque: more than the drive is rated for; open the plate, less load, or a larger "
        "drive"
    ),
    PathStatus.PLATE_IDLE: (
        "plate idle: the back pressure asked is below the head of the water in the barrel; close "
        "the plate"
    ),
    PathStatus.FILLING: (
        "filling: flow or time end the feeding before the cakes of a chamber meet (or before its "
        "membranes reach the cake), or the feed is stiffer than the pump's pressure; longer "
        "filling, a lower end flow, better flocculation, feed that is thicker but still flows, or "
        "thinner chambers"
    ),
    PathStatus.CYCLE: (
        "cycle: what the chambers hold over the time of a cycle is less than the load; longer "
        "hours, thicker feed, more filter area, or a faster pump"
    ),
    PathStatus.SQUEEZED_OUT: (
        "squeezed out: the sludge that reaches the rollers is too wet to stand the wedge; less "
        "load, slower belt, thicker feed, or better flocculation"
    ),
    PathStatus.DRY: (
        "dry: by its law this sludge would be pressed to matter without water, which nothing does; "
        "check yield exponent and yield scale"
    ),
    PathStatus.UNRESOLVED: (
        "unresolved: the numbers of this sample lie where the solver does not converge; check them"
    ),
}


@dataclass(frozen=True, slots=True, eq=False)
class PressedSludge:
    """Sludge law at the dose used, SI, floats or arrays of samples (names as in the sludge law).

    ``creep_onset`` is the solid stress from which ``creep_share`` of the strain is delayed: about
    that of a filtration cake's mean, where consolidation proper begins.
    """

    solids_density: Floats
    gel_point: Floats
    yield_scale: Floats
    yield_exponent: Floats
    local_resistance: Floats
    resistance_exponent: Floats
    creep_share: Floats = 0.0
    creep_rate: Floats = 0.0
    creep_onset: Floats = 1000.0
    liquid_viscosity: Floats = 1.0016e-3
    liquid_density: Floats = 998.2


@dataclass(frozen=True, slots=True, eq=False)
class PressLoad:
    """What one machine is fed: dry solids [kg/s], total solids of the feed [1], fines, oil [1].

    ``fines_share`` is the share of the solids that never joined a floc, at the dose used;
    ``oil_share`` that of oil and grease in the dry solids (it blinds cloths, not rings).
    """

    dry_solids_flow: Floats
    feed_solids: Floats
    fines_share: Floats = 0.0
    oil_share: Floats = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class PathResult:
    """Answer of a pressing path, one value per sample, SI.

    ``cake_solids`` and everything derived from the cake is NaN exactly where ``status`` is not
    `PathStatus.ANSWER`. ``margins`` says for every cause how far away it is, as a share: 0 is the
    limit, below 0 beyond it. ``details`` holds what is special to the kind of machine.
    """

    status: IntArray
    cake_solids: FloatArray
    capture: FloatArray
    residence: FloatArray
    power: FloatArray
    margins: Mapping[str, FloatArray]
    details: Mapping[str, FloatArray] = field(default_factory=dict)

    @property
    def answered(self) -> npt.NDArray[np.bool_]:
        """True where there is an answer."""
        return np.asarray(self.status == PathStatus.ANSWER)

    def counts(self) -> dict[str, int]:
        """How many samples ended in which status."""
        return {s.name.lower(): int(np.sum(self.status == s)) for s in PathStatus}

    def part(self, start: int, stop: int) -> PathResult:
        """The samples from one place to another."""
        return PathResult(
            status=self.status[start:stop],
            cake_solids=self.cake_solids[start:stop],
            capture=self.capture[start:stop],
            residence=self.residence[start:stop],
            power=self.power[start:stop],
            margins={name: values[start:stop] for name, values in self.margins.items()},
            details={name: values[start:stop] for name, values in self.details.items()},
        )

    def binding(self) -> npt.NDArray[np.str_]:
        """Cause nearest to its limit, per sample."""
        names = np.array(list(self.margins))
        table = np.stack([np.nan_to_num(self.margins[n], nan=np.inf) for n in names])
        return np.asarray(names[np.argmin(table, axis=0)])


_DRIEST = 0.95  # no press leaves less water: JUDGEMENT


def path_result(
    status: IntArray, figures: Mapping[str, FloatArray], margins: Mapping[str, FloatArray]
) -> PathResult:
    """Result with the figures of samples without an answer taken away."""
    status = np.array(status, dtype=int)
    answered = status == PathStatus.ANSWER
    main = ("cake_solids", "capture", "residence", "power")
    whole = np.all([np.isfinite(figures[name]) for name in main], axis=0)
    status[answered & ~whole] = PathStatus.UNRESOLVED
    # The power law of the yield stress has no end: it goes on past the sludge's last pore.
    status[answered & whole & (figures["cake_solids"] > _DRIEST)] = PathStatus.DRY
    answered = status == PathStatus.ANSWER
    masked = {k: np.where(answered, v, np.nan) for k, v in figures.items()}
    return PathResult(
        status=status,
        cake_solids=masked["cake_solids"],
        capture=masked["capture"],
        residence=masked["residence"],
        power=masked["power"],
        margins={k: np.nan_to_num(v, nan=-1.0) for k, v in margins.items()},
        details={k: v for k, v in masked.items() if k not in main},
    )


def require_answer(result: PathResult, sample: int = 0, capacity: float | None = None) -> None:
    """Raise where one sample has no answer.

    Raises
    ------
    InfeasibleError
        With the cause, the capacity when it is known, and what to change.
    """
    status = PathStatus(int(result.status[sample]))
    if status is PathStatus.ANSWER:
        return
    known = "" if capacity is None else f" (capacity {capacity * 3600.0:.3g} kg/h dry solids)"
    raise InfeasibleError(f"pressing path: no cake{known}. {status.words}")


_UNIT_LIMITS: Mapping[str, tuple[str, float, float, bool]] = {
    "gel_point": ("1", 0.0, 0.5, True),
    "feed_solids": ("1", 0.0, 0.6, True),
    "fines_share": ("1", 0.0, 0.999, False),
    "creep_share": ("1", 0.0, 0.95, False),
    "creep_rate": ("1/s", 0.0, np.inf, False),
    "creep_onset": ("Pa", 0.0, np.inf, False),
    "resistance_exponent": ("1", 0.0, 3.0, False),
    "side_ratio": ("1", 0.0, 1.0, True),
    "conveying": ("1", 0.0, 1.0, True),
    "level": ("m", 0.0, 20.0, False),
    "remix": ("1", 0.0, np.inf, False),
    "path_share": ("1", 0.0, 1.0, True),
    "wash_load": ("1", 0.0, np.inf, False),
    "wash_gap": ("1", 0.0, np.inf, False),
    "extrusion": ("m/(s.Pa)", 0.0, np.inf, False),
    "medium_resistance": ("1/m", 0.0, np.inf, False),
    "medium_growth": ("m2/kg", 0.0, np.inf, False),
    "idle_shear": ("Pa", 0.0, np.inf, False),
    "drive_efficiency": ("1", 0.0, 1.0, True),
    "oil_blinding": ("1", 0.0, np.inf, False),
    "oil_share": ("1", 0.0, 1.0, False),
    "solids_since_wash": ("kg/m2", 0.0, np.inf, False),
    "membrane_pressure": ("Pa", 0.0, np.inf, False),
    "squeeze_time": ("s", 0.0, np.inf, False),
    "squeeze_end_flux": ("m/s", 0.0, np.inf, False),
    "squeeze_solids": ("1", 0.0, 1.0, True),
    "fill_share": ("1", 0.0, 1.0, True),
    "end_flow_share": ("1", 0.0, 1.0, True),
    "least_thickness": ("1", 0.0, 1.0, False),
    "core_blow_time": ("s", 0.0, np.inf, False),
    "wash_time": ("s", 0.0, np.inf, False),
    "plough_rate": ("1/s", 0.0, np.inf, False),
    "settling_efficiency": ("1", 0.0, 1.0, True),
}


def columns_of(*parts: Any) -> dict[str, Any]:
    """Fields of several input records in one table."""
    return {one.name: getattr(part, one.name) for part in parts for one in fields(part)}


def checked_inputs(*parts: Any) -> dict[str, FloatArray]:
    """Fields of several input records as arrays of one length, all faults at once.

    Raises
    ------
    OutOfRangeError
        Naming every field that is not finite or lies where the path has no meaning.
    """
    return checked_columns(columns_of(*parts))


def checked_columns(columns: Mapping[str, Floats]) -> dict[str, FloatArray]:
    """The same of a table whose columns are named as the fields of the records."""
    found: dict[str, FloatArray] = {}
    faults: list[str] = []
    for name, given in columns.items():
        value = np.atleast_1d(np.asarray(given, dtype=float))
        unit, low, high, above = _UNIT_LIMITS.get(name, ("SI", 0.0, np.inf, True))
        bad = ~np.isfinite(value) | (value > high) | ((value <= low) if above else value < low)
        if value.ndim != 1 or np.any(bad):
            sign = ">" if above else ">="
            worst = value.ravel()[np.argmax(bad.ravel())]
            faults.append(
                f"{name.replace('_', ' ')}: got {worst:.6g} {unit}; "
                f"allowed: {sign} {low:g} and <= {high:g}"
            )
        found[name] = value
    if faults:
        raise OutOfRangeError("pressing path: " + "; ".join(faults) + "; check the units")
    try:
        shape = np.broadcast_shapes(*(v.shape for v in found.values()))
    except ValueError:
        sizes = {k: v.size for k, v in found.items() if v.size > 1}
        raise OutOfRangeError(
            f"pressing path: arrays of different length {sizes}; allowed: one length, or scalars"
        ) from None
    return {name: np.broadcast_to(value, shape) for name, value in found.items()}
