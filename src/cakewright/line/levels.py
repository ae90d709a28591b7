"""Levels of a line: what gravity and falling cake ask of the height of each item."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from cakewright.line.design import LineDesign
from cakewright.line.inputs import LineInputs
from cakewright.line.items import Footprint, ItemKind
from cakewright.line.practice import RuleBook, rule_book

__all__ = ["Level", "bases", "levels", "plinth_height"]

FEET = "machine's feet"
_STEP = 0.05
"""Plinths are told in steps of this height. [m]"""


@dataclass(frozen=True, slots=True)
class Level:
    """One level above the floor of the press room [m], in the order of the flow.

    ``surface`` tells a free surface from an edge or a base; ``way`` is liquid or cake.
    """

    item: str
    what: str
    height: float
    surface: bool
    way: str
    why: str


def _book(inputs: LineInputs) -> RuleBook:
    return rule_book(inputs.rules)


def _print(design: LineDesign, tag: str) -> Footprint | None:
    return next((p for p in design.footprints if p.tag.startswith(tag)), None)


def _fall(design: LineDesign) -> float:
    """Fall of the gravity pipe from the machine to the sump. [m]"""
    book, pipe = _book(design.inputs), next((p for p in design.pipes if p.tag == "L-402"), None)
    length = pipe.length if pipe else 0.0
    return length * book["gravity_slope_thin"]


def plinth_height(design: LineDesign) -> float:
    """Height of the machine's feet above the floor. [m]

    The least at which its liquor falls to a sump at floor level, its cake through the conveyor over
    the rim of the skip, and the conveyor starts above the floor.
    """
    book, machine, skip = _book(design.inputs), _machine(design), _print(design, "S-501")
    drained = _fall(design) + book["free_fall"] - book["machine_liquor_share"] * machine.height
    rim = skip.height if skip else 0.0
    share, deep = _outlet(design)
    below = deep + 2 * book["cake_clearance"] - design.conveyor.rise
    cake = rim + below - share * machine.height
    trough = deep + book["cake_clearance"] + book["free_fall"] - share * machine.height
    return math.ceil(max(drained, cake, trough, 0.0) / _STEP - 1e-9) * _STEP


def _outlet(design: LineDesign) -> tuple[float, float]:
    """Share of the machine's height its cake leaves at, and the depth of a bunker under it. [m]"""
    for item in design.items:
        if item.kind is ItemKind.BUNKER:
            return 0.0, float(item.value("line_volume") ** (1 / 3))
    return _book(design.inputs)["machine_cake_share"], 0.0


def _machine(design: LineDesign) -> Footprint:
    return next(p for p in design.footprints if p.tag.startswith("D-301"))


def levels(design: LineDesign) -> tuple[Level, ...]:
    """Every level that gravity or falling cake sets, from the feed tank to the skip.

    Heights of a machine's inlet and outlets are shares of its height (judgement) until its drawing
    tells them.
    """
    base = plinth_height(design)
    return (*_fed(design, base), *_drained(design, base), *_cake(design, base))


def bases(found: tuple[Level, ...]) -> dict[str, float]:
    """Feet of the items that do not stand on the floor, by tag. [m]"""
    feet = ("base", FEET)
    return {level.item: level.height for level in found if level.what in feet}


def _fed(design: LineDesign, base: float) -> Iterator[Level]:
    book, machine = _book(design.inputs), _machine(design)
    tank = design.feed_tank
    low = book["tank_dead_share"] * tank.height
    top = tank.height * (1.0 - book["tank_freeboard_share"])
    yield Level("T-101", "lowest level", low, True, "liquid", "volume below the pump's stop")
    yield Level("T-101", "highest level", top, True, "liquid", "freeboard above it")
    inlet = base + book["machine_inlet_share"] * machine.height
    measure, stirred = design.measuring_tank, [t for t in design.stirred_tanks if t.tag == "T-301"]
    if measure is not None and stirred:
        open_level = inlet + book["gravity_inlet_head"]
        crest = open_level + book["free_fall"]
        high = crest + measure.measure.head_high
        yield Level("T-102", "highest level", high, True, "liquid", "head over the crest")
        yield Level("T-102", "crest", crest, False, "liquid", "free fall to the next level")
        yield Level("T-102", "base", high - measure.depth, False, "liquid", "on a stand")
        yield Level("T-301", "level", open_level, True, "liquid", "head over the machine's inlet")
        yield Level("T-301", "base", open_level - stirred[0].depth, False, "liquid", "on a stand")
    yield Level("D-301", "inlet", inlet, False, "liquid", "share of the machine's height")


def _drained(design: LineDesign, base: float) -> Iterator[Level]:
    book, machine, sump = _book(design.inputs), _machine(design), _print(design, "T-402")
    outlet = base + book["machine_liquor_share"] * machine.height
    yield Level("D-301", "liquor outlet", outlet, False, "liquid", "share of the machine's height")
    arrives = outlet - _fall(design)
    yield Level("T-402", "pipe arrives", arrives, False, "liquid", "slope of the gravity pipe")
    yield Level("T-402", "highest level", arrives - book["free_fall"], True, "liquid", "free fall")
    if sump is not None:
        floor = arrives - book["free_fall"] - sump.height
        yield Level("T-402", "base", floor, False, "liquid", "depth of the sump")


def _cake(design: LineDesign, base: float) -> Iterator[Level]:
    book, machine, skip = _book(design.inputs), _machine(design), _print(design, "S-501")
    share, deep = _outlet(design)
    outlet = base + share * machine.height
    start = outlet - deep - book["cake_clearance"]
    yield Level("D-301", FEET, base, False, "cake", "liquor and cake fall free")
    yield Level("D-301", "cake outlet", outlet, False, "cake", "share of the machine's height")
    if deep:
        yield Level("B-501", "outlet", outlet - deep, False, "cake", "a cube of its volume")
    yield Level("H-501", "inlet", start, False, "cake", "clearance under the outlet")
    yield Level("H-501", "outlet", start + design.conveyor.rise, False, "cake", "its rise")
    if skip is not None:
        yield Level("S-501", "rim", skip.height, False, "cake", "height of the skip")
