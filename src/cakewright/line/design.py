"""The whole line from one set of inputs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from cakewright.line.air import Sound, Ventilation, footprints, sound, ventilation
from cakewright.line.availability import LineAvailability, line_availability
from cakewright.line.balance import Balance, balance, with_pressures
from cakewright.line.cake import Conveyor, Skips, conveyor, skips
from cakewright.line.case import Case, Part, case_of, line_of, parts_joined
from cakewright.line.case_checks import case_findings
from cakewright.line.conditioning import ProductLine, conditioning
from cakewright.line.demand import LineDemand, demand_lines, line_demand
from cakewright.line.duty_numbers import duty_numbers
from cakewright.line.feeding import FeedTank, feed_pump, feed_tank, transfer_pump
from cakewright.line.findings import Finding, Severity, binding
from cakewright.line.flocculating import StirredTank, stirred_tanks
from cakewright.line.graph import line_graph
from cakewright.line.inputs import LineInputs, point
from cakewright.line.items import (
    Footprint,
    Interlock,
    Item,
    LineGraph,
    Motor,
    NarrativeSection,
    PipeLine,
    Sheet,
    Signal,
    Stream,
    Utility,
)
from cakewright.line.layout import Layout, layout_of
from cakewright.line.lists import PowerTotals, data_sheets, power_totals, utilities
from cakewright.line.measuring import MeasuringTank, measuring_tank
from cakewright.line.narrative import CAUTIONS, Told, narrative
from cakewright.line.piece_items import items_of_piece
from cakewright.line.pressing import (
    FiltrateSystem,
    WashWater,
    auxiliaries,
    filtrate_system,
    presses_part,
    wash_water,
)
from cakewright.line.pumping import PumpDesign
from cakewright.line.returns import ReturnLoad, return_load
from cakewright.line.signals import interlocks, signals
from cakewright.line.valves import Valve, valves
from cakewright.line.ways import ChosenWay
from cakewright.quantities import Basis, CalculationLine, Figure, FloatArray, Given, Mark
from cakewright.quantities.constants import YEAR
from cakewright.sludge.cases import CaseKey, LoadCase, LoadCases

__all__ = [
    "LineDesign",
    "design",
    "streams_of",
]

_ORDER = list(Severity)


@dataclass(frozen=True, slots=True, eq=False)
class LineDesign:
    """The designed line: parts, lists, graph, words, figures over samples.

    ``feasible`` is False when a finding stops the line; ``binding`` is then the worst of them.
    ``findings`` come heaviest first. ``assumptions`` holds every design coefficient with its
    source and mark, replaced ones included. ``figures`` is keyed by our own short names; each
    figure carries its house name.
    """

    inputs: LineInputs
    feasible: bool
    binding: Finding | None
    findings: tuple[Finding, ...]
    streams: tuple[Stream, ...]
    cases: LoadCases
    balance: Balance
    demand: LineDemand
    feed_tank: FeedTank
    feed_pump: PumpDesign
    transfer_pump: PumpDesign | None
    chosen_way: ChosenWay
    measuring_tank: MeasuringTank | None
    products: tuple[ProductLine, ...]
    stirred_tanks: tuple[StirredTank, ...]
    wash_water: WashWater
    filtrate: FiltrateSystem
    conveyor: Conveyor
    skips: Skips
    ventilation: Ventilation
    sound: Sound
    return_load: ReturnLoad
    availability: LineAvailability
    power: PowerTotals
    items: tuple[Item, ...]
    motors: tuple[Motor, ...]
    signals: tuple[Signal, ...]
    pipes: tuple[PipeLine, ...]
    valves: tuple[Valve, ...]
    utilities: tuple[Utility, ...]
    sheets: tuple[Sheet, ...]
    graph: LineGraph
    footprints: tuple[Footprint, ...]
    layout: Layout
    narrative: tuple[NarrativeSection, ...]
    interlocks: tuple[Interlock, ...]
    cautions: tuple[str, ...]
    assumptions: tuple[Given, ...]
    lines: tuple[CalculationLine, ...]
    figures: Mapping[str, Figure]

    def item(self, tag: str) -> Item:
        """One item by tag."""
        return next(i for i in self.items if i.tag == tag)


def _spans(case: Case, told: Told, streams: Balance, pump: PumpDesign) -> dict[str, float]:
    """Full-scale figures the instruments must cover."""
    press = case.inputs.presses[0]
    outlet, products = case.inputs.outlet, told.products
    tss = point(streams.filtrate_solids) / point(streams.filtrate_volume)
    found = {
        "one": 1.0,
        "year": YEAR,
        "feed_tank_height": told.tank.height / 1.25,
        "feed_pressure": max(pump.pressure * 1.5, 2e5),
        "pumped_flow": pump.flow_high,
        "feed_flow": case.highest_flow,
        "feed_solids": 2 * case.total_solids,
        "solution1": products[0].pump.flow_high,
        "solution2": products[-1].pump.flow_high,
        "tank1": products[0].tank_volume or products[0].day_tank / products[0].product.density,
        "tank2": products[-1].tank_volume or products[-1].day_tank / products[-1].product.density,
        "screw_speed": press.speed_high or 5.0 / 60.0,
        "shaft_power": max(press.installed_power, press.drive_power),
        "wash_pressure": told.wash.pressure,
        "sump_depth": 1.2,
        "filtrate_solids": 3 * tss,
        "skip_gross": outlet.truck_payload + outlet.skip_tare,
        "feed_rated": told.numbers.get("feed_pressure", 0.0),
        "squeeze_rated": told.numbers.get("squeeze_pressure", 0.0),
    }
    if told.measure is not None:
        found["weir_head"] = told.measure.measure.head_high
    if told.stirred:
        found["mixer_speed"] = told.stirred[-1].speed
    return found


def _figure(name: str, samples: FloatArray, note: str = "") -> Figure:
    return Figure(name, np.atleast_1d(samples), Basis.ASSUMED, Mark.NONE, "OWN", note)


def _figures(
    case: Case,
    streams: Balance,
    products: Sequence[ProductLine],
    demand: LineDemand,
    returned: ReturnLoad,
    skip: Skips,
) -> Mapping[str, Figure]:
    """Results over samples, each with its case; the basis of the inputs is the study's to add."""
    dry, share = case.dry_solids, case.run_share
    scale = case.solids_run / case.solids_design
    active = np.sum(
        [
            np.broadcast_to(p.active * scale, streams.cake_mass.shape)
            for p in products
            if p.product.conditioner is None
        ],
        axis=0,
    )
    running, year = CaseKey.RUNNING.value, CaseKey.MEAN_YEAR.value
    found = {
        "run_hours": _figure("run_hours_per_day", case.cases.running.hours_per_day, running),
        "dry_solids_flow": _figure("dry_solids_flow", case.solids_run, running),
        "feed_flow": _figure("volume_flow", case.flow_run, running),
        "cake_mass_flow": _figure("mass_flow", streams.cake_mass, running),
        "filtrate_flow": _figure("volume_flow", streams.filtrate_volume, f"{running}, with wash"),
        "line_power": _figure("line_energy", demand.energy / dry, year),
        "line_water": _figure("line_water", demand.water / dry, year),
        "polymer_active": _figure("active_mass_flow", np.atleast_1d(active), running),
        "cake_per_day": _figure("mass_per_day", streams.cake_mass * share, year),
        "trips": _figure("trip_rate", skip.trips, year),
        "returned_solids": _figure("mass_per_day", returned.solids, year),
        "rise_factor": _figure("rise_factor", returned.rise, year),
        "conditioner_in_cake": _figure("dry_solids_flow", streams.conditioner_in_cake, running),
    }
    return MappingProxyType(found)


