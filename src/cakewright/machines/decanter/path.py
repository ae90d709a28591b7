"""Decanter: sigma theory for the load, and a bed settling in the field by the same sludge law.

What is physics here: whether flocs settle in the bowl (sigma), the solids that lie on the bowl for
the scroll's speed, the stress of their own weight in the field, how far they settle under it while
the scroll carries them, and how deep they then lie.
What is envelope: which part of the layer leaves (``drawn_share``), electricity per volume
(``specific_work``), and the share of fines the field keeps (``fines_factor``).
Equations, validity and reasons: ``docs/theory/press.md``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.machines.decanter.settled_bed import SettledBed, settled_bed
from cakewright.machines.pressing_path import (
    Floats,
    PathResult,
    PathStatus,
    PressedSludge,
    PressLoad,
    checked_inputs,
    path_result,
)
from cakewright.machines.stiffening import stiffened_exponent
from cakewright.physics.compression import solidosity_equilibrium, total_solids_cake
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import GRAVITY

__all__ = [
    "DecanterGeometry",
    "DecanterOperation",
    "DecanterParameters",
    "decanter_path",
    "sigma_area",
    "slowest_scroll",
]

_LOAD, _FILL = 0.7, 0.9  # of what field and pond take: where the fines factor is given
_YIELD = ("gel_point", "yield_scale", "yield_exponent")
_JOULES = 3.6e6  # per kWh: the prior of the envelope is given in its usual unit


@dataclass(frozen=True, slots=True)
class DecanterGeometry:
    """One bowl, SI: inner diameter, clarifying length, pond depth, pitch of the scroll."""

    bowl_diameter: float
    clarifying_length: float
    pond_depth: float
    scroll_pitch: float

    def __post_init__(self) -> None:
        sizes = (self.bowl_diameter, self.clarifying_length, self.pond_depth, self.scroll_pitch)
        if not all(v > 0.0 for v in sizes) or self.pond_depth >= 0.5 * self.bowl_diameter:
            raise OutOfRangeError(
                f"decanter geometry: got diameter, length, pond, pitch {sizes} m; allowed: all > 0 "
                "and the pond less deep than the bowl's radius"
            )


@dataclass(frozen=True, slots=True, eq=False)
class DecanterOperation:
    """Settings: bowl speed and differential speed, both in turns per second."""

    bowl_speed: Floats
    differential_speed: Floats


@dataclass(frozen=True, slots=True, eq=False)
class DecanterParameters:
    """What no drawing tells; each with a prior in the priors of its kind."""

    settling_efficiency: Floats
    floc_settling_speed: Floats
    conveying: Floats
    drawn_share: Floats
    fines_factor: Floats
    wash_load: Floats
    wash_pond: Floats
    specific_work: Floats


def sigma_area(bowl_speed: Floats, geometry: DecanterGeometry) -> FloatArray:
    """Equivalent settling area of a cylindrical bowl [m2].

    Sigma = 2 pi L w^2 (3/4 R^2 + 1/4 r^2) / g, R the bowl, r the surface of the pond (MEM).
    """
    omega = 2.0 * np.pi * np.asarray(bowl_speed, dtype=float)
    outer = 0.5 * geometry.bowl_diameter
    inner = outer - geometry.pond_depth
    radii = 0.75 * outer**2 + 0.25 * inner**2
    return np.asarray(2.0 * np.pi * geometry.clarifying_length * omega**2 * radii / GRAVITY)


def decanter_path(
    sludge: PressedSludge,
    load: PressLoad,
    operation: DecanterOperation,
    parameters: DecanterParameters,
    geometry: DecanterGeometry,
) -> PathResult:
    """Cake solids by settling in the field, load by sigma, power by envelope, per sample.

    Raises
    ------
    OutOfRangeError
        If an input lies where the path has no meaning; every such input is named.
    """
    x = checked_inputs(sludge, load, operation, parameters)
    solids = x["dry_solids_flow"] / x["solids_density"]
    feed_void = (1.0 - x["feed_solids"]) / x["feed_solids"]
    feed_volume = x["dry_solids_flow"] * (
        1.0 / x["solids_density"] + feed_void / x["liquid_density"]
    )
    void, depth, stay, limit = _cake(x, solids, geometry)
    sigma = sigma_area(x["bowl_speed"], geometry)
    settled = x["settling_efficiency"] * x["floc_settling_speed"] * sigma
    margins = {
        "hydraulic": settled / feed_volume - 1.0,
        "conveying": 1.0 - depth / geometry.pond_depth,
    }
    status = np.where(np.isfinite(void), int(PathStatus.ANSWER), int(PathStatus.UNRESOLVED))
    status = np.where(margins["conveying"] < 0.0, int(PathStatus.CONVEYING), status)
    status = np.where(margins["hydraulic"] < 0.0, int(PathStatus.HYDRAULIC), status)
    pair = (x["solids_density"], x["liquid_density"])
    figures = {
        "cake_solids": np.asarray(total_solids_cake(np.nan_to_num(void), *pair)),
        "capture": _kept(x, feed_volume / settled, depth / geometry.pond_depth),
        "residence": stay,
        "power": x["specific_work"] * _JOULES * feed_volume,
        "cake_void": void,
        "cake_depth": depth,
        "compressive_limit": np.asarray(total_solids_cake(limit, *pair)),
        "sigma_area": sigma,
    }
    return path_result(status, figures, margins)


def slowest_scroll(
    sludge: PressedSludge,
    load: PressLoad,
    operation: DecanterOperation,
    parameters: DecanterParameters,
    geometry: DecanterGeometry,
    speeds: FloatArray,
) -> FloatArray:
    """Slowest of the rising ``speeds`` that leaves room over the cake, per sample; else the last.

    Slower is deeper and drier, so this is the driest cake that stands. Found by halving.
    """
    x = checked_inputs(sludge, load, operation, parameters)
    solids = x["dry_solids_flow"] / x["solids_density"]
    low = np.zeros(solids.size, dtype=int)
    high = np.full(solids.size, speeds.size - 1)
    while np.any(low < high):
        middle = (low + high) // 2
        tried = x | {"differential_speed": speeds[middle]}
        full = _cake(tried, solids, geometry)[1] > geometry.pond_depth
        low, high = np.where(full, middle + 1, low), np.where(full, high, middle)
        low = np.minimum(low, high)
    return np.asarray(speeds[high])


def _kept(x: dict[str, FloatArray], load: FloatArray, fill: FloatArray) -> FloatArray:
    """Share kept: more fines leave the nearer flow and cake come to what field and pond take."""
    washing = (load / _LOAD) ** x["wash_load"] * (fill / _FILL) ** x["wash_pond"]
    return np.asarray((1.0 - x["fines_share"]) ** (x["fines_factor"] * washing))


def _cake(
    x: dict[str, FloatArray], solids: FloatArray, geometry: DecanterGeometry
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Void ratio, depth and stay of the cake, and the void ratio at the wall after ever so long.

    The scroll carries a ring of cake at pitch x differential speed, so the solids per bowl area and
    their weight in the field follow without knowing the depth. They lie loose at first and settle
    for the whole stay; what leaves under the dip weir is the lower part of the layer.
    """
    radius = 0.5 * geometry.bowl_diameter
    pace = x["conveying"] * geometry.scroll_pitch * x["differential_speed"]
    field = (2.0 * np.pi * x["bowl_speed"]) ** 2 * radius
    per_area = solids / (2.0 * np.pi * radius * pace)
    weight = np.abs(x["solids_density"] - x["liquid_density"]) * field * per_area
    stay = geometry.clarifying_length / pace
    # above 0.35 MPa and towards the densest cake read, as the plate presses have it
    x = x | {"yield_exponent": stiffened_exponent(weight, *(x[n] for n in _YIELD))}
    limit = 1.0 / np.asarray(solidosity_equilibrium(weight, *(x[n] for n in _YIELD))) - 1.0
    bed = _bed(x, weight, stay, per_area)
    void = bed.lower / x["gel_point"] - 1.0
    return void, per_area * bed.whole / x["gel_point"], stay, limit


def _bed(
    x: dict[str, FloatArray], weight: FloatArray, stay: FloatArray, per_area: FloatArray
) -> SettledBed:
    """The layer after its stay, from the gel point or from a thicker feed."""
    thick = x["feed_solids"] / x["solids_density"]
    fed = thick / (thick + (1.0 - x["feed_solids"]) / x["liquid_density"])
    drag = x["liquid_viscosity"] * x["solids_density"] * x["local_resistance"] * per_area**2
    return settled_bed(
        weight / x["yield_scale"],
        stay * x["gel_point"] * x["yield_scale"] / drag,
        x["yield_exponent"],
        x["resistance_exponent"],
        np.minimum(x["gel_point"] / fed, 1.0),
        x["drawn_share"],
    )
