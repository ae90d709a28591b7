"""Measuring tank: the wanted flow over a weir or gate, the surplus back to the feed tank."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from cakewright.line.case import Case, Part, datum, line_of
from cakewright.line.feeding import feed_fluid
from cakewright.line.findings import Finding, Severity
from cakewright.line.inputs import Metering
from cakewright.line.items import Item, ItemKind
from cakewright.line.piping import Route, gravity_pipe
from cakewright.line.practice import RuleBook
from cakewright.line.weirs import Measure, weir_choice
from cakewright.physics.weirs import (
    GATE_COEFFICIENT,
    flow_gate,
    flow_v_notch_kindsvater_shen,
    v_notch_coefficient,
    v_notch_head_correction,
)
from cakewright.physics.weirs_rectangular import (
    RECTANGULAR_HEAD_CORRECTION,
    flow_rectangular_kindsvater_carter,
    head_rectangular_kindsvater_carter,
    rectangular_coefficient,
    rectangular_width_correction,
)
from cakewright.quantities import Status
from cakewright.quantities.constants import GRAVITY

__all__ = ["MeasuringTank", "measuring_tank"]


@dataclass(frozen=True, slots=True, eq=False)
class MeasuringTank:
    """Measuring tank: flows [m3/s], heads [m], volume [m3]."""

    measure: Measure
    pumped_high: float
    surplus_high: float
    surplus_low: float
    surplus_share: float
    overflow_width: float
    overflow_head: float
    volume: float
    side: float
    depth: float
    part: Part


def _gate(case: Case) -> Measure:
    """Openings of an adjustable gate under a steady head."""
    per_metre = float(flow_gate(case.book["gate_head"], case.book["gate_width"], 1.0))
    openings = case.lowest_flow / per_metre, case.highest_flow / per_metre
    least, most = case.book["gate_opening_low"], case.book["gate_head"] / 2
    inside = openings[0] >= least and openings[1] <= most
    status = Status.INSIDE if inside else Status.EXTRAPOLATED
    return Measure("adjustable gate", 0.0, case.book["gate_width"], *openings, status)


def _range_finding(case: Case, measure: Measure) -> tuple[Finding, ...]:
    if measure.status is Status.INSIDE:
        return ()
    low, high = case.book["weir_head_low"], case.book["weir_head_high"]
    gate = measure.kind == "adjustable gate"
    allowed = (
        f"opening {1000 * case.book['gate_opening_low']:.0f} to "
        f"{500 * case.book['gate_head']:.0f} mm"
        if gate
        else f"head {1000 * low:.0f} to {1000 * high:.0f} mm"
    )
    return (
        Finding(
            key="measuring_tank.weir_range",
            severity=Severity.CHANGE,
            item="T-102",
            got=f"{measure.kind}, {1000 * measure.head_low:.0f} to {1000 * measure.head_high:.0f}"
            f" mm for {3600 * case.lowest_flow:.2f} to {3600 * case.highest_flow:.2f} m3/h",
            allowed=allowed,
            why="outside it the flow read from the level is wrong, and the dose with it",
            change="run fewer hours at more flow, narrow the span, or measure with a flow meter "
            "and let the gate only share the flow",
            source=case.book.source("weir_head_low"),
            margin=max(low / max(measure.head_low, 1e-6), measure.head_high / high),
        ),
    )


def _solids_finding(case: Case) -> tuple[Finding, ...]:
    limit = case.book["thin_plate_solids"]
    if case.total_solids <= limit:
        return ()
    return (
        Finding(
            key="measuring_tank.thick",
            severity=Severity.CAUTION,
            item="T-102",
            got=f"{100 * case.total_solids:.2f} % total solids",
            allowed=f"about {100 * limit:.0f} % for a thin-plate weir as built",
            why="sludge is not water: the coefficient shifts, rags catch on the plate",
            change="calibrate with a bucket at three flows and keep a flow meter as reference",
            source=case.book.source("thin_plate_solids"),
            margin=case.total_solids / limit,
        ),
    )


def _surplus_finding(case: Case, share: float) -> tuple[Finding, ...]:
    if share > 1e-9:
        return ()
    return (
        Finding(
            key="measuring_tank.no_overflow",
            severity=Severity.INFEASIBLE,
            item="T-102",
            got=f"surplus {100 * share:.0f} % of demand",
            allowed="above 0, usually 10 to 30 %",
            why="without overflow the level follows the pump and the weir measures nothing",
            change="set the feed pump above the largest demand",
            source=case.book.source("pump_surplus_share"),
            margin=1.0 - share,
        ),
    )


def _device(case: Case) -> Measure:
    if case.inputs.metering is Metering.GATE:
        return _gate(case)
    heads = case.book["weir_head_low"], case.book["weir_head_high"]
    crest = case.book["measuring_crest_height"]
    return weir_choice(case.lowest_flow, case.highest_flow, *heads, crest)


_Terms = tuple[tuple[str, float, str], ...]


def _flow_at_top(measure: Measure, book: RuleBook) -> tuple[float, str, _Terms]:
    """Flow the device passes at its highest head, the formula and what is put into it."""
    top = measure.head_high
    if measure.kind == "V-notch":
        ce, kh = v_notch_coefficient(measure.angle), v_notch_head_correction(measure.angle)
        flow = flow_v_notch_kindsvater_shen(top, measure.angle, ce, kh)
        half = ("t_θ", float(np.tan(measure.angle / 2)), "ratio")
        head = (("h", top, "weir_head"), ("k_h", float(kh), "weir_head"))
        terms: _Terms = (("C_e", float(ce), "ratio"), half, *head)
        return float(flow), f"(8/15) √(2 · {GRAVITY}) C_e t_θ (h + k_h)^2.5", terms
    if measure.kind == "rectangular":
        crest = book["measuring_crest_height"]
        flow = flow_rectangular_kindsvater_carter(top, measure.width, crest, 0.0)
        effective = measure.width + float(rectangular_width_correction(0.0))
        ce = rectangular_coefficient(top, crest, 0.0)
        head = (("h", top, "weir_head"), ("k_h", RECTANGULAR_HEAD_CORRECTION, "weir_head"))
        terms = (("C_e", float(ce), "ratio"), ("b_e", effective, "pipe_length"), *head)
        return float(flow), f"(2/3) √(2 · {GRAVITY}) C_e b_e (h + k_h)^1.5", terms
    above = book["gate_head"]
    flow = float(flow_gate(above, measure.width, top))
    gate = (("b", measure.width, "pipe_length"), ("a", top, "weir_head"), ("h", above, "weir_head"))
    terms = (("C_d", GATE_COEFFICIENT, "ratio"), *gate)
    return flow, f"C_d b a √(2 · {GRAVITY} h)", terms


def _item(case: Case, tank: MeasuringTank) -> Item:
    measure = tank.measure
    head_label = "opening" if measure.kind == "adjustable gate" else "head"
    data = [
        datum("line_volume", tank.volume, case.book.source("measuring_residence")),
        datum("weir_head", measure.head_low, label=f"{head_label} at lowest flow"),
        datum("weir_head", measure.head_high, label=f"{head_label} at highest flow"),
        datum("weir_head", tank.overflow_head, label="head on the surplus weir, all flow"),
        datum("pipe_length", tank.overflow_width, label="width of the surplus weir"),
        datum("ratio", tank.surplus_share, case.book.source("pump_surplus_share"), label="surplus"),
        datum("volume_flow", tank.pumped_high, label="pumped, highest"),
    ]
    size = (
        f"{np.degrees(measure.angle):.0f} degrees"
        if measure.angle
        else (f"{1000 * measure.width:.0f} mm wide")
    )
    return Item(
        tag="T-102",
        kind=ItemKind.MEASURING_TANK,
        label="measuring tank",
        service="measures the feed to flocculation, returns the surplus",
        duty=1,
        standby=0,
        data=tuple(data),
        material="stainless steel or plastic",
        cautions=("Covered box: gas can collect; ventilate before opening.",),
        note=f"{measure.kind}, {size}; sloped floor and wash-out; tailwater at least 60 mm below "
        "the notch",
    )


def measuring_tank(case: Case) -> MeasuringTank | None:
    """Box, measuring device and the surplus weir that passes all of the flow; only for a weir."""
    if not case.chosen.weir:
        return None
    book = case.book
    share = book["pump_surplus_share"]
    measure = _device(case)
    pumped = case.highest_flow * (1 + share)
    volume = pumped * book["measuring_residence"]
    crest = book["measuring_crest_height"]
    depth = crest + max(measure.head_high, 0.15) + 0.25
    side = float(np.sqrt(volume / depth))
    width = max(side, 0.15)
    overflow = float(head_rectangular_kindsvater_carter(pumped, width, crest, 1.0))
    pipe, pipe_findings = gravity_pipe(
        Route(
            "L-102", "surplus return", "T-102", "T-101", pumped, 0.0, case.inputs.pipe("surplus")
        ),
        feed_fluid(case),
        book,
    )
    passed, formula, terms = _flow_at_top(measure, book)
    lines = (
        line_of(
            "measuring_tank.head",
            f"Flow over the {measure.kind} at its highest head",
            "Q",
            formula,
            terms,
            ("volume_flow", passed),
            "L24",
            marks=("from memory",),
            status=measure.status,
            valid="head 60 to 380 mm, thin sludge",
        ),
        line_of(
            "measuring_tank.surplus",
            "Surplus returned at the highest demand",
            "Q_s",
            "s Q",
            (("s", share, "pump_surplus_share"), ("Q", case.highest_flow, "volume_flow")),
            ("volume_flow", share * case.highest_flow),
            book.source("pump_surplus_share"),
        ),
    )
    tank = MeasuringTank(
        measure=measure,
        pumped_high=pumped,
        surplus_high=share * case.highest_flow,
        surplus_low=share * case.lowest_flow,
        surplus_share=share,
        overflow_width=width,
        overflow_head=overflow,
        volume=volume,
        side=side,
        depth=depth,
        part=Part(),
    )
    findings = (
        *_range_finding(case, measure),
        *_solids_finding(case),
        *_surplus_finding(case, share),
        *pipe_findings,
    )
    part = Part(items=(_item(case, tank),), pipes=(pipe,), findings=findings, lines=lines)
    return replace(tank, part=part)
