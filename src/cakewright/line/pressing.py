"""Round the press: the presses themselves, wash water, filtrate sump and return pump."""

from __future__ import annotations

from dataclasses import dataclass

from cakewright.line.balance import Balance, wash_peak
from cakewright.line.case import Case, Part, datum, line_of, motor_of, parts_joined
from cakewright.line.findings import Finding, Severity
from cakewright.line.inputs import PipeRun, Press, point
from cakewright.line.items import Item, ItemKind, Motor
from cakewright.line.piping import Fluid, Route, gravity_pipe
from cakewright.line.pumping import PumpDesign, PumpDuty, pump_design
from cakewright.physics.water import water_viscosity_iapws

__all__ = ["FiltrateSystem", "WashWater", "filtrate_system", "presses_part", "wash_water"]

_PRESS_CAUTIONS = (
    "Rotating screws and rings crush, slow as they are: covers interlocked, never reach in before "
    "isolating and locking off.",
    "Unexpected start (remote, automatic, timer wash) is the main hazard while servicing: local "
    "isolator and start warning.",
    "Splashes of raw sludge carry germs: gloves, eye protection, wash hands.",
)
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


def _press_item(number: int, press: Press, case: Case) -> Item:
    source = "JUDGEMENT" if press.sound_level is None else "OWN"
    sound = case.book["sound_press"] if press.sound_level is None else press.sound_level
    data = [
        datum("dry_solids_flow", press.solids_capacity * press.shafts, label="rated, per machine"),
        datum("volume_flow", press.flow_capacity * press.shafts, label="rated, per machine"),
        datum("count", press.shafts, label="shafts"),
        datum("power", press.drive_power * press.shafts, label="drawn, all shafts"),
        datum("volume_flow", press.wash_flow * press.shafts, label="wash water in a burst"),
        datum("line_pressure", press.wash_pressure, label="wash water"),
        datum("sound_level", sound, source),
        datum("cake_load", press.mass_empty, label="mass, empty"),
        datum("cake_load", press.mass_full, label="mass, full"),
        datum("pipe_length", press.length, label="length"),
        datum("pipe_length", press.width, label="width"),
        datum("pipe_length", press.height, label="height"),
    ]
    return Item(
        tag=f"D-30{number}",
        kind=ItemKind.PRESS,
        label=press.kind.replace("_", " "),
        service=f"dewaters; size {press.name}",
        duty=press.units,
        standby=press.standby,
        data=tuple(data),
        material="stainless steel, wetted parts",
        cautions=_PRESS_CAUTIONS,
        note=press.mark,
    )


def _press_motors(number: int, press: Press, case: Case) -> tuple[Motor, ...]:
    tag, total = f"D-30{number}", press.units + press.standby
    motors = [
        motor_of(
            case.book,
            f"M-{tag}",
            tag,
            "press shaft drive",
            press.drive_power * case.book["drive_efficiency"],
            number=total * press.shafts,
            running=press.units * press.shafts,
            start_factor=1.5,
            control="inverter",
            rated=press.installed_power,
        )
    ]
    if press.auxiliary_power > 0:
        motors.append(
            motor_of(
                case.book,
                f"M-{tag}X",
                tag,
                "press auxiliaries",
                press.auxiliary_power * case.book["drive_efficiency"],
                number=total * press.shafts,
                running=press.units * press.shafts,
            )
        )
    return tuple(motors)


def presses_part(case: Case) -> Part:
    """Items and drives of the presses; catalogue power counts as drawn from the net."""
    pairs = list(enumerate(case.inputs.presses, start=1))
    return Part(
        items=tuple(_press_item(n, p, case) for n, p in pairs),
        motors=tuple(m for n, p in pairs for m in _press_motors(n, p, case)),
    )


def wash_water(case: Case, streams: Balance) -> WashWater:
    """Break tank, pump and volumes of the wash water."""
    presses, book = case.inputs.presses, case.book
    peak, mean = wash_peak(presses, book["stop_rinse_time"]), point(streams.wash)
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
            service="wash water",
            flow_design=peak,
            flow_high=peak * (1 + book["pump_margin"]),
            flow_low=peak,
            fluid=water,
            pipe_tag="L-401",
            source="T-401",
            target="D-301",
            run=PipeRun(run.length, run.static_head, pressure),
            displacement=False,
            standby=False,
            running_share=mean / peak,
            temperature=point(case.inputs.feed.temperature),
        ),
        book,
    )
    item = Item(
        tag="T-401",
        kind=ItemKind.BREAK_TANK,
        label="wash water break tank",
        service="air gap between net and wash water",
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
        "Q_w t_run / 7 d",
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
            allowed="a filtrate sump and drain sized for it",
            why="washing, not the sludge, sizes the drain and the return pump",
            change="wash machines one after the other, or recover clear wash water",
            margin=peak / (3 * feed),
        ),
    )


def filtrate_system(case: Case, streams: Balance) -> FiltrateSystem:
    """Drip tray and channel, sump from the pump's cycle time, return pump."""
    book = case.book
    filtrate = streams.stream("filtrate and wash water")
    steady = point(filtrate.volume_flow) - point(streams.wash)
    peak = steady * (1 + book["pump_margin"]) + wash_peak(
        case.inputs.presses, book["stop_rinse_time"]
    )
    water = Fluid(
        "filtrate",
        case.water_density,
        float(water_viscosity_iapws(point(case.inputs.feed.temperature))),
    )
    channel, channel_findings = gravity_pipe(
        Route("L-402", "filtrate and drip", "D-301", "T-402", peak, 0.0, PipeRun(5.0, 0.0)),
        water,
        book,
    )
    flow = peak * (1 + book["return_pump_margin"])
    sump = flow * book["sump_cycle_time"] / 4
    pump = pump_design(
        PumpDuty(
            tag="P-402",
            service="filtrate return",
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
        label="filtrate sump",
        service="filtrate, wash and floor",
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
        "Filtrate sump between pump levels",
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
