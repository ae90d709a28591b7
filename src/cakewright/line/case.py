"""The case in hand while a line is designed: inputs, coefficients, loads; what a part yields."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.line.findings import Finding
from cakewright.line.inputs import LineInputs, point
from cakewright.line.items import Datum, Item, Motor, PipeLine
from cakewright.line.practice import RuleBook, mark_of, rule_book
from cakewright.line.ways import ChosenWay, chosen_way
from cakewright.physics.solids import density_slurry
from cakewright.physics.water import water_density_kell
from cakewright.quantities import CalculationLine, FloatArray, Mark, Status, Term
from cakewright.sludge.cases import LoadCases, load_cases

__all__ = ["Case", "Part", "case_of", "datum", "line_of", "motor_of", "parts_joined"]

# Standard ratings of small three-phase motors (from memory). [kW]
_RATINGS_KW = (
    *(0.09, 0.12, 0.18, 0.25, 0.37, 0.55, 0.75, 1.1, 1.5, 2.2, 3.0, 4.0, 5.5, 7.5),
    *(11.0, 15.0, 18.5, 22.0, 30.0, 37.0, 45.0, 55.0, 75.0, 90.0, 110.0, 132.0, 160.0),
)


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """Inputs with the loads that follow from them; arrays over samples, point case first.

    ``cases`` says what flows in each case. Equipment is sized for the design case (``design_*``);
    flows named ``_run`` hold while the presses run in a mean week, for ``run_share`` of the week.
    ``capacity_solids`` is what all duty shafts take, ``capacity_shaft`` each one alone.
    """

    inputs: LineInputs
    book: RuleBook
    cases: LoadCases
    density: FloatArray
    water_density: float
    dry_solids: FloatArray
    capacity_solids: FloatArray
    capacity_shafts: tuple[tuple[int, FloatArray], ...]
    chosen: ChosenWay

    @property
    def run_share(self) -> float:
        """Share of the week the presses run in a mean week, point case. [1]"""
        return point(self.cases.running.run_share)

    @property
    def flow_run(self) -> FloatArray:
        """Sludge flow to the presses while they run. [m3/s]"""
        return self.cases.running.volume_flow

    @property
    def solids_run(self) -> FloatArray:
        """Dry solids to the presses while they run. [kg/s]"""
        return self.cases.running.dry_solids_flow

    @property
    def solids_design(self) -> FloatArray:
        """Dry solids to the presses in the design case. [kg/s]"""
        return self.cases.design.dry_solids_flow

    @property
    def design_solids(self) -> float:
        """Dry solids to the presses in the design case, point case. [kg/s]"""
        return point(self.solids_design)

    @property
    def needed_solids(self) -> float:
        """Dry solids that take the design week in all the hours given, point case. [kg/s]"""
        hours = 24.0 * point(self.cases.design.hours_per_day) / self.inputs.run.hours_per_day
        return self.design_solids * hours

    @property
    def design_flow(self) -> float:
        """Sludge flow to the presses in the design case, point case. [m3/s]"""
        return point(self.cases.design.volume_flow)

    @property
    def design_week(self) -> float:
        """Sludge of the design week as a mean over it, point case. [m3/s]"""
        return point(self.cases.design.weekly_volume)

    @property
    def highest_flow(self) -> float:
        """Design flow with the pump margin. [m3/s]"""
        return self.design_flow * (1 + self.book["pump_margin"])

    @property
    def lowest_flow(self) -> float:
        """Smallest flow the line is expected to run at. [m3/s]"""
        return self.design_flow * self.book["feed_minimum_share"]

    @property
    def surplus_share(self) -> float:
        """Share pumped above the wanted flow: only a weir needs a surplus."""
        return self.book["pump_surplus_share"] if self.chosen.weir else 0.0

    @property
    def shaft_word(self) -> str:
        """What is taken out singly: a shaft, or a whole machine."""
        return self.chosen.piece.shaft

    @property
    def total_solids(self) -> float:
        """Total solids of the feed in the point case."""
        return point(self.inputs.feed.total_solids)


@dataclass(frozen=True, slots=True)
class Part:
    """What one part of the line adds to lists and findings."""

    items: tuple[Item, ...] = ()
    motors: tuple[Motor, ...] = ()
    pipes: tuple[PipeLine, ...] = ()
    findings: tuple[Finding, ...] = ()
    lines: tuple[CalculationLine, ...] = ()


def parts_joined(parts: Iterable[Part]) -> Part:
    """Several parts as one."""
    found = list(parts)
    return Part(
        items=tuple(i for p in found for i in p.items),
        motors=tuple(m for p in found for m in p.motors),
        pipes=tuple(x for p in found for x in p.pipes),
        findings=tuple(f for p in found for f in p.findings),
        lines=tuple(c for p in found for c in p.lines),
    )


def case_of(inputs: LineInputs) -> Case:
    """Loads of the line over samples.

    Raises
    ------
    OutOfRangeError
        If a flow, solids content or temperature has no meaning.
    """
    feed = inputs.feed
    book = rule_book(inputs.rules)
    water = float(water_density_kell(point(feed.temperature)))
    arrays = (feed.volume_flow, feed.total_solids, feed.solids_density)
    flow, solids, solid_density = np.broadcast_arrays(*np.atleast_1d(*arrays))
    if not np.all((flow > 0) & np.isfinite(flow)):
        raise OutOfRangeError(
            f"feed flow: got {float(np.min(flow)):g} m3/s; allowed: above 0 in every sample; "
            "a line without feed has no size: check the flow and its unit"
        )
    density = np.asarray(density_slurry(solids, solid_density, water))
    shafts = tuple(
        (
            press.units * press.shafts,
            np.minimum(press.solids_capacity, press.flow_capacity * density * solids),
        )
        for press in inputs.presses
    )
    dry = flow * density * solids
    run = inputs.run
    cases = inputs.cases or load_cases(dry, flow, run.hours_per_day / 24.0, float(run.days))
    design = point(cases.design.volume_flow)
    span = design * book["feed_minimum_share"], design * (1 + book["pump_margin"])
    return Case(
        inputs=inputs,
        book=book,
        cases=cases,
        density=density,
        water_density=water,
        dry_solids=dry,
        capacity_solids=np.sum([n * each for n, each in shafts], axis=0),
        capacity_shafts=shafts,
        chosen=chosen_way(inputs, book, *span),
    )


def datum(name: str, value: float, source: str = "OWN", note: str = "", label: str = "") -> Datum:
    """One figure of an item; its mark follows from its source."""
    return Datum(name, float(value), source, mark_of(source), note, label)


def line_of(
    key: str,
    title: str,
    symbol: str,
    formula: str,
    terms: Iterable[tuple[str, float, str]],
    result: tuple[str, float],
    source: str,
    **more: Any,
) -> CalculationLine:
    """One calculation line of the chapter on the line; ``result`` is house name and SI value."""
    marks: Iterable[str] = more.pop("marks", ())
    strongest = next((m for m in (mark_of(source), *marks) if m), Mark.NONE)
    return CalculationLine(
        key=f"line.{key}",
        chapter="line",
        title=title,
        symbol=symbol,
        formula=formula,
        terms=tuple(Term(s, float(v), n) for s, v, n in terms),
        result=float(result[1]),
        name=result[0],
        source=source,
        valid=more.pop("valid", ""),
        status=more.pop("status", Status.NO_RANGE),
        note=more.pop("note", ""),
        mark=str(strongest),
        model=more.pop("model", ""),
    )


def motor_of(
    book: RuleBook,
    tag: str,
    item: str,
    label: str,
    shaft_power: float,
    *,
    number: int = 1,
    running: int = 1,
    running_share: float = 1.0,
    idle_share: float = 0.0,
    start_factor: float = 1.0,
    control: str = "direct start",
    rated: float = 0.0,
) -> Motor:
    """A motor: the smallest standard rating that runs and starts the load."""
    starting = shaft_power * start_factor / book["start_torque_available"]
    wanted = max(shaft_power * (1 + book["motor_margin"]), starting, rated)
    rating = next((k * 1e3 for k in _RATINGS_KW if k * 1e3 >= wanted - 1e-9), wanted)
    return Motor(
        tag=tag,
        item=item,
        label=label,
        number=number,
        running=running,
        shaft_power=shaft_power,
        rated_power=rated or rating,
        running_share=running_share,
        idle_share=idle_share,
        control=control,
        absorbed_power=shaft_power / book["drive_efficiency"],
    )
