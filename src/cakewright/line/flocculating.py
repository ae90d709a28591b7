"""Flocculation tank and, for two products, the hard-mixed chamber ahead of it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from cakewright.line.balance import Balance
from cakewright.line.case import Case, Part, datum, line_of, motor_of
from cakewright.line.findings import Finding, Severity
from cakewright.line.inputs import point
from cakewright.line.items import Item, ItemKind
from cakewright.line.piece_items import piece_rows
from cakewright.physics.mixing import (
    camp_number,
    impeller_speed_for_power,
    kolmogorov_length,
    mixing_power_for_gradient,
    tip_speed,
    velocity_gradient,
)
from cakewright.physics.rheology import apparent_viscosity_herschel_bulkley
from cakewright.physics.water import water_viscosity_iapws
from cakewright.quantities import Status

__all__ = ["G_CAUTION", "StirredTank", "stirred_tanks"]

G_CAUTION = (
    "The velocity gradient has a clear meaning only for particles smaller than the smallest "
    "eddies; sludge flocs are larger. Judge by power per mass and tip speed as well, and by eye."
)


@dataclass(frozen=True, slots=True, eq=False)
class StirredTank:
    """A stirred tank: volume [m3], time [s], G [1/s] on the apparent viscosity [Pa s], power [W].

    ``gradient_water`` is the G of the same power counted with water's viscosity.
    """

    tag: str
    volume: float
    time: float
    diameter: float
    depth: float
    gradient: float
    gradient_water: float
    viscosity: float
    camp: float
    power: float
    power_per_mass: float
    smallest_eddy: float
    impeller_diameter: float
    speed: float
    tip_speed: float
    part: Part


def _impeller(
    case: Case, power: float, tank: float, viscosity: float, density: float, limit: float
) -> tuple[float, float, float]:
    """Smallest impeller ratio whose tip stays under the limit: diameter, speed, tip speed."""
    book = case.book
    ratios = np.arange(book["impeller_ratio_low"], book["impeller_ratio_high"] + 1e-9, 0.05)
    diameters = ratios * tank
    speeds = np.asarray(
        impeller_speed_for_power(
            power, book["impeller_power_number"], density, diameters, viscosity
        )
    )
    tips = np.asarray(tip_speed(speeds, diameters))
    good = np.flatnonzero(tips <= limit)
    pick = int(good[0]) if good.size else int(np.argmin(tips))
    return float(diameters[pick]), float(speeds[pick]), float(tips[pick])


def _findings(case: Case, tank: StirredTank) -> tuple[Finding, ...]:
    book, found = case.book, []
    limit = book["tip_speed_limit"]
    if tank.tip_speed > limit and tank.tag == "T-301":
        found.append(
            Finding(
                key="flocculation.tip_speed",
                severity=Severity.CHANGE,
                item=tank.tag,
                got=f"{tank.tip_speed:.1f} m/s with the largest impeller tried",
                allowed=f"about {limit:.1f} m/s",
                why="the tip tears flocs apart",
                change="lower the gradient, put two impellers on one shaft, or take a wide paddle",
                source=book.source("tip_speed_limit"),
                margin=tank.tip_speed / limit,
            )
        )
    low, high = book["camp_number_low"], book["camp_number_high"]
    if tank.tag == "T-301" and not low <= tank.camp <= high:
        found.append(
            Finding(
                key="flocculation.camp",
                severity=Severity.CAUTION,
                item=tank.tag,
                got=f"Gt {tank.camp:.3g}",
                allowed=f"about {low:.0e} to {high:.0e}",
                why="too little leaves polymer unused, too much breaks flocs; the band is recalled "
                "and depends on the machine",
                change="adjust time or speed; keep the mixer on an inverter and tune by eye",
                source=book.source("camp_number_low"),
                margin=max(low / tank.camp, tank.camp / high),
            )
        )
    return tuple(found)


def _item(case: Case, tank: StirredTank, label: str) -> tuple[Item, Item]:
    first = tank.tag == "T-300"
    kind = ItemKind.MIXING_CHAMBER if first else ItemKind.FLOCCULATION_TANK
    time_rule = "coagulant_time" if first else "flocculation_time"
    gradient_rule = "coagulant_gradient" if first else "flocculation_gradient"
    vessel = Item(
        tag=tank.tag,
        kind=kind,
        label=label,
        service="sludge and conditioner",
        duty=1,
        standby=0,
        data=(
            datum("line_volume", tank.volume),
            datum("time_span", tank.time, case.book.source(time_rule), label="residence"),
            datum("pipe_length", tank.diameter, label="diameter"),
            datum("pipe_length", tank.depth, label="liquid depth"),
            datum(
                "velocity_gradient",
                tank.gradient,
                case.book.source(gradient_rule),
                note=f"on {1000 * tank.viscosity:.1f} mPa s, apparent at this gradient",
            ),
            datum("velocity_gradient", tank.gradient_water, label="the same power on water's"),
            datum("camp_number", tank.camp),
            datum("power_per_mass", tank.power_per_mass),
        ),
        material="stainless steel or plastic",
        cautions=("Confined space; isolate the mixer before opening.", G_CAUTION),
    )
    mixer = Item(
        tag=tank.tag.replace("T", "A"),
        kind=ItemKind.MIXER,
        label=f"{label} mixer",
        service="stirs in the conditioner" if first else "grows flocs",
        duty=1,
        standby=0,
        data=(
            datum("power", tank.power, label="into the liquid"),
            datum("rotation", tank.speed),
            datum("tip_speed", tank.tip_speed),
            datum("pipe_length", tank.impeller_diameter, label="impeller diameter"),
            datum(
                "impeller_power_number",
                case.book["impeller_power_number"],
                case.book.source("impeller_power_number"),
            ),
        ),
        cautions=("Fixed guard; interlocked with the cover.",),
        note="speed by inverter",
    )
    return vessel, mixer


def _tank(
    case: Case, tag: str, label: str, flow: float, density: float, time: float, gradient: float
) -> StirredTank:
    book, feed = case.book, case.inputs.feed
    water = float(water_viscosity_iapws(point(feed.temperature)))
    apparent = float(
        apparent_viscosity_herschel_bulkley(
            gradient, point(feed.yield_stress), point(feed.consistency), point(feed.flow_index)
        )
    )
    viscosity = max(apparent, water)
    volume = flow * time
    side = float((4 * volume / np.pi) ** (1 / 3))
    power = float(mixing_power_for_gradient(gradient, viscosity, volume))
    limit = book["tip_speed_limit"] if tag == "T-301" else np.inf
    impeller, speed, tip = _impeller(case, power, side, viscosity, density, limit)
    per_mass = power / (density * volume)
    tank = StirredTank(
        tag=tag,
        volume=volume,
        time=time,
        diameter=side,
        depth=side,
        gradient=gradient,
        gradient_water=float(velocity_gradient(power, water, volume)),
        viscosity=viscosity,
        camp=float(camp_number(gradient, time)),
        power=power,
        power_per_mass=per_mass,
        smallest_eddy=float(kolmogorov_length(per_mass, viscosity / density)),
        impeller_diameter=impeller,
        speed=speed,
        tip_speed=tip,
        part=Part(),
    )
    rule = "coagulant" if tag == "T-300" else "flocculation"
    lines = (
        line_of(
            f"{tag}.volume",
            f"Volume of the {label}",
            "V",
            "Q t",
            (("Q", flow, "volume_flow"), ("t", time, "time_span")),
            ("line_volume", volume),
            book.source(f"{rule}_time"),
        ),
        line_of(
            f"{tag}.power",
            f"Mixing power of the {label}",
            "P",
            "G² μ V",
            (
                ("G", gradient, "velocity_gradient"),
                ("μ", viscosity, "plastic_viscosity"),
                ("V", volume, "line_volume"),
            ),
            ("power", power),
            book.source(f"{rule}_gradient"),
            valid="meaning of G doubtful for flocs above the smallest eddies",
            status=Status.EXTRAPOLATED if tag == "T-301" else Status.NO_RANGE,
            note=G_CAUTION,
        ),
    )
    vessel, mixer = _item(case, tank, label)
    motor = motor_of(book, f"M-{mixer.tag}", mixer.tag, mixer.label, power, control="inverter")
    return replace(
        tank,
        part=Part(
            items=(vessel, mixer), motors=(motor,), findings=_findings(case, tank), lines=lines
        ),
    )


def stirred_tanks(case: Case, streams: Balance) -> tuple[StirredTank, ...]:
    """The open stirred tanks of the way taken, in order of flow; none where the pipe mixes."""
    book, mix = case.book, streams.stream("flocculated sludge")
    stirred = {row.tag for row in piece_rows(case) if row.rule == "stirred"}
    flow = point(mix.volume_flow)
    density = point(mix.mass_flow) / flow
    tanks = []
    if "T-300" in stirred:
        args = book["coagulant_time"], book["coagulant_gradient"]
        tanks.append(_tank(case, "T-300", "first mixing chamber", flow, density, *args))
    if "T-301" in stirred:
        args = book["flocculation_time"], book["flocculation_gradient"]
        tanks.append(_tank(case, "T-301", "flocculation tank", flow, density, *args))
    return tuple(tanks)
