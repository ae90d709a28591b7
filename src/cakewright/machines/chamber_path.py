"""Pressing path of chamber and membrane presses: filling, hold, squeeze, core blow, discharge.

A cycle, not a flow: the answer is the cake, the cycle time and the dry solids per time they give.
Equations, validity and reasons: ``docs/theory/press.md``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.machines.pressing_path import (
    Floats,
    IntArray,
    PathResult,
    PathStatus,
    PressedSludge,
    PressLoad,
    checked_inputs,
    path_result,
)
from cakewright.physics.compression import total_solids_cake
from cakewright.physics.filtration_resistance import specific_resistance_average
from cakewright.quantities import FloatArray

if TYPE_CHECKING:
    from cakewright.physics.expression import ExpressionCurve

__all__ = [
    "ChamberGeometry",
    "ChamberOperation",
    "ChamberParameters",
    "chamber_path",
    "filling_time",
    "filtration_cake_void",
    "stiffened_exponent",
]

# Piston tests on sewage sludge: solidosity grows as stress^0.18 from 0.35 to 8 MPa (T41) and on to
# 50 MPa, where a cake's solidosity was 0.69 (T33). The law is set at and below the first of these.
_STIFF_FROM = 3.5e5  # Pa
_STIFF_EXPONENT = 5.6
_DENSEST = 0.69


@dataclass(frozen=True, slots=True)
class ChamberGeometry:
    """One frame, SI: filter area of both faces of all chambers, depth of a chamber."""

    filter_area: float
    chamber_depth: float

    def __post_init__(self) -> None:
        if not (self.filter_area > 0.0 and 0.0 < self.chamber_depth < 0.5):
            raise OutOfRangeError(
                f"chamber geometry: got {self.filter_area:g} m2 and {self.chamber_depth:g} m deep; "
                "allowed: area > 0, depth > 0 and < 0.5 m"
            )


@dataclass(frozen=True, slots=True, eq=False)
class ChamberOperation:
    """Settings, SI. ``membrane_pressure`` of 0 is a recessed-plate press without a squeeze."""

    feed_pressure: Floats
    longest_filling: Floats
    hold_time: Floats
    membrane_pressure: Floats
    squeeze_time: Floats
    core_blow_time: Floats
    discharge_time: Floats


@dataclass(frozen=True, slots=True, eq=False)
class ChamberParameters:
    """What no drawing tells; each with a prior in ``data/press_priors.toml``."""

    medium_resistance: Floats
    fines_factor: Floats
    pump_efficiency: Floats


def stiffened_exponent(
    pressure: FloatArray, gel_point: FloatArray, yield_scale: FloatArray, exponent: FloatArray
) -> FloatArray:
    """Yield exponent whose law meets at ``pressure`` the solidosity of a cake that stiffens.

    Up to 0.35 MPa the law stands; above, solidosity grows as published for piston tests. The law
    from the gel point to that end is one power law again, so that one solver serves every press.
    """
    end = np.log1p(pressure / yield_scale)
    knee = np.minimum(end, np.log1p(_STIFF_FROM / yield_scale))
    growth = knee / exponent + (end - knee) / np.maximum(exponent, _STIFF_EXPONENT)
    most = np.log(np.maximum(_DENSEST / gel_point, 1.01))
    return np.asarray(end / np.minimum(growth, most))


def filtration_cake_void(sludge_columns: dict[str, FloatArray], pressure: FloatArray) -> FloatArray:
    """Mean void ratio of a cake while it filters at a pressure: Kirchhoff variable even in solids.

    Quadrature of the quasi-steady profile (48 Gauss points in the solids coordinate).
    """
    x = sludge_columns
    power = x["yield_exponent"] * (1.0 - x["resistance_exponent"])
    power = np.where(np.abs(power) < 1e-6, 1e-6, power)
    top = np.log1p(pressure / x["yield_scale"]) / x["yield_exponent"]
    nodes, weights = np.polynomial.legendre.leggauss(48)
    part = 0.5 * (nodes + 1.0)[:, None]
    ratio = np.log1p(part * np.expm1(power * top)) / power
    void = np.exp(-ratio) / x["gel_point"] - 1.0
    return np.asarray(np.tensordot(0.5 * weights, void, axes=1))


def filling_time(
    solids_per_face: FloatArray, cake_void: FloatArray, columns: dict[str, FloatArray]
) -> FloatArray:
    """Ruth's time until the cake of one face holds ``solids_per_face`` [m3/m2]."""
    feed = columns["feed_solids"]
    void = (1.0 - feed) / feed * columns["solids_density"] / columns["liquid_density"]
    filtrate = solids_per_face * np.maximum(void - cake_void, 1e-6)
    alpha = specific_resistance_average(
        columns["feed_pressure"],
        columns["local_resistance"],
        columns["resistance_exponent"],
        columns["yield_scale"],
    )
    solids = solids_per_face * columns["solids_density"]
    viscous = columns["liquid_viscosity"] * filtrate / columns["feed_pressure"]
    return np.asarray(viscous * (0.5 * alpha * solids + columns["medium_resistance"]))


