"""Round the press: the presses themselves, wash water, filtrate sump and return pump."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from cakewright.line.balance import Balance, wash_peak
from cakewright.line.case import Case, Part, datum, line_of, motor_of, parts_joined
from cakewright.line.findings import Finding, Severity
from cakewright.line.inputs import PipeRun, Press, point
from cakewright.line.items import Datum, Item, ItemKind, Motor
from cakewright.line.piece_items import piece_rows
from cakewright.line.piping import Fluid, Route, gravity_pipe
from cakewright.line.pumping import PumpDesign, PumpDuty, pump_design
from cakewright.machines import machine
from cakewright.physics.water import water_viscosity_iapws

__all__ = [
    "FiltrateSystem",
    "WashWater",
    "auxiliaries",
    "filtrate_system",
    "presses_part",
    "wash_water",
]

_WATER_CAUTIONS = (
    "Air gap or back-flow preventer against the drinking-water net, as the local code asks.",
    "Mist carries organisms; warmed or reused water can carry legionella.",
)


@dataclass(frozen=True, slots=True, eq=False)
class WashWater:
    """Wash water: peak and mean while running, mean over the week [m3/s]; break tank [m3]."""

    peak: float
    mean: float
    week_mean: float
    pressure: float
    break_tank: float
    pump: PumpDesign | None
    part: Part


@dataclass(frozen=True, slots=True, eq=False)
class FiltrateSystem:
    """Filtrate: peak with wash water [m3/s], sump [m3], return pump."""

    peak: float
    sump: float
    starts_per_hour: float
    pump: PumpDesign
    part: Part


def _size_rows(press: Press) -> list[Datum]:
    """What says how large this kind of machine is."""
    rows = (
        ("count", float(press.shafts if press.shafts > 1 else 0), "shafts"),
        ("pipe_length", press.belt_width, "belt width"),
        ("pipe_length", press.bowl_diameter, "bowl diameter"),
        ("count", float(press.plates), "plates"),
        ("filter_area", press.filter_area, ""),
        ("line_volume", press.chamber_volume, "all chambers"),
        ("time_span", press.cycle_time, "one cycle"),
    )
    return [datum(name, value, label=label) for name, value, label in rows if value > 0]


def _press_item(number: int, press: Press, case: Case) -> Item:
    source = "JUDGEMENT" if press.sound_level is None else "OWN"
    sound = case.book["sound_press"] if press.sound_level is None else press.sound_level
    cleaning = case.chosen.piece.cleaning
    data = [
        datum("dry_solids_flow", press.solids_capacity * press.shafts, label="rated, per machine"),
        datum("volume_flow", press.flow_capacity * press.shafts, label="rated, per machine"),
        *_size_rows(press),
        datum("power", press.drive_power * press.shafts, label="drawn, all drives"),
        datum("sound_level", sound, source),
        datum("cake_load", press.mass_empty, label="mass, empty"),
        datum("cake_load", press.mass_full, label="mass, full"),
        datum("pipe_length", press.length, label="length"),
        datum("pipe_length", press.width, label="width"),
        datum("pipe_length", press.height, label="height"),
    ]
    if press.wash_flow > 0 or press.wash_per_stop > 0:
        flow = press.wash_flow or press.wash_per_stop / cleaning.stop_time
        data += [
            datum("volume_flow", flow * press.shafts, label=cleaning.label),
            datum("line_pressure", press.wash_pressure, label=cleaning.label),
        ]
    return Item(
        tag=f"D-30{number}",
        kind=ItemKind.PRESS,
        label=machine(press.kind).label,
        service=f"dewaters; size {press.name}",
        duty=press.units,
        standby=press.standby,
        data=tuple(data),
        material="stainless steel, wetted parts",
        cautions=case.chosen.piece.machine_cautions,
        note=press.mark,
    )


def _press_motors(number: int, press: Press, case: Case) -> tuple[Motor, ...]:
    """The machine's own drives: the catalogue's rating of them, split as its kind splits it."""
    tag = f"D-30{number}"
    found = []
    for at, drive in enumerate(case.chosen.piece.drives):
        each = 1 if drive.per == "shaft" else press.shafts
        per_machine = press.shafts // each
        found.append(
            motor_of(
                case.book,
                f"M-{tag}{chr(ord('A') + at) if at else ''}",
                tag,
                drive.label,
                drive.share * each * press.drive_power * case.book["drive_efficiency"],
                number=(press.units + press.standby) * per_machine,
                running=press.units * per_machine,
                start_factor=drive.start_factor,
                control=drive.control,
                rated=drive.share * each * press.installed_power,
            )
        )
    return tuple(found)


def presses_part(case: Case) -> Part:
    """Items and drives of the presses; catalogue power counts as drawn from the net."""
    pairs = list(enumerate(case.inputs.presses, start=1))
    return Part(
        items=tuple(_press_item(n, p, case) for n, p in pairs),
        motors=tuple(m for n, p in pairs for m in _press_motors(n, p, case)),
    )


def _with_machine(case: Case) -> frozenset[str]:
    """Tags of the items whose motors come with the machine."""
    tags = {row.tag for row in piece_rows(case) if row.with_machine}
    if any(row.rule == "stirred" for row in piece_rows(case)):
        tags.add("A-301")
    if case.chosen.piece.cleaning.with_machine:
        tags.add("P-401")
    if case.chosen.way.flow is not None:
        tags.add("P-101")
    return frozenset(tags)


def auxiliaries(case: Case, motors: Sequence[Motor]) -> tuple[tuple[Motor, ...], Part]:
    """Motors that come with the machine, at the rating the catalogue gives for them together.

    Where the line needs more than the catalogue has, the needed ratings stand and a finding says
    so; what the catalogue has beyond named items stays with the machine as its own row.
    """
    presses, tags = case.inputs.presses, _with_machine(case)
    given = sum(p.auxiliary_power * p.shafts * (p.units + p.standby) for p in presses)
    own = [m for m in motors if m.item in tags]
    if given <= 0:
        return tuple(motors), Part()
    need = sum(m.number * m.shaft_power for m in own) * (1 + case.book["motor_margin"])
    if own and need <= given:
        scale = given / sum(m.number * m.shaft_power for m in own)
        rated = {
            id(m): replace(m, rated_power=scale * m.shaft_power, label=f"{m.label}, with machine")
            for m in own
        }
        return tuple(rated.get(id(m), m) for m in motors), Part()
    if not own:
        machines = sum(p.units + p.standby for p in presses)
        extra = motor_of(
            case.book,
            "M-D-301X",
            "D-301",
            "auxiliaries of the machine",
            given / machines * case.book["drive_efficiency"],
            number=machines,
            running=sum(p.units for p in presses),
            rated=given / machines,
        )
        return (*motors, extra), Part()
    finding = Finding(
        key="press.auxiliaries",
        severity=Severity.CAUTION,
        item="D-301",
        got=f"{given / 1000:.2f} kW of auxiliary drives in the catalogue",
        allowed=f"{need / 1000:.2f} kW, what {', '.join(sorted({m.item for m in own}))} need here",
        why="the line's installed power is then above the machine's own figure",
        change="ask the supplier which drives come with the machine and at what rating",
        margin=need / given,
    )
    return tuple(motors), Part(findings=(finding,))


def wash_water(case: Case, streams: Balance) -> WashWater:
    """Break tank, pump and volumes of the wash water."""
    presses, book, cleaning = case.inputs.presses, case.book, case.chosen.piece.cleaning
    peak, mean = wash_peak(presses, cleaning.stop_time), point(streams.wash)
    pressure = max((p.wash_pressure for p in presses), default=0.0)
    if peak <= 0:
        return WashWater(0.0, 0.0, 0.0, 0.0, 0.0, None, Part())
    burst = max((p.burst or 60.0) for p in presses)
    volume = peak * burst * book["wash_break_bursts"]
    run = case.inputs.pipe("wash")
    water = Fluid(
        "water",
        case.water_density,
        float(water_viscosity_iapws(point(case.inputs.feed.temperature))),
    )
    pump = pump_design(
        PumpDuty(
            tag="P-401",
            service=cleaning.short,
            flow_design=peak,
            flow_high=peak * (1 + book["pump_margin"]),
            flow_low=peak,
            fluid=water,
            pipe_tag="L-401",
            source="T-401",
            target="D-301",
            run=PipeRun(run.length, run.static_head, pressure),
            displacement=cleaning.pump != "centrifugal",
            plunger=cleaning.pump == "plunger",
            standby=False,
            running_share=min(mean / peak, 1.0),
            temperature=point(case.inputs.feed.temperature),
        ),
        book,
    )
    item = Item(
        tag="T-401",
        kind=ItemKind.BREAK_TANK,
        label="break tank",
        service=f"air gap between net and {cleaning.label}",
        duty=1,
        standby=0,
        data=(
            datum("line_volume", volume, book.source("wash_break_bursts")),
            datum("volume_flow", peak, label="burst"),
            datum("volume_flow", mean, label="mean"),
        ),
        material="plastic",
        cautions=_WATER_CAUTIONS,
    )
    week = mean * case.run_share
    line = line_of(
        "wash.day",
        "Wash water, mean over the week",
        "V_d",
        "Q_w t_run",
        (("Q_w", mean, "volume_flow"), ("t_run", case.run_share, "service_share")),
        ("volume_per_day", week),
        "OWN",
    )
    own = Part(items=(item,), lines=(line,))
    return WashWater(peak, mean, week, pressure, volume, pump, parts_joined([own, pump.part]))


def _continuous_finding(case: Case, peak: float) -> tuple[Finding, ...]:
    feed = case.design_flow
    if peak <= 3 * feed:
        return ()
    return (
        Finding(
            key="filtrate.wash_dominates",
            severity=Severity.CAUTION,
            item="T-402",
            got=f"{3600 * peak:.1f} m3/h at the peak against {3600 * feed:.1f} m3/h of feed",
            allowed="a sump and drain sized for it",
            why="washing, not the sludge, sizes the drain and the return pump",
            change="wash machines one after the other, or recover clear wash water",
            margin=peak / (3 * feed),
        ),
    )


def filtrate_system(case: Case, streams: Balance) -> FiltrateSystem:
    """Drip tray and channel, sump from the pump's cycle time, return pump."""
    book = case.book
    filtrate = streams.stream("liquor returned")
    steady = point(filtrate.volume_flow) - point(streams.wash)
    peak = steady * (1 + book["pump_margin"]) + wash_peak(
        case.inputs.presses, case.chosen.piece.cleaning.stop_time
    )
    water = Fluid(
        case.chosen.piece.liquor,
        case.water_density,
        float(water_viscosity_iapws(point(case.inputs.feed.temperature))),
    )
    channel, channel_findings = gravity_pipe(
        Route(
            "L-402",
            f"{case.chosen.piece.liquor} and drip",
            "D-301",
            "T-402",
            peak,
            0.0,
            PipeRun(5.0, 0.0),
        ),
        water,
        book,
    )
    flow = peak * (1 + book["return_pump_margin"])
    sump = flow * book["sump_cycle_time"] / 4
    pump = pump_design(
        PumpDuty(
            tag="P-402",
            service=f"{case.chosen.piece.liquor} return",
            flow_design=peak,
            flow_high=flow,
            flow_low=flow,
            fluid=water,
            pipe_tag="L-403",
            source="T-402",
            target="works",
            run=case.inputs.pipe("filtrate"),
            displacement=False,
            standby=case.inputs.standby_pumps,
            running_share=point(filtrate.volume_flow) / flow,
            temperature=point(case.inputs.feed.temperature),
        ),
        book,
    )
    item = Item(
        tag="T-402",
        kind=ItemKind.SUMP,
        label=f"{case.chosen.piece.liquor} sump",
        service=f"{case.chosen.piece.liquor}, wash and floor",
        duty=1,
        standby=0,
        data=(
            datum("line_volume", sump, book.source("sump_cycle_time"), label="between levels"),
            datum("volume_flow", peak, label="peak in"),
            datum(
                "time_span",
                book["sump_cycle_time"],
                book.source("sump_cycle_time"),
                label="shortest cycle",
            ),
        ),
        material="concrete or plastic",
        cautions=("Confined space below floor: entry by permit only; gas is heavier than air.",),
    )
    line = line_of(
        "filtrate.sump",
        "Sump between pump levels",
        "V",
        "Q T / 4",
        (("Q", flow, "volume_flow"), ("T", book["sump_cycle_time"], "sump_cycle_time")),
        ("line_volume", sump),
        book.source("sump_cycle_time"),
    )
    findings = (*channel_findings, *_continuous_finding(case, peak))
    own = Part(items=(item,), pipes=(channel,), findings=findings, lines=(line,))
    return FiltrateSystem(
        peak, sump, 3600.0 / book["sump_cycle_time"], pump, parts_joined([own, pump.part])
    )
