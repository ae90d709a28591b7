"""Decanter: sigma theory for the load, compressive limit in the field by the same sludge law.

What is physics here: whether flocs settle in the bowl (sigma), how deep the cake lies for the
scroll's speed, the stress of its own weight in the field, how far it consolidates in its stay.
What is envelope: electricity per volume (``specific_work``) and the share of fines the field keeps.
Equations, validity and reasons: ``docs/theory/press.md``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.machines.pressing_path import (
    Floats,
    PathResult,
    PathStatus,
    PressedSludge,
    PressLoad,
    checked_inputs,
)
from cakewright.physics.compression import total_solids_cake
from cakewright.quantities import FloatArray

__all__ = [
    "DecanterGeometry",
    "DecanterOperation",
    "DecanterParameters",
    "decanter_path",
    "sigma_area",
]

_GRAVITY = 9.80665
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
    """What no drawing tells; each with a prior in ``data/press_priors.toml``."""

    settling_efficiency: Floats
    floc_settling_speed: Floats
    conveying: Floats
    drainage_gain: Floats
    fines_factor: Floats
    specific_work: Floats


def sigma_area(bowl_speed: Floats, geometry: DecanterGeometry) -> FloatArray:
    """Equivalent settling area of a cylindrical bowl [m2].

    Sigma = 2 pi L w^2 (3/4 R^2 + 1/4 r^2) / g, R the bowl, r the surface of the pond (MEM).
    """
    omega = 2.0 * np.pi * np.asarray(bowl_speed, dtype=float)
    outer = 0.5 * geometry.bowl_diameter
    inner = outer - geometry.pond_depth
    radii = 0.75 * outer**2 + 0.25 * inner**2
    return np.asarray(2.0 * np.pi * geometry.clarifying_length * omega**2 * radii / _GRAVITY)


def decanter_path(
    sludge: PressedSludge,
    load: PressLoad,
    operation: DecanterOperation,
    parameters: DecanterParameters,
    geometry: DecanterGeometry,
) -> PathResult:
    """Cake solids by compressive limit and stay, load by sigma, power by envelope, per sample.

    Raises
    ------
    OutOfRangeError
        If an input lies where the path has no meaning; every such input is named.
    """
    x = checked_inputs(sludge, load, operation, parameters)
    kept = (1.0 - x["fines_share"]) ** x["fines_factor"]
    solids = x["dry_solids_flow"] * kept / x["solids_density"]
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
    fine = status == PathStatus.ANSWER
    pair = (x["solids_density"], x["liquid_density"])
    figures = {
        "cake_solids": np.asarray(total_solids_cake(np.nan_to_num(void), *pair)),
        "capture": kept,
        "residence": stay,
        "power": x["specific_work"] * _JOULES * feed_volume,
        "cake_void": void,
        "cake_depth": depth,
        "compressive_limit": np.asarray(total_solids_cake(limit, *pair)),
        "sigma_area": sigma,
    }
    masked = {k: np.where(fine, v, np.nan) for k, v in figures.items()}
    main = ("cake_solids", "capture", "residence", "power")
    details = {k: v for k, v in masked.items() if k not in main}
    return PathResult(status, *(masked[k] for k in main), margins=margins, details=details)


def _cake(
    x: dict[str, FloatArray], solids: FloatArray, geometry: DecanterGeometry
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Void ratio, depth and stay of the cake, and the void ratio it would reach for ever.

    The scroll carries a ring of cake of depth h at pitch x differential speed; the water drains
    up through it. Depth follows from the void ratio and the other way round: bisection on it.
    """
    radius = 0.5 * geometry.bowl_diameter
    pace = x["conveying"] * geometry.scroll_pitch * x["differential_speed"]
    field = (2.0 * np.pi * x["bowl_speed"]) ** 2 * radius
    stay = geometry.clarifying_length / pace
    gel = 1.0 / x["gel_point"] - 1.0
    per_area = solids / (2.0 * np.pi * radius * pace)  # solids volume per bowl area
    weight = np.abs(x["solids_density"] - x["liquid_density"]) * field * per_area
    limit = _weighted_void(x, weight)
    ratio = (1.0 + gel) / (1.0 + limit)
    exponent = x["yield_exponent"] * (1.0 - x["resistance_exponent"])
    flow = x["local_resistance"] * x["liquid_viscosity"] * x["solids_density"]
    # material diffusivity C = D phi^2 at the mean state, by the law's own conductance
    material = x["yield_scale"] * x["yield_exponent"] / flow * ratio**exponent / (1.0 + limit)
    factor = x["drainage_gain"] * material * stay / np.maximum(per_area, 1e-12) ** 2
    delayed = x["creep_share"] * np.exp(-x["creep_rate"] * stay)
    done = _degree(factor) * (1.0 - delayed)
    void = gel - done * (gel - limit)
    return void, per_area * (1.0 + void), stay, limit


def _weighted_void(x: dict[str, FloatArray], weight: FloatArray) -> FloatArray:
    """Mean void ratio of a layer at rest under its own weight; stress falls to 0 at the top."""
    nodes, weights = np.polynomial.legendre.leggauss(24)
    stress = 0.5 * (nodes + 1.0)[:, None] * weight
    solidosity = x["gel_point"] * (1.0 + stress / x["yield_scale"]) ** (1.0 / x["yield_exponent"])
    return np.asarray(np.tensordot(0.5 * weights, 1.0 / np.minimum(solidosity, 1.0) - 1.0, axes=1))


def _degree(time_factor: FloatArray) -> FloatArray:
    """Terzaghi's degree of consolidation."""
    from cakewright.physics.consolidation import consolidation_degree_terzaghi

    return np.asarray(consolidation_degree_terzaghi(time_factor))