def _load_lines(case: Case) -> tuple[CalculationLine, ...]:
    def term(load: LoadCase) -> tuple[CalculationLine, CalculationLine]:
        days = point(load.run_share) / point(load.hours_per_day)
        hours = ("t_d", point(load.hours_per_day), "run_hours_per_day")
        week = ("n_d/7", days, "ratio")
        key = load.key.value.replace(" ", "_")
        return (
            line_of(
                f"load.{key}.solids",
                f"Dry solids in the case {load.key.value}",
                "m_s",
                "m_w / (t_d n_d/7)",
                (("m_w", point(load.weekly_solids), "dry_solids_flow"), hours, week),
                ("dry_solids_flow", point(load.dry_solids_flow)),
                "OWN",
                note=load.why,
            ),
            line_of(
                f"load.{key}.flow",
                f"Sludge flow in the case {load.key.value}",
                "Q",
                "q_w / (t_d n_d/7)",
                (("q_w", point(load.weekly_volume), "volume_flow"), hours, week),
                ("volume_flow", point(load.volume_flow)),
                "OWN",
            ),
        )

    return tuple(line for load in case.cases for line in term(load))


def _pressures(
    pump: PumpDesign, products: Sequence[ProductLine], wash: WashWater
) -> dict[str, float]:
    """Pressure of the streams that are pumped. [Pa]"""
    found = {"feed pumped": pump.pressure, "wash water": wash.pressure}
    for p in products:
        found[f"{p.product.name} stock solution"] = p.pump.pressure
        found[f"{p.product.name} solution"] = p.pump.pressure
    return found


def _sorted(found: Sequence[Finding]) -> tuple[Finding, ...]:
    return tuple(sorted(found, key=lambda f: (_ORDER.index(f.severity), -f.margin)))


