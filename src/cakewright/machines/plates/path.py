"""Pressing path of chamber and membrane presses: filling, squeeze, core blow, discharge, wash.

A cycle, not a flow: the answer is the cake, the cycle time and the dry solids per time they give.
Equations, validity and reasons: ``docs/theory/press.md``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.machines.plates.fill import Filled, Table, filled
from cakewright.machines.plates.squeeze import Pressed, squeezed
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
from cakewright.machines.stiffening import stiffened_exponent
from cakewright.physics.compression import total_solids_cake
from cakewright.quantities import FloatArray

__all__ = [
    "ChamberGeometry",
    "ChamberOperation",
    "ChamberParameters",
    "chamber_path",
    "technical_time",
]


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
    """Settings, SI. ``membrane_pressure`` of 0 is a recessed-plate press without a squeeze.

    ``initial_fill_time``: the pump at full flow fills the empty chambers in it, so it sets that
    flow. Feeding ends with ``fill_share`` of the solids that fit at rest under the pump's pressure,
    at ``end_flow_share`` of the pump's flow, or after ``longest_filling``; the squeeze at
    ``squeeze_solids`` (1: never), ``squeeze_end_flux`` or after ``squeeze_time``.
    ``least_thickness`` is the share of the chamber's depth a squeezed cake must keep.
    """

    feed_pressure: Floats
    initial_fill_time: Floats
    fill_share: Floats
    end_flow_share: Floats
    longest_filling: Floats
    membrane_pressure: Floats
    squeeze_time: Floats
    squeeze_end_flux: Floats
    squeeze_solids: Floats
    least_thickness: Floats
    core_blow_time: Floats
    discharge_time: Floats
    wash_time: Floats
    cycles_per_wash: Floats


@dataclass(frozen=True, slots=True, eq=False)
class ChamberParameters:
    """What no drawing tells; each with a prior in the priors of its kind.

    ``medium_growth`` is the relative growth of the cloth's resistance per dry solids pressed per
    area since the last wash; oil multiplies it as on a belt.
    """

    medium_resistance: Floats
    medium_growth: Floats
    oil_blinding: Floats
    fines_factor: Floats
    pump_efficiency: Floats


def technical_time(x: Table) -> FloatArray:
    """Time of a cycle in which nothing is pressed: core blow, opening to closing, share of wash."""
    wash = x["wash_time"] / x["cycles_per_wash"]
    return np.asarray(x["core_blow_time"] + x["discharge_time"] + wash)


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
    x = _set(checked_inputs(sludge, load, operation, parameters), geometry)
    fill = filled(x)
    cake = squeezed(x, fill.point)
    figures = _figures(x, fill, cake, geometry)
    margins = _margins(x, fill, cake, figures)
    return path_result(_status(margins, cake.void), figures, margins)


def _set(x: dict[str, FloatArray], geometry: ChamberGeometry) -> dict[str, FloatArray]:
    """The pump's flow, the solids wanted, the cloth as it is on the mean between two washes."""
    half = np.full_like(x["feed_pressure"], 0.5 * geometry.chamber_depth)
    void = (1.0 - x["feed_solids"]) / x["feed_solids"] * x["solids_density"] / x["liquid_density"]
    pump = half / x["initial_fill_time"]
    wanted = x["fill_share"] * half * _rest(x, x["feed_pressure"])
    since = 0.5 * x["cycles_per_wash"] * wanted * x["solids_density"]
    blinded = 1.0 + x["medium_growth"] * since * (1.0 + x["oil_blinding"] * x["oil_share"])
    return x | {
        "half_depth": half,
        "slurry_solidosity": 1.0 / (1.0 + void),
        "pump_flux": pump,
        "end_flux": x["end_flow_share"] * pump,
        "wanted_solids": wanted,
        "medium_resistance": x["medium_resistance"] * blinded,
    }


def _rest(x: dict[str, FloatArray], pressure: FloatArray) -> FloatArray:
    """Solidosity of the cake at rest under a pressure."""
    law = (x["gel_point"], x["yield_scale"], x["yield_exponent"])
    exponent = stiffened_exponent(pressure, *law)
    return np.asarray(x["gel_point"] * np.exp(np.log1p(pressure / x["yield_scale"]) / exponent))


def _figures(
    x: dict[str, FloatArray], fill: Filled, cake: Pressed, geometry: ChamberGeometry
) -> dict[str, FloatArray]:
    solids = fill.point.solids
    cycle = fill.time + cake.time + technical_time(x)
    kept = (1.0 - x["fines_share"]) ** x["fines_factor"]
    per_cycle = geometry.filter_area * solids * x["solids_density"]
    throughput = per_cycle / kept / cycle
    face, core = (_total_solids(x, void) for void in (cake.face, cake.core))
    return {
        "cake_solids": _total_solids(x, cake.void),
        "capture": kept,
        "residence": fill.time + cake.time,
        "power": geometry.filter_area * fill.work / x["pump_efficiency"] / cycle,
        "cake_void": cake.void,
        "cake_solids_cloth": face,
        "cake_solids_core": core,
        "cake_thickness": 2.0 * solids * (1.0 + cake.void),
        "filling_time": fill.time,
        "squeeze_time": cake.time,
        "technical_time": technical_time(x),
        "cycle_time": cycle,
        "solids_per_cycle": per_cycle,
        "throughput": throughput,
        "throughput_per_area": throughput / geometry.filter_area,
        "filtrate_filling": fill.point.filtrate,
        "filtrate_squeeze": cake.filtrate,
        "feeding_pressure": fill.point.pressure,
        "end_of_filling": fill.end,
        "end_of_squeeze": cake.end,
        **{f"filled_by_{name}": share for name, share in fill.shares.items()},
    }


def _total_solids(x: dict[str, FloatArray], void: FloatArray) -> FloatArray:
    dense = (x["solids_density"], x["liquid_density"])
    return np.asarray(total_solids_cake(np.nan_to_num(void), *dense))


def _margins(
    x: dict[str, FloatArray], fill: Filled, cake: Pressed, figures: dict[str, FloatArray]
) -> dict[str, FloatArray]:
    """Filling: solids in over those with which cakes just meet, or thickness over the least."""
    least = 2.0 * x["half_depth"] * x["least_thickness"]
    reach = figures["cake_thickness"] / np.maximum(least, 1e-9) - 1.0
    touch = fill.point.solids / fill.touching - 1.0
    stiff = x["slurry_solidosity"] >= _rest(x, x["feed_pressure"])  # no pump moves it in
    return {
        "filling": np.where(stiff, -1.0, np.where(cake.end > 0.0, reach, touch)),
        "cycle": figures["throughput"] / x["dry_solids_flow"] - 1.0,
    }


def _status(margins: dict[str, FloatArray], void: FloatArray) -> IntArray:
    status = np.where(np.isfinite(void), int(PathStatus.ANSWER), int(PathStatus.UNRESOLVED))
    status = np.where(margins["cycle"] < 0.0, int(PathStatus.CYCLE), status)
    return np.asarray(np.where(margins["filling"] < -1e-9, int(PathStatus.FILLING), status))
