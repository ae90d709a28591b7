"""Symbols of apparatus, drawn by code in the general manner of process flow diagrams.

Each function draws round (0, 0) inside a width and height in millimetres. Lines enter on the
left or at the top and leave on the right or at the bottom, at the edge of that rectangle.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from cakewright.reports.drawings.shapes import (
    LIGHT,
    MIDDLE,
    Disc,
    Point,
    Shape,
    Stroke,
    arc,
)

__all__ = ["SYMBOLS", "symbol", "symbol_size"]

Symbol = Callable[[float, float], list[Shape]]


def _box(left: float, top: float, right: float, bottom: float, weight: float = MIDDLE) -> Stroke:
    corners = ((left, top), (right, top), (right, bottom), (left, bottom))
    return Stroke(corners, weight, closed=True, fill="paper")


def _level(half: float, y: float) -> list[Shape]:
    """A liquid surface with its mark."""
    mark = ((-1.6, y - 2.6), (1.6, y - 2.6), (0.0, y))
    return [Stroke(((-half, y), (half, y)), LIGHT), Stroke(mark, LIGHT, closed=True)]


def _block(w: float, h: float) -> list[Shape]:
    return [_box(-w / 2, -h / 2, w / 2, h / 2)]


def _boundary(w: float, h: float) -> list[Shape]:
    """Where a line leaves the sheet: its words stand inside."""
    r = h / 2
    right = arc((w / 2 - r, 0.0), r, -90, 90)
    left = arc((-w / 2 + r, 0.0), r, 90, 270)
    return [Stroke((*right, *left), LIGHT, closed=True, fill="paper")]


def _tank(w: float, h: float) -> list[Shape]:
    return [_box(-w / 2, -h / 2, w / 2, h / 2), *_level(w / 2, -h / 2 + 4.2)]


def _agitator(top: float, depth: float, blade: float) -> list[Shape]:
    motor = _box(-2.2, top - 1.6, 2.2, top + 1.6, LIGHT)
    shaft = Stroke(((0.0, top + 1.6), (0.0, depth)), LIGHT)
    blades = (
        (-blade, depth - 1.2),
        (blade, depth + 1.2),
        (blade, depth - 1.2),
        (-blade, depth + 1.2),
    )
    return [motor, shaft, Stroke(blades, LIGHT, closed=True)]


def _stirred_tank(w: float, h: float) -> list[Shape]:
    vessel = _box(-w / 2, -h / 2, w / 2, h / 2)
    surface = Stroke(((-w / 2, -h / 2 + 5.6), (w / 2, -h / 2 + 5.6)), LIGHT)
    return [vessel, surface, *_agitator(-h / 2 + 2.0, h / 2 - 3.6, 3.6)]


def _measuring_tank(w: float, h: float) -> list[Shape]:
    vessel = _box(-w / 2, -h / 2, w / 2, h / 2)
    plate = w * 0.18
    weir = Stroke(((plate, h / 2), (plate, -h / 2 + 5.0)), MIDDLE)
    crest = Stroke(
        ((plate, -h / 2 + 5.0), (plate + 2.4, -h / 2 + 6.2), (plate + 2.8, h / 2)), LIGHT
    )
    surface = Stroke(((-w / 2, -h / 2 + 4.4), (plate, -h / 2 + 4.4)), LIGHT)
    return [vessel, weir, crest, surface]


def _pump(w: float, h: float) -> list[Shape]:
    r = min(w, h) / 2
    half = r * math.sin(math.radians(60))
    wedge: tuple[Point, ...] = ((-r / 2, -half), (r, 0.0), (-r / 2, half))
    return [Disc((0, 0), r, MIDDLE, "paper"), Stroke(wedge, MIDDLE)]


def _displacement_pump(w: float, h: float) -> list[Shape]:
    r = min(w, h) / 2
    wave = tuple((r * 0.62 * (at / 8 - 1), -1.5 * math.sin(at * math.pi / 4)) for at in range(17))
    return [*_pump(w, h), Stroke(wave, LIGHT)] if r > 3 else _pump(w, h)


def _dosing_pump(w: float, h: float) -> list[Shape]:
    r = min(w, h) / 2
    reach = r * 1.05
    tip = (reach, -reach)
    adjust = Stroke(((-reach, reach), tip), LIGHT)
    head = Stroke(((reach - 2.0, -reach), tip, (reach, -reach + 2.0)), LIGHT)
    return [*_pump(w, h), adjust, head]


def _helix(left: float, right: float, half: float, turns: int) -> list[Shape]:
    """A screw seen from the side: shaft and flights closing up towards the outlet."""
    shaft = Stroke(((left, 0.0), (right, 0.0)), LIGHT)
    flights: list[Shape] = []
    for at in range(turns):
        share = 1.0 - (1.0 - at / turns) ** 1.35
        x = left + share * (right - left)
        flights.append(Stroke(((x, half), (x + 1.8, -half)), LIGHT))
    return [shaft, *flights]


def _multi_disc_press(w: float, h: float) -> list[Shape]:
    half = h * 0.24
    barrel = _box(-w / 2 + 3, -half, w / 2 - 3, half)
    rings: list[Shape] = [
        Stroke(((x, -half - 1.1), (x, half + 1.1)), LIGHT)
        for x in (-w / 2 + 4.4 + step * (w - 8.8) / 11 for step in range(12))
    ]
    inside = _helix(-w / 2 + 4, w / 2 - 6, half * 0.72, 7)
    plate = Stroke(((w / 2 - 1.4, -half * 1.15), (w / 2 - 1.4, half * 1.15)), MIDDLE)
    back = Stroke(((w / 2 - 1.4, 0.0), (w / 2, 0.0)), LIGHT)
    lead = Stroke(((-w / 2, 0.0), (-w / 2 + 3, 0.0)), MIDDLE)
    tray = ((-w / 2 + 4, half + 2.4), (0.0, h / 2), (w / 2 - 4, half + 2.4))
    return [barrel, *rings, *inside, plate, back, lead, Stroke(tray, MIDDLE)]


def _screw_press(w: float, h: float) -> list[Shape]:
    half = h * 0.26
    barrel = _box(-w / 2 + 3, -half, w / 2 - 3, half)
    screen = Stroke(((-w / 2 + 3, half * 0.86), (w / 2 - 3, half * 0.86)), LIGHT, dashed=True)
    inside = _helix(-w / 2 + 4, w / 2 - 6, half * 0.7, 7)
    plate = Stroke(((w / 2 - 1.4, -half * 1.1), (w / 2 - 1.4, half * 1.1)), MIDDLE)
    ends: list[Shape] = [
        Stroke(((w / 2 - 1.4, 0.0), (w / 2, 0.0)), LIGHT),
        Stroke(((-w / 2, 0.0), (-w / 2 + 3, 0.0)), MIDDLE),
    ]
    tray = ((-w / 2 + 4, half + 2.0), (0.0, h / 2), (w / 2 - 4, half + 2.0))
    return [barrel, screen, *inside, plate, *ends, Stroke(tray, MIDDLE)]


def _belt(left: float, right: float, y: float, r: float) -> list[Shape]:
    return [
        Disc((left + r, y), r, LIGHT, "paper"),
        Disc((right - r, y), r, LIGHT, "paper"),
        Stroke(((left + r, y - r), (right - r, y - r)), MIDDLE),
        Stroke(((left + r, y + r), (right - r, y + r)), MIDDLE),
    ]


def _belt_press(w: float, h: float) -> list[Shape]:
    frame = Stroke(_box(-w / 2, -h / 2, w / 2, h / 2).points, LIGHT, closed=True, fill="paper")
    upper = _belt(-w * 0.15, w / 2 - 2, -h * 0.16, 2.0)
    return [frame, *upper, *_belt(-w / 2 + 2, w / 2 - 2, h * 0.18, 2.0)]


def _decanter(w: float, h: float) -> list[Shape]:
    half = h * 0.3
    bowl = (
        (-w / 2, -half),
        (w * 0.2, -half),
        (w / 2, -half * 0.4),
        (w / 2, half * 0.4),
        (w * 0.2, half),
        (-w / 2, half),
    )
    return [
        Stroke(bowl, MIDDLE, closed=True, fill="paper"),
        *_helix(-w / 2 + 2, w / 2 - 3, half * 0.5, 6),
    ]


def _plate_press(w: float, h: float) -> list[Shape]:
    half = h * 0.36
    plates: list[Shape] = [
        Stroke(((x, -half), (x, half)), LIGHT)
        for x in (-w / 2 + 4 + step * (w - 8) / 9 for step in range(10))
    ]
    return [_box(-w / 2, -half, w / 2, half), *plates]


def _screw_conveyor(w: float, h: float) -> list[Shape]:
    half = h * 0.22
    trough = _box(-w / 2, -half, w / 2, half)
    wave = tuple(
        (-w / 2 + 2 + at * (w - 4) / 32, -half * 0.75 * math.sin(at * math.pi / 4))
        for at in range(33)
    )
    return [trough, Stroke(((-w / 2, 0.0), (w / 2, 0.0)), LIGHT), Stroke(wave, LIGHT)]


def _belt_conveyor(w: float, h: float) -> list[Shape]:
    return _belt(-w / 2, w / 2, 0.0, h * 0.16)


def _skip(w: float, h: float) -> list[Shape]:
    body = ((-w / 2, -h * 0.3), (-w * 0.34, h * 0.4), (w * 0.34, h * 0.4), (w / 2, -h * 0.3))
    heap = [(x, -h * 0.3 - 2.4 * math.cos(x / (w * 0.42) * math.pi / 2)) for x in _spread(w * 0.42)]
    return [
        Stroke(body, MIDDLE, fill="paper"),
        Stroke(tuple(heap), LIGHT),
        Stroke(((-w * 0.42, -h * 0.3), (w * 0.42, -h * 0.3)), LIGHT),
    ]


def _spread(half: float) -> list[float]:
    return [half * (at / 8 - 1) for at in range(17)]


def _dosing_set(w: float, h: float) -> list[Shape]:
    tank = _box(-w / 2, -h * 0.05, w / 2, h / 2)
    split = Stroke(((0.0, -h * 0.05), (0.0, h / 2)), LIGHT)
    hopper = (
        (-w * 0.38, -h / 2),
        (-w * 0.08, -h / 2),
        (-w * 0.2, -h * 0.05),
        (-w * 0.26, -h * 0.05),
    )
    stir: list[Shape] = []
    for x in (-w / 4, w / 4):
        stir.append(Stroke(((x, -h * 0.05), (x, h * 0.34)), LIGHT))
        stir.append(Stroke(((x - 2, h * 0.34), (x + 2, h * 0.34)), LIGHT))
    return [tank, split, Stroke(hopper, MIDDLE, closed=True, fill="paper"), *stir]


def _sump(w: float, h: float) -> list[Shape]:
    pit = ((-w / 2, -h / 2), (-w / 2, h / 2), (w / 2, h / 2), (w / 2, -h / 2))
    ground: list[Shape] = [
        Stroke(((side * w / 2, -h / 2), (side * (w / 2 + 3), -h / 2)), LIGHT) for side in (-1, 1)
    ]
    return [Stroke(pit, MIDDLE, fill="paper"), *ground, *_level(w / 2, -h / 2 + 5.2)]


def _channel(w: float, h: float) -> list[Shape]:
    y = h * 0.16
    trough = ((-w / 2, -y), (-w / 2, y), (w / 2, y + 1.6), (w / 2, -y + 1.6))
    return [
        Stroke(trough, MIDDLE, fill="paper"),
        Stroke(((-w / 2, 0.0), (w / 2, 1.6)), LIGHT, dashed=True),
    ]


def _mixer(w: float, h: float) -> list[Shape]:
    half = h * 0.18
    wave = [(-w / 2 + at * w / 4, half if at % 2 else -half) for at in range(5)]
    return [_box(-w / 2, -half, w / 2, half), Stroke(tuple(wave), LIGHT)]


def _meter(w: float, h: float) -> list[Shape]:
    return [Disc((0, 0), min(w, h) / 2, LIGHT, "paper")]


def _silo(w: float, h: float) -> list[Shape]:
    body = (
        (-w * 0.32, -h / 2),
        (w * 0.32, -h / 2),
        (w * 0.32, h * 0.2),
        (w * 0.08, h / 2),
        (-w * 0.08, h / 2),
        (-w * 0.32, h * 0.2),
    )
    return [Stroke(body, MIDDLE, closed=True, fill="paper")]


def _fan(w: float, h: float) -> list[Shape]:
    r = min(w, h) / 2
    casing = Disc((0, 0), r, MIDDLE, "paper")
    blades = arc((0, 0), r * 0.55, 150, 330, 10)
    return [casing, Stroke(tuple(blades), LIGHT), Stroke(((-r, 0), (r, -r * 0.0)), LIGHT)]


def _closed_vessel(w: float, h: float) -> list[Shape]:
    r = w / 2
    top = arc((0.0, -h / 2 + r * 0.4), r, 180, 360)
    low = arc((0.0, h / 2 - r * 0.4), r, 0, 180)
    shape = tuple((x, -h / 2 + r * 0.4 + (y + h / 2 - r * 0.4) * 0.4) for x, y in top)
    under = tuple((x, h / 2 - r * 0.4 + (y - h / 2 + r * 0.4) * 0.4) for x, y in low)
    return [
        Stroke((*shape, *under), MIDDLE, closed=True, fill="paper"),
        *_agitator(-h / 2 + 0.8, h / 2 - 4.6, 3.2),
    ]


def _macerator(w: float, h: float) -> list[Shape]:
    teeth = [(-w / 2 + 2 + at * (w - 4) / 6, 1.6 if at % 2 else -1.6) for at in range(7)]
    return [_box(-w / 2, -h / 2, w / 2, h / 2), Stroke(tuple(teeth), LIGHT)]


def _power_pack(w: float, h: float) -> list[Shape]:
    return [_box(-w / 2, -h / 2, w / 2, h / 2), Disc((0.0, 0.0), h * 0.28, LIGHT, "paper")]


def _gate(w: float, h: float) -> list[Shape]:
    flap = Stroke(((-w * 0.3, -h * 0.3), (w * 0.3, h * 0.3)), MIDDLE)
    return [_box(-w / 2, -h / 2, w / 2, h / 2, LIGHT), flap]


def _hood(w: float, h: float) -> list[Shape]:
    shape = ((-w / 2, h / 2), (-w * 0.12, -h / 2), (w * 0.12, -h / 2), (w / 2, h / 2))
    return [Stroke(shape, MIDDLE, closed=True, fill="paper")]


def _bow(x: float, y: float, r: float, *, upright: bool = False, shut: bool = False) -> Stroke:
    """Two triangles tip to tip; filled where the valve is closed while the line runs."""
    half = r * 0.6
    ends = ((-r, -half), (r, half), (r, -half), (-r, half))
    points = tuple((x + b, y + a) if upright else (x + a, y + b) for a, b in ends)
    return Stroke(points, LIGHT, closed=True, fill="ink" if shut else "paper", layer="valves")


def _isolating(w: float, _: float) -> list[Shape]:
    return [_bow(0.0, 0.0, w / 2)]


def _non_return(w: float, h: float) -> list[Shape]:
    r, half = w / 2, h * 0.3
    flap = ((-r, half), (-r, -half), (r, half), (r, -half))
    return [Stroke(flap, LIGHT, fill="paper", layer="valves"), Disc((-r, -half), 0.7, LIGHT, "ink")]


def _branch(w: float, h: float, way: int) -> list[Shape]:
    """A line that passes, with a closed valve on a stub up (-1) or down (1)."""
    through = Stroke(((-w / 2, 0.0), (w / 2, 0.0)), MIDDLE, layer="valves")
    stub = Stroke(((0.0, 0.0), (0.0, way * h * 0.1)), LIGHT, layer="valves")
    return [through, stub, _bow(0.0, way * h * 0.28, h * 0.18, upright=True, shut=True)]


def _drain(w: float, h: float) -> list[Shape]:
    return _branch(w, h, 1)


def _sample(w: float, h: float) -> list[Shape]:
    spout = Stroke(((0.0, h * 0.46), (1.2, h * 0.5)), LIGHT, layer="valves")
    return [*_branch(w, h, 1), spout]


def _flushing(w: float, h: float) -> list[Shape]:
    mark = Stroke(((-1.2, -h * 0.5), (0.0, -h * 0.46), (1.2, -h * 0.5)), LIGHT, layer="valves")
    return [*_branch(w, h, -1), mark]


def _relief(w: float, h: float) -> list[Shape]:
    through = Stroke(((-w / 2, 0.0), (w / 2, 0.0)), MIDDLE, layer="valves")
    stub = Stroke(((0.0, 0.0), (0.0, -h * 0.1)), LIGHT, layer="valves")
    low, high = -h * 0.3, -h * 0.5
    spring = tuple(
        ((0.9 if at % 2 else -0.9) if 0 < at < 5 else 0.0, low + (high - low) * at / 5)
        for at in range(6)
    )
    body = Stroke(
        ((-1.5, -h * 0.1), (1.5, -h * 0.1), (0.0, low)), LIGHT, closed=True, fill="paper",
        layer="valves",
    )  # fmt: skip
    return [through, stub, body, Stroke(spring, LIGHT, layer="valves")]


SYMBOLS: dict[str, tuple[Symbol, float, float]] = {
    "block": (_block, 22, 14),
    "boundary": (_boundary, 28, 10),
    "tank": (_tank, 20, 18),
    "stirred_tank": (_stirred_tank, 20, 20),
    "flocculation_tank": (_stirred_tank, 18, 20),
    "measuring_tank": (_measuring_tank, 18, 16),
    "pump": (_pump, 10, 10),
    "displacement_pump": (_displacement_pump, 10, 10),
    "dosing_pump": (_dosing_pump, 9, 9),
    "multi_disc_press": (_multi_disc_press, 38, 22),
    "screen_drum_press": (_screw_press, 38, 22),
    "belt_press": (_belt_press, 34, 18),
    "decanter": (_decanter, 34, 18),
    "plate_press": (_plate_press, 32, 16),
    "conveyor": (_screw_conveyor, 28, 12),
    "belt_conveyor": (_belt_conveyor, 28, 12),
    "skip": (_skip, 24, 14),
    "dosing_set": (_dosing_set, 22, 20),
    "sump": (_sump, 18, 16),
    "channel": (_channel, 24, 12),
    "mixer": (_mixer, 14, 10),
    "meter": (_meter, 9, 9),
    "instrument": (_meter, 10.5, 10.5),
    "silo": (_silo, 18, 22),
    "fan": (_fan, 10, 10),
    "closed_vessel": (_closed_vessel, 14, 20),
    "macerator": (_macerator, 14, 9),
    "power_pack": (_power_pack, 14, 10),
    "gate": (_gate, 10, 10),
    "hood": (_hood, 16, 9),
    "isolating valve": (_isolating, 6, 4),
    "non-return valve": (_non_return, 5, 5),
    "relief valve": (_relief, 6, 12),
    "drain valve": (_drain, 6, 12),
    "sampling valve": (_sample, 6, 12),
    "flushing valve": (_flushing, 6, 12),
}


def symbol(kind: str) -> list[Shape]:
    """Shapes of a kind of apparatus; an unknown kind is a plain block."""
    draw, width, height = SYMBOLS.get(kind, SYMBOLS["block"])
    return draw(width, height)


def symbol_size(kind: str) -> tuple[float, float]:
    """Width and height of that symbol."""
    _, width, height = SYMBOLS.get(kind, SYMBOLS["block"])
    return width, height
