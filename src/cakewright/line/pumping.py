"""Pumps: flow span, pressure, power, turndown, start, suction."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.line.case import Part, datum, line_of, motor_of
from cakewright.line.findings import Finding, Severity
from cakewright.line.inputs import PipeRun
from cakewright.line.items import Item, ItemKind, PipeLine
from cakewright.line.piping import Fluid, Route, pressure_pipe
from cakewright.line.practice import RuleBook
from cakewright.physics.pumps import pump_head, pump_shaft_power, suction_head_available
from cakewright.physics.water import vapour_pressure_wagner
from cakewright.quantities.constants import GRAVITY

__all__ = ["PumpDesign", "PumpDuty", "pump_design"]

_CAUTION_PD = (
    "A displacement pump against a closed valve bursts pipes: over-pressure switch and relief; "
    "release trapped pressure before opening.",
    "Never runs dry: dry-run protection at the stator or by suction level.",
)
_CAUTION_ROTATING = ("Isolate and lock before reaching in; fixed guards on couplings.",)


@dataclass(frozen=True, slots=True)
class PumpDuty:
    """What a pump must do: flows [m3/s], fluid, pipe and place in the line."""

    tag: str
    service: str
    flow_design: float
    flow_high: float
    flow_low: float
    fluid: Fluid
    pipe_tag: str
    source: str
    target: str
    run: PipeRun
    displacement: bool = True
    plunger: bool = False
    standby: bool = True
    number: int = 1
    running_share: float = 1.0
    idle_share: float = 0.0
    temperature: float = 288.15


@dataclass(frozen=True, slots=True)
class PumpDesign:
    """One pump service, per pump: flows [m3/s], pressure [Pa], heads [m], power [W]."""

    tag: str
    service: str
    duty: int
    standby: int
    flow_design: float
    flow_high: float
    flow_low: float
    turndown: float
    pressure: float
    head: float
    friction: float
    stages: int
    shaft_power: float
    rated_power: float
    start_margin: float
    suction_head: float
    part: Part


def _pressure(duty: PumpDuty, pipe: PipeLine, book: RuleBook) -> tuple[float, float]:
    """Pressure and its friction part; sludge that stood asks for more."""
    margin = 1 + book["thixotropy_margin"] if duty.fluid.sludge else 1.0
    friction = pipe.pressure_drop * margin
    # what the yield stress holds even at rest is inside the friction of a Bingham pipe already
    static = duty.fluid.density * GRAVITY * duty.run.static_head
    return max(static + friction + duty.run.end_pressure, 0.0), friction


def _findings(duty: PumpDuty, turndown: float, stages: int, book: RuleBook) -> list[Finding]:
    found = []
    limit = book["pump_turndown_limit"]
    if turndown > limit * duty.number:
        found.append(
            Finding(
                key="pump.turndown",
                severity=Severity.CHANGE,
                item=duty.tag,
                got=f"span {turndown:.1f} : 1",
                allowed=f"{limit:.0f} : 1 for one pump",
                why="a metering pump loses its accuracy at the bottom of its range",
                change="use two pumps of different size or narrow the span of dose and load",
                source=book.source("pump_turndown_limit"),
                margin=turndown / limit,
            )
        )
    if duty.displacement and not duty.plunger and stages > 4:
        found.append(
            Finding(
                key="pump.pressure",
                severity=Severity.CHANGE,
                item=duty.tag,
                got=f"{stages} stages",
                allowed="at most 4 stages",
                why="the pressure is high for one displacement pump",
                change="take a larger bore, a shorter line, or a second pump on the way",
                source=book.source("pump_stage_pressure"),
                margin=stages / 4,
            )
        )
    return found


def _item(duty: PumpDuty, design: dict[str, float], standby: int, book: RuleBook) -> Item:
    kind = ItemKind.PUMP_DISPLACEMENT if duty.displacement else ItemKind.PUMP_CENTRIFUGAL
    kind = ItemKind.PUMP_PLUNGER if duty.plunger else kind
    eta = "pump_efficiency_displacement" if duty.displacement else "pump_efficiency_centrifugal"
    data = [
        datum("volume_flow", duty.flow_design, label="duty point"),
        datum("volume_flow", duty.flow_high, book.source("pump_margin"), label="highest flow"),
        datum("volume_flow", duty.flow_low, book.source("feed_minimum_share"), label="lowest flow"),
        datum("turndown", design["turndown"]),
        datum("line_pressure", design["pressure"]),
        datum("line_head", design["head"], label="head"),
        datum("line_head", design["suction"], label="suction head available"),
        datum("power", design["power"], book.source(eta), label="shaft power"),
        datum("fluid_density", duty.fluid.density),
    ]
    if duty.displacement:
        stages = datum("count", design["stages"], book.source("pump_stage_pressure"), "", "stages")
        data += [
            *(() if duty.plunger else (stages,)),
            datum(
                "ratio",
                book["start_torque_factor"],
                book.source("start_torque_factor"),
                label="starting over running torque",
            ),
        ]
    return Item(
        tag=duty.tag,
        kind=kind,
        label=f"{duty.service} pump",
        service=f"{duty.fluid.medium}, {duty.source} to {duty.target}",
        duty=duty.number,
        standby=standby,
        data=tuple(data),
        cautions=(*(_CAUTION_PD if duty.displacement else ()), *_CAUTION_ROTATING),
        note="speed by inverter" if duty.displacement else "",
    )


def pump_design(duty: PumpDuty, book: RuleBook) -> PumpDesign:
    """A pump service with its pipe: pressure from static head, friction and end pressure."""
    route = Route(
        duty.pipe_tag,
        duty.service,
        duty.source,
        duty.target,
        duty.flow_high,
        duty.flow_low,
        duty.run,
    )
    pipe, pipe_findings = pressure_pipe(route, duty.fluid, book)
    pressure, friction = _pressure(duty, pipe, book)
    kind = "displacement" if duty.displacement else "centrifugal"
    each = duty.flow_high / duty.number
    power = float(pump_shaft_power(each, pressure, book[f"pump_efficiency_{kind}"]))
    stages = max(1, int(np.ceil(pressure / book["pump_stage_pressure"] - 1e-9)))
    turndown = duty.flow_high / duty.flow_low if duty.flow_low > 0 else 1.0
    standby = 1 if duty.standby else 0
    start = book["start_torque_factor"] if duty.displacement else 1.0
    suction = float(
        suction_head_available(
            book["suction_head_flooded"],
            0.0,
            duty.fluid.density,
            vapour_pressure_wagner(duty.temperature),
        )
    )
    motor = motor_of(
        book,
        f"M-{duty.tag}",
        duty.tag,
        f"{duty.service} pump",
        power,
        number=duty.number + standby,
        running=duty.number,
        running_share=duty.running_share,
        idle_share=duty.idle_share,
        start_factor=start,
        control="inverter" if duty.displacement else "direct start",
    )
    head = float(pump_head(pressure, duty.fluid.density))
    numbers = {
        "turndown": turndown,
        "pressure": pressure,
        "head": head,
        "suction": suction,
        "power": power,
        "stages": float(stages),
    }
    lines = (
        line_of(
            f"{duty.tag}.power",
            f"Shaft power of {duty.tag} ({duty.service})",
            "P",
            "Q Δp / η",
            (
                ("Q", each, "volume_flow"),
                ("Δp", pressure, "line_pressure"),
                ("η", book[f"pump_efficiency_{kind}"], f"pump_efficiency_{kind}"),
            ),
            ("power", power),
            "OWN",
            marks=(book.mark(f"pump_efficiency_{kind}"),),
        ),
        line_of(
            f"{pipe.tag}.drop",
            f"Friction in {pipe.tag} ({pipe.regime})",
            "Δp_f",
            "",
            (
                ("L", pipe.length * (1 + book["fittings_share"]), "pipe_length"),
                ("D", pipe.bore, "pipe_bore"),
                ("ρ", duty.fluid.density, "fluid_density"),
                ("v", pipe.velocity_high, "pipe_velocity"),
            ),
            ("line_pressure", pipe.pressure_drop),
            "L35" if "Bingham" in pipe.regime else "MEM",
            model=f"friction of a {pipe.regime} flow in a pipe (theory: line)",
        ),
    )
    return PumpDesign(
        tag=duty.tag,
        service=duty.service,
        duty=duty.number,
        standby=standby,
        flow_design=duty.flow_design,
        flow_high=duty.flow_high,
        flow_low=duty.flow_low,
        turndown=turndown,
        pressure=pressure,
        head=head,
        friction=friction,
        stages=stages,
        shaft_power=power,
        rated_power=motor.rated_power,
        start_margin=motor.rated_power * book["start_torque_available"] / max(power * start, 1e-9),
        suction_head=suction,
        part=Part(
            items=(_item(duty, numbers, standby, book),),
            motors=(motor,),
            pipes=(pipe,),
            findings=(*pipe_findings, *_findings(duty, turndown, stages, book)),
            lines=lines,
        ),
    )