# Coefficients that only an open stirred tank or a weir needs.
_OF_TANKS = ("flocculation_", "coagulant_time", "coagulant_gradient", "camp_", "tip_", "impeller_")
_OF_WEIRS = ("weir_head", "measuring_", "gate_", "thin_plate", "pump_surplus")


def _assumptions(case: Case, stirred: bool) -> tuple[Given, ...]:
    """Coefficients in force, without those of parts this line does not have."""
    unused = (*(() if stirred else _OF_TANKS), *(() if case.chosen.weir else _OF_WEIRS))
    return tuple(g for name, g in case.book.table.items() if not name.startswith(unused))


def streams_of(design: LineDesign, key: CaseKey) -> Balance:
    """Streams of a designed line in one of its cases.

    Raises
    ------
    KeyError
        If the line has no such case.
    """
    found = balance(case_of(design.inputs), design.products, key)
    pressures = _pressures(design.feed_pump, design.products, design.wash_water)
    return with_pressures(found, pressures)


def design(inputs: LineInputs) -> LineDesign:
    """Design every item between the sludge tank and the skip for the point case.

    Streams and figures hold all samples; equipment is sized on sample 0 of the design case with the
    stated margins, then held against the promise and the worst week.

    Raises
    ------
    OutOfRangeError
        If an input has no meaning (a negative flow, a cake wetter than its feed).
    UnknownNameError
        If a rule or product form does not exist.
    """
    case = case_of(inputs)
    tank, pump, transfer = feed_tank(case), feed_pump(case), transfer_pump(case)
    measure, products = measuring_tank(case), conditioning(case)
    streams, sizing = balance(case, products), balance(case, products, CaseKey.DESIGN)
    stirred = stirred_tanks(case, sizing)
    wash, filtrate = wash_water(case, streams), filtrate_system(case, sizing)
    convey, skip = conveyor(case, sizing), skips(case, streams)
    returned, uptime = return_load(case, streams), line_availability(case, tank)
    numbers = duty_numbers(case, sizing, products)
    before = parts_joined(
        [
            Part(lines=_load_lines(case)),
            *((transfer.part,) if transfer else ()),
            tank.part,
            pump.part,
            *((measure.part,) if measure else ()),
            *(p.part for p in products),
            *(s.part for s in stirred),
            presses_part(case),
            items_of_piece(case, numbers),
            wash.part,
            filtrate.part,
            convey.part,
            skip.part,
            returned.part,
            uptime.part,
        ]
    )
    prints = footprints(case, before.items)
    air = ventilation(case, tank, before.items, layout_of(prints))
    standing = (*prints, *footprints(case, air.part.items))
    noise = sound(case, (*before.items, *air.part.items), streams)
    whole = parts_joined([before, air.part, noise.part])
    drives, short = auxiliaries(case, whole.motors)
    whole = replace(parts_joined([whole, short]), motors=drives)
    power = power_totals(case, whole.motors)
    demand = line_demand(case, whole.items, whole.motors, streams)
    streams = with_pressures(streams, _pressures(pump, products, wash))
    told = Told(case, tank, measure, products, stirred, wash, filtrate, convey, skip, numbers)
    tags = [item.tag for item in whole.items]
    listed = signals(_spans(case, told, streams, pump), case.chosen, inputs.letters, tags)
    graph = line_graph(case, whole.items, products, whole.pipes, listed, streams)
    checks = case_findings(case, tank, products, convey, sizing)
    findings = _sorted((*whole.findings, *checks))
    stop = binding(findings)
    return LineDesign(
        inputs=inputs,
        feasible=stop is None,
        binding=stop,
        findings=findings,
        streams=streams.streams,
        cases=case.cases,
        balance=streams,
        demand=demand,
        feed_tank=tank,
        feed_pump=pump,
        transfer_pump=transfer,
        chosen_way=case.chosen,
        measuring_tank=measure,
        products=products,
        stirred_tanks=stirred,
        wash_water=wash,
        filtrate=filtrate,
        conveyor=convey,
        skips=skip,
        ventilation=air,
        sound=noise,
        return_load=returned,
        availability=uptime,
        power=power,
        items=whole.items,
        motors=whole.motors,
        signals=listed,
        pipes=whole.pipes,
        valves=valves(graph, whole.pipes, streams),
        utilities=utilities(case, power, products, wash, air, streams, numbers),
        sheets=data_sheets(whole.items, whole.motors, whole.pipes, inputs.title),
        graph=graph,
        footprints=standing,
        layout=layout_of(standing),
        narrative=narrative(told),
        interlocks=interlocks(listed, case.chosen),
        cautions=CAUTIONS,
        assumptions=_assumptions(case, bool(stirred)),
        lines=(*whole.lines, *demand_lines(case, demand)),
        figures=_figures(case, streams, products, demand, returned, skip),
    )
