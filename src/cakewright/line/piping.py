"""Pipes: nominal size from velocity, friction in the right regime, findings on what is wrong."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from cakewright.line.findings import Finding, Severity
from cakewright.line.inputs import PipeRun
from cakewright.line.items import PipeLine
from cakewright.line.practice import RuleBook
from cakewright.physics.pipes import (
    LAMINAR_LIMIT,
    friction_factor_newtonian,
    mean_velocity,
    pressure_drop_darcy,
    reynolds_number,
)
from cakewright.physics.pipes_bingham import (
    critical_reynolds_hanks_pratt,
    friction_factor_darby_melson,
    hedstrom_number,
)
from cakewright.physics.pipes_herschel_bulkley import friction_factor_herschel_bulkley
from cakewright.quantities.tables import packaged_table

__all__ = ["Fluid", "Route", "gravity_pipe", "nominal_sizes", "pressure_pipe"]


@dataclass(frozen=True, slots=True)
class Fluid:
    """What flows: Newtonian when the yield stress is 0 and the index 1."""

    medium: str
    density: float
    consistency: float
    yield_stress: float = 0.0
    flow_index: float = 1.0
    sludge: bool = False
    total_solids: float = 0.0


@dataclass(frozen=True, slots=True)
class Route:
    """Tag, service and ends of one pipe with its highest and lowest flow. [m3/s]"""

    tag: str
    service: str
    source: str
    target: str
    flow_high: float
    flow_low: float
    run: PipeRun


@cache
def nominal_sizes() -> tuple[int, ...]:
    """Nominal sizes of the pipe ladder. [mm]"""
    return tuple(packaged_table("cakewright.line", "data", "pipes.toml")["nominal"])


def _friction(fluid: Fluid, velocity: float, bore: float, rough: float) -> tuple[float, str]:
    """Darcy factor and the name of the regime."""
    if fluid.flow_index != 1.0:
        args = (fluid.density, fluid.yield_stress, fluid.consistency, fluid.flow_index)
        f = 4 * float(friction_factor_herschel_bulkley(velocity, bore, *args))
        laminar = 64 / f < LAMINAR_LIMIT
        return f, f"Herschel-Bulkley, {'laminar' if laminar else 'turbulent'}"
    re = float(reynolds_number(velocity, bore, fluid.density, fluid.consistency))
    smooth = float(friction_factor_newtonian(re, rough / bore))
    if fluid.yield_stress == 0.0:
        return smooth, f"Newtonian, {'laminar' if re < LAMINAR_LIMIT else 'turbulent'}"
    he = float(hedstrom_number(bore, fluid.density, fluid.yield_stress, fluid.consistency))
    f = 4 * float(friction_factor_darby_melson(re, he))
    laminar = re < float(critical_reynolds_hanks_pratt(he))
    # the larger of the two: a sludge never flows easier than a liquid of its plastic viscosity
    f = f if laminar else max(f, smooth)
    return f, f"Bingham, {'laminar' if laminar else 'turbulent'}"


def _nominal(route: Route, fluid: Fluid, book: RuleBook) -> int:
    """Sludge: largest bore that keeps its velocity; water: smallest below its limit."""
    sizes = nominal_sizes()
    speeds = {n: float(mean_velocity(route.flow_high, n / 1000)) for n in sizes}
    if not fluid.sludge:
        return next((n for n in sizes if speeds[n] <= book["water_velocity"]), sizes[-1])
    allowed = [n for n in sizes if n / 1000 >= book["sludge_bore_minimum"] - 1e-9]
    quick = [n for n in allowed if speeds[n] >= book["sludge_velocity_low"]]
    slow = [n for n in quick if speeds[n] <= book["sludge_velocity_high"]]
    if slow:
        return max(slow)
    if quick:
        return next((n for n in allowed if speeds[n] <= book["sludge_velocity_high"]), sizes[-1])
    return allowed[0]


def _sludge_findings(pipe: PipeLine, book: RuleBook) -> list[Finding]:
    found = []
    low, high = book["sludge_velocity_low"], book["sludge_velocity_high"]
    worst = min(pipe.velocity_low, pipe.velocity_high)
    if worst < low:
        always = pipe.velocity_high < low
        found.append(
            Finding(
                key="pipe.velocity_low" if always else "pipe.velocity_low_at_turndown",
                severity=Severity.CHANGE if always else Severity.CAUTION,
                item=pipe.tag,
                got=f"{pipe.velocity_high:.2f} m/s at the highest and {pipe.velocity_low:.2f} m/s "
                f"at the lowest flow in DN {pipe.nominal}",
                allowed=f"at least {low:.2f} m/s",
                why="grit and fibre settle and the line blocks",
                change="pump in bursts at full flow, flush with water at each stop, or take a "
                "smaller bore behind a screen",
                source=book.source("sludge_velocity_low"),
                margin=low / max(worst, 1e-9),
            )
        )
    if pipe.velocity_high > high:
        found.append(
            Finding(
                key="pipe.velocity_high",
                severity=Severity.CHANGE,
                item=pipe.tag,
                got=f"{pipe.velocity_high:.2f} m/s in DN {pipe.nominal}",
                allowed=f"at most {high:.2f} m/s",
                why="water hammer and wear",
                change="take the next bore or split the line",
                source=book.source("sludge_velocity_high"),
                margin=pipe.velocity_high / high,
            )
        )
    if "laminar" in pipe.regime:
        found.append(
            Finding(
                key="pipe.laminar",
                severity=Severity.CAUTION,
                item=pipe.tag,
                got=f"{pipe.regime} flow at {pipe.velocity_high:.2f} m/s",
                allowed="turbulent, or a planned flush",
                why="laminar flow lets grit settle on the invert",
                change="keep the velocity up, keep the line short, plan flushing points",
                source="L32",
            )
        )
    if pipe.bore < book["sludge_bore_handbook"] - 1e-9:
        found.append(
            Finding(
                key="pipe.bore_small",
                severity=Severity.CAUTION,
                item=pipe.tag,
                got=f"DN {pipe.nominal}",
                allowed=f"DN {1000 * book['sludge_bore_handbook']:.0f} in the handbook of works",
                why="the smaller bore keeps the velocity but blocks sooner",
                change="screen or grind the sludge ahead; give rodding and flushing points",
                source=book.source("sludge_bore_handbook"),
            )
        )
    return found


def pressure_pipe(
    route: Route, fluid: Fluid, book: RuleBook
) -> tuple[PipeLine, tuple[Finding, ...]]:
    """A pumped pipe, sized and with its friction at the highest flow, fittings included."""
    nominal = _nominal(route, fluid, book)
    bore = nominal / 1000
    high = float(mean_velocity(route.flow_high, bore))
    low = float(mean_velocity(route.flow_low, bore))
    # a trickle has no Reynolds number worth the name: its friction is nothing either way
    f, regime = _friction(fluid, max(high, 1e-9), bore, book["pipe_roughness"])
    length = route.run.length * (1 + book["fittings_share"])
    pipe = PipeLine(
        tag=route.tag,
        service=route.service,
        medium=fluid.medium,
        source=route.source,
        target=route.target,
        nominal=nominal,
        bore=bore,
        length=route.run.length,
        flow_high=route.flow_high,
        flow_low=route.flow_low,
        velocity_high=high,
        velocity_low=low,
        pressure_drop=float(pressure_drop_darcy(f, length, bore, fluid.density, high)),
        static_head=route.run.static_head,
        regime=regime,
    )
    return pipe, tuple(_sludge_findings(pipe, book)) if fluid.sludge else ()


def _too_large(pipe: PipeLine, carried: float) -> tuple[Finding, ...]:
    if carried >= pipe.flow_high:
        return ()
    return (
        Finding(
            key="pipe.gravity_full",
            severity=Severity.CHANGE,
            item=pipe.tag,
            got=f"{3600 * pipe.flow_high:.0f} m3/h",
            allowed=f"{3600 * carried:.0f} m3/h half full in DN {pipe.nominal}",
            why="the return would run full and back up",
            change="split the line or give it more slope",
            margin=pipe.flow_high / carried,
        ),
    )


def gravity_pipe(
    route: Route, fluid: Fluid, book: RuleBook
) -> tuple[PipeLine, tuple[Finding, ...]]:
    """A part-full gravity pipe: half full at the highest flow by Manning's formula."""
    thick = fluid.total_solids > 0.02
    slope = book["gravity_slope_thick" if thick else "gravity_slope_thin"]
    least = book["gravity_bore_minimum"]
    sizes = [n for n in nominal_sizes() if n / 1000 >= least - 1e-9]

    def speed(nominal: int) -> float:
        return float((nominal / 4000) ** (2 / 3) * np.sqrt(slope) / book["gravity_pipe_manning"])

    def half_full(nominal: int) -> float:
        return float(np.pi / 8 * (nominal / 1000) ** 2 * speed(nominal))

    nominal = next((n for n in sizes if half_full(n) >= route.flow_high), sizes[-1])
    pipe = PipeLine(
        tag=route.tag,
        service=route.service,
        medium=fluid.medium,
        source=route.source,
        target=route.target,
        nominal=nominal,
        bore=nominal / 1000,
        length=route.run.length,
        flow_high=route.flow_high,
        flow_low=route.flow_low,
        velocity_high=speed(nominal),
        velocity_low=speed(nominal),
        pressure_drop=0.0,
        static_head=route.run.static_head,
        regime=f"part full, slope {100 * slope:.0f} %",
        note=f"at most half full (Manning {book['gravity_pipe_manning']:g})",
    )
    return pipe, _too_large(pipe, half_full(nominal))