def chamber_path(
    sludge: PressedSludge,
    load: PressLoad,
    operation: ChamberOperation,
    parameters: ChamberParameters,
    geometry: ChamberGeometry,
) -> PathResult:
    """Cake solids, capture, cycle, throughput and margins, per sample.

    Raises
    ------
    OutOfRangeError
        If an input lies where the path has no meaning; every such input is named.
    """
    x = checked_inputs(sludge, load, operation, parameters)
    cake_void = filtration_cake_void(_stiffened(x, x["feed_pressure"]), x["feed_pressure"])
    solids = 0.5 * geometry.chamber_depth / (1.0 + cake_void)
    fill = filling_time(solids, cake_void, x)
    void = _pressed(x, solids, fill)
    others = x["hold_time"] + x["squeeze_time"] + x["core_blow_time"] + x["discharge_time"]
    cycle = fill + others
    kept = (1.0 - x["fines_share"]) ** x["fines_factor"]
    per_cycle = geometry.filter_area * solids * x["solids_density"]
    throughput = per_cycle / kept / cycle
    volume = per_cycle / (x["feed_solids"] * x["liquid_density"])
    margins = {
        "filling": 1.0 - fill / x["longest_filling"],
        "hydraulic": throughput / x["dry_solids_flow"] - 1.0,
    }
    status = _status(margins, void)
    cake = np.asarray(
        total_solids_cake(np.nan_to_num(void), x["solids_density"], x["liquid_density"])
    )
    figures = {
        "cake_solids": cake,
        "capture": kept,
        "residence": fill + x["hold_time"] + x["squeeze_time"],
        "power": x["feed_pressure"] * volume / x["pump_efficiency"] / cycle,
        "cake_void": void,
        "filling_time": fill,
        "cycle_time": cycle,
        "solids_per_cycle": per_cycle,
        "throughput": throughput,
        "throughput_per_area": throughput / geometry.filter_area,
    }
    return path_result(status, figures, margins)


def _stiffened(x: dict[str, FloatArray], pressure: FloatArray) -> dict[str, FloatArray]:
    law = (x["gel_point"], x["yield_scale"], x["yield_exponent"])
    return {**x, "yield_exponent": stiffened_exponent(pressure, *law)}


def _status(margins: dict[str, FloatArray], void: FloatArray) -> IntArray:
    status = np.where(np.isfinite(void), int(PathStatus.ANSWER), int(PathStatus.UNRESOLVED))
    status = np.where(margins["hydraulic"] < 0.0, int(PathStatus.HYDRAULIC), status)
    return np.asarray(np.where(margins["filling"] < 0.0, int(PathStatus.FILLING), status))


def _pressed(x: dict[str, FloatArray], solids: FloatArray, fill: FloatArray) -> FloatArray:
    """Mean void ratio after filling, hold and squeeze, by the expression solver on one face.

    Every stage runs over a time of 1 with viscosity and creep rate in its own unit of time, so
    that samples with different stages share one program.
    """
    feed = x["feed_solids"]
    void = (1.0 - feed) / feed * x["solids_density"] / x["liquid_density"]
    squeezed = x["membrane_pressure"] > x["feed_pressure"]
    top = np.where(squeezed, x["membrane_pressure"], x["feed_pressure"])
    x = _stiffened(x, top)
    filled = _stage(x, solids, void, fill + x["hold_time"], x["feed_pressure"], None)
    squeeze = np.maximum(x["squeeze_time"], 1e-3)
    done = _stage(x, solids, void, squeeze, top, filled)
    return np.asarray(1.0 / done.solidosity[:, -1] - 1.0)


def _stage(
    x: dict[str, FloatArray],
    solids: FloatArray,
    void: FloatArray,
    duration: FloatArray,
    pressure: FloatArray,
    start: ExpressionCurve | None,
) -> ExpressionCurve:
    from cakewright.physics.expression import expression_curve

    return expression_curve(
        np.array([1.0]),
        pressure,
        solids,
        1.0 / (1.0 + void),
        x["gel_point"],
        x["yield_scale"],
        x["yield_exponent"],
        x["local_resistance"],
        x["resistance_exponent"],
        x["solids_density"],
        x["liquid_viscosity"] / duration,
        x["medium_resistance"],
        creep_share=x["creep_share"],
        creep_rate=x["creep_rate"] * duration,
        creep_onset=x["creep_onset"],
        start=start,
        cells=40,
        steps=60,
    )
