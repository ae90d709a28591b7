"""Cake side: conveyor, skips, trips, storage days."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from cakewright.line.balance import Balance
from cakewright.line.case import Case, Part, datum, line_of, motor_of
from cakewright.line.findings import Finding, Severity
from cakewright.line.inputs import point
from cakewright.line.items import Item, ItemKind
from cakewright.physics.conveying import (
    INCLINE_LIMIT,
    conveyor_capacity,
    conveyor_power_iso_7119,
    incline_factor,
    skip_load_mass,
    trips_per_time,
)
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import DAY, GRAVITY, HOUR
from cakewright.quantities.tables import packaged_table

__all__ = ["Conveyor", "Skips", "conveyor", "skips"]


@dataclass(frozen=True, slots=True, eq=False)
class Conveyor:
    """Cake conveyor: screw diameter [m], speed [1/s], capacity [m3/s], power [W]."""

    diameter: float
    speed: float
    capacity: float
    duty: float
    length: float
    incline: float
    rise: float
    shaft_power: float
    part: Part


@dataclass(frozen=True, slots=True, eq=False)
class Skips:
    """Skips: load per trip [kg], trips per time over samples [1/s], number, time to fill [s]."""

    load: float
    fill: float
    mass_limited: bool
    trips: FloatArray
    number: int
    time_to_fill: float
    storage_time: float
    part: Part


@cache
def _screws() -> tuple[float, ...]:
    return tuple(packaged_table("cakewright.line", "data", "screws.toml")["diameter"])


def _incline_finding(incline: float) -> tuple[Finding, ...]:
    if incline <= INCLINE_LIMIT:
        return ()
    return (
        Finding(
            key="conveyor.incline",
            severity=Severity.CHANGE,
            item="H-501",
            got=f"{np.degrees(incline):.0f} degrees",
            allowed="at most 30 degrees",
            why="cake slips back and the capacity is unknown",
            change="make the conveyor longer, use two in series, or raise the press",
            source="L58",
            margin=incline / INCLINE_LIMIT,
        ),
    )


def _capacity_finding(wanted: float, capacity: float) -> tuple[Finding, ...]:
    if capacity >= wanted * (1 - 1e-9):
        return ()
    return (
        Finding(
            key="conveyor.capacity",
            severity=Severity.INFEASIBLE,
            item="H-501",
            got=f"{3600 * capacity:.1f} m3/h with the largest screw listed",
            allowed=f"{3600 * wanted:.1f} m3/h wanted with margin",
            why="the cake would back up into the press",
            change="use two conveyors or a flatter one",
            margin=wanted / max(capacity, 1e-12),
        ),
    )


def conveyor(case: Case, streams: Balance) -> Conveyor:
    """Smallest shaftless screw that carries the cake with margin below its speed limit."""
    book = case.book
    incline = min(case.inputs.conveyor_incline, INCLINE_LIMIT)
    factor = float(incline_factor(incline))
    duty = point(streams.cake_mass) / point(streams.cake_density)
    wanted = duty * (1 + book["conveyor_margin"])
    args = book["conveyor_speed_high"], book["conveyor_fill"], factor
    capacities = {d: float(conveyor_capacity(d, 0.0, d, *args)) for d in _screws()}
    diameter = next((d for d, q in capacities.items() if q >= wanted), _screws()[-1])
    capacity = capacities[diameter]
    speed = book["conveyor_speed_high"] * min(wanted / capacity, 1.0)
    length = case.inputs.conveyor_length
    rise = length * float(np.sin(incline))
    mass = point(streams.cake_mass) * (1 + book["conveyor_margin"])
    power = float(
        conveyor_power_iso_7119(mass, length, rise, diameter, book["conveyor_resistance"])
    )
    item = Item(
        tag="H-501",
        kind=ItemKind.CONVEYOR,
        label="cake conveyor",
        service="cake to skip",
        duty=1,
        standby=0,
        data=(
            datum("pipe_bore", diameter, label="screw diameter, shaftless"),
            datum("rotation", speed),
            datum("pipe_length", length, label="length"),
            datum("pipe_length", rise, label="rise"),
            datum("volume_flow", capacity, book.source("conveyor_fill"), label="capacity"),
            datum("volume_flow", duty, label="design cake flow"),
            datum("power", power, book.source("conveyor_resistance"), label="shaft power"),
        ),
        material="stainless steel trough, wear liner",
        cautions=(
            "Runs only with every cover in place; covers interlocked; pull cord along the length.",
            "Cake sticks and splatters at drops: short drops, skirts, drip tray wider than trough.",
        ),
    )
    motor = motor_of(
        book, "M-H-501", "H-501", "cake conveyor", power, start_factor=book["conveyor_start_factor"]
    )
    lines = (
        line_of(
            "conveyor.capacity",
            "Capacity of the cake conveyor at its highest speed",
            "Q",
            "π/4 D² p n φ C",
            (
                ("D", diameter, "pipe_bore"),
                ("p", diameter, "pipe_length"),
                ("n", book["conveyor_speed_high"], "rotation"),
                ("φ", book["conveyor_fill"], "conveyor_fill"),
                ("C", factor, "ratio"),
            ),
            ("volume_flow", capacity),
            "L58",
            marks=(book.mark("conveyor_fill"),),
            valid="incline up to 30 degrees",
        ),
        line_of(
            "conveyor.power",
            "Shaft power of the cake conveyor",
            "P",
            f"{GRAVITY} M (λ L + H) + 50 D L",
            (
                ("M", mass, "mass_flow"),
                ("λ", book["conveyor_resistance"], "conveyor_resistance"),
                ("L", length, "pipe_length"),
                ("H", rise, "pipe_length"),
                ("D", diameter, "pipe_bore"),
            ),
            ("power", power),
            "L59",
            marks=(book.mark("conveyor_resistance"),),
        ),
    )
    return Conveyor(
        diameter=diameter,
        speed=speed,
        capacity=capacity,
        duty=duty,
        length=length,
        incline=incline,
        rise=rise,
        shaft_power=power,
        part=Part(
            items=(item,),
            motors=(motor,),
            lines=lines,
            findings=(
                *_incline_finding(case.inputs.conveyor_incline),
                *_capacity_finding(wanted, capacity),
            ),
        ),
    )


def _skip_findings(case: Case, full: float, number: int, changes: float) -> tuple[Finding, ...]:
    outlet, found = case.inputs.outlet, []
    if full > outlet.truck_payload:
        share = outlet.truck_payload / full * case.book["skip_fill"]
        found.append(
            Finding(
                key="skip.too_heavy",
                severity=Severity.CHANGE,
                item="S-501",
                got=f"{full / 1000:.1f} t of cake in a {outlet.skip_volume:.1f} m3 skip",
                allowed=f"{outlet.truck_payload / 1000:.1f} t, what the truck may carry",
                why="an overweight skip may not leave, or leaves unlawfully",
                change=f"fill to {100 * share:.0f} % of the volume with a weight stop, or take a "
                f"skip of at most {outlet.skip_volume * outlet.truck_payload / full:.1f} m3",
                margin=full / outlet.truck_payload,
            )
        )
    if outlet.skips is not None and outlet.skips < number:
        found.append(
            Finding(
                key="skip.too_few",
                severity=Severity.CHANGE,
                item="S-501",
                got=f"{outlet.skips} skips",
                allowed=f"at least {number}",
                why=f"cake must wait {outlet.storage_time / DAY:.1f} d on site when no truck comes",
                change="add skips, or agree on more frequent trips",
                source="L16",
                margin=number / outlet.skips,
            )
        )
    if changes > 1 and case.inputs.run.unattended:
        found.append(
            Finding(
                key="skip.unattended",
                severity=Severity.CHANGE,
                item="S-501",
                got=f"{changes:.1f} skips filled per run day, unattended",
                allowed="at most one without somebody there",
                why="nobody changes the skip and the press stops, or the cake falls beside it",
                change="larger skip, two skips under a reversing conveyor, or attended hours",
                margin=changes,
            )
        )
    return tuple(found)


def skips(case: Case, streams: Balance) -> Skips:
    """Load per skip by volume and mass, trips, number for the storage time."""
    book, outlet = case.book, case.inputs.outlet
    density, mass = point(streams.cake_density), streams.cake_mass * case.run_share
    fill = book["skip_fill"]
    load = float(skip_load_mass(outlet.skip_volume, density, fill, outlet.truck_payload))
    full = outlet.skip_volume * fill * density
    trips = np.atleast_1d(trips_per_time(mass, load))
    stored = point(mass) * outlet.storage_time
    number = int(np.ceil(stored / load - 1e-9)) + 1
    day = point(streams.cake_mass) * case.inputs.run.hours_per_day * HOUR
    fills = day / load
    time_to_fill = load / max(point(streams.cake_mass), 1e-12)
    item = Item(
        tag="S-501",
        kind=ItemKind.SKIP,
        label="cake skip",
        service="cake to the outlet",
        duty=1,
        standby=number - 1,
        data=(
            datum("skip_volume", outlet.skip_volume),
            datum("cake_load", load, book.source("skip_fill")),
            datum("bulk_density", density, book.source("cake_voids")),
            datum("trip_rate", point(trips)),
            datum("time_span", time_to_fill, label="time to fill"),
            datum("cake_storage_time", outlet.storage_time, "L16"),
        ),
        cautions=(
            "Traffic and lifting at skip changes: marked way, nobody between skip and wall.",
            "A covered skip with cake can hold gas: ventilate.",
        ),
    )
    lines = (
        line_of(
            "skip.load",
            "Cake per skip",
            "m",
            "min(V φ ρ_b, m_max)",
            (
                ("V", outlet.skip_volume, "skip_volume"),
                ("φ", fill, "skip_fill"),
                ("ρ_b", density, "bulk_density"),
                ("m_max", outlet.truck_payload, "truck_payload"),
            ),
            ("cake_load", load),
            "OWN",
            marks=(book.mark("cake_voids"), book.mark("skip_fill")),
        ),
        line_of(
            "skip.trips",
            "Trips",
            "f",
            "M / m",
            (("M", point(mass), "mass_per_day"), ("m", load, "cake_load")),
            ("trip_rate", point(trips)),
            "OWN",
        ),
    )
    return Skips(
        load=load,
        fill=load / (outlet.skip_volume * density),
        mass_limited=full > load * 1.0000001,
        trips=trips,
        number=number,
        time_to_fill=time_to_fill,
        storage_time=(number - 1) * load / point(mass),
        part=Part(items=(item,), lines=lines, findings=_skip_findings(case, full, number, fills)),
    )
