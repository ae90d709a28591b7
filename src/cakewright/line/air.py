"""Plan sizes, ventilation and odour air, sound."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.line.balance import Balance
from cakewright.line.case import Case, Part, datum, line_of, motor_of
from cakewright.line.feeding import FeedTank
from cakewright.line.findings import Finding, Severity
from cakewright.line.items import Footprint, Item, ItemKind
from cakewright.line.layout import Layout
from cakewright.physics.pumps import pump_shaft_power

__all__ = ["Sound", "Ventilation", "footprints", "sound", "sound_sum", "ventilation"]

# Plan sizes of packaged items without one of their own: length, width, height (judgement). [m]
_PACKAGED = {
    ItemKind.PUMP_DISPLACEMENT: (1.8, 0.5, 0.6),
    ItemKind.PUMP_CENTRIFUGAL: (0.6, 0.4, 0.5),
    ItemKind.FAN: (1.5, 1.0, 1.5),
    ItemKind.SUMP: (1.5, 1.5, 1.5),
    ItemKind.PUMP_PLUNGER: (1.8, 0.8, 1.2),
}
# What hangs on a pipe or on the machine takes no floor of its own; a bunker stands below the press.
_NO_FLOOR = {
    ItemKind.BUNKER,
    ItemKind.MIXER,
}


def _plan(item: Item, case: Case) -> tuple[float, float, float] | None:
    """Length, width and height of an item, from its own figures."""
    if item.kind in _NO_FLOOR:
        return None
    if item.kind in _PACKAGED:
        return _PACKAGED[item.kind]
    named = {d.label: d.value for d in item.data}
    if item.kind not in (ItemKind.PRESS, ItemKind.CONVEYOR) and {"length", "width"} <= named.keys():
        return named["length"], named["width"], named["height"]
    if item.kind is ItemKind.PRESS:
        return named["length"], named["width"], named["height"]
    if item.kind is ItemKind.SKIP:
        volume = item.value("skip_volume")
        return 2.4 * (volume / 5.8) ** (1 / 3) * 1.5, 2.0, 1.5
    if item.kind is ItemKind.CONVEYOR:
        run = float(np.sqrt(max(named["length"] ** 2 - named["rise"] ** 2, 0.0)))
        return run, 0.5, named["rise"] + 0.6
    if "diameter" in named:
        return named["diameter"], named["diameter"], named.get("height", named["diameter"])
    volume = next((d.value for d in item.data if d.name == "line_volume"), 0.0)
    if item.kind is ItemKind.MAKE_DOWN:
        side = max((2 * volume) ** (1 / 3), 0.8)
        return 2 * side, side, side + 0.5
    if volume > 0:
        side = max(volume ** (1 / 3), 0.5)
        return side, side, side
    return None


def _letters(number: int) -> str:
    """A to Z, then AA, AB and so on."""
    more, last = divmod(number, 26)
    return (_letters(more - 1) if more else "") + chr(ord("A") + last)


def footprints(case: Case, items: Iterable[Item]) -> tuple[Footprint, ...]:
    """Plan size and free space of every standing item, one per unit, standby included.

    A press keeps its own length free in front, for what is drawn out of it.
    """
    access = case.book["access_space"]
    masses = {f"D-30{n}": p.mass_full for n, p in enumerate(case.inputs.presses, start=1)}
    found = []
    for item in items:
        plan = _plan(item, case)
        if plan is None:
            continue
        units = item.duty + (0 if item.kind is ItemKind.SKIP else item.standby)
        front = plan[0] if item.kind is ItemKind.PRESS else access
        for k in range(units):
            suffix = _letters(k) if units > 1 else ""
            found.append(
                Footprint(
                    tag=f"{item.tag}{suffix}",
                    label=item.label,
                    length=plan[0],
                    width=plan[1],
                    height=plan[2],
                    access_front=front,
                    access_back=0.5 * access,
                    access_left=access,
                    access_right=access,
                    mass_full=masses.get(item.tag, 0.0),
                    outdoors=item.kind in (ItemKind.TANK, ItemKind.SKIP, ItemKind.FAN),
                    note=case.chosen.piece.access if item.kind is ItemKind.PRESS else "",
                )
            )
    return tuple(found)


@dataclass(frozen=True, slots=True, eq=False)
class Ventilation:
    """Air: press room and covers [m3/s], room volume [m3]."""

    room_volume: float
    room_air: float
    odour_air: float
    fan_power: float
    part: Part


def ventilation(case: Case, tank: FeedTank, items: Sequence[Item], layout: Layout) -> Ventilation:
    """Air of the room as laid out by its changes; odour air by changes under covers plus what
    filling drives out.
    """
    book = case.book
    volume = layout.area * book["room_height"]
    room = volume * book["room_air_changes"]
    covered = sum(
        d.value
        for i in items
        for d in i.data
        if d.name in ("line_volume", "skip_volume") and i.kind is not ItemKind.MAKE_DOWN
    )
    covered += tank.volume if case.inputs.feed_tank_covered else 0.0
    odour = covered * book["cover_air_changes"] + case.highest_flow
    power = float(pump_shaft_power(room + odour, book["fan_pressure"], book["fan_efficiency"]))
    item = Item(
        tag="V-601",
        kind=ItemKind.FAN,
        label="extraction fan",
        service="press room and covers",
        duty=1,
        standby=0,
        data=(
            datum("air_flow", room + odour, label="in all"),
            datum("air_flow", room, book.source("room_air_changes"), label="press room"),
            datum("air_flow", odour, book.source("cover_air_changes"), label="under covers"),
            datum("fan_pressure", book["fan_pressure"], book.source("fan_pressure")),
            datum("power", power, book.source("fan_efficiency"), label="shaft power"),
        ),
        cautions=(
            "Loss of extraction: leave the room until the gas monitor is clear.",
            "Area class and fan type by a competent person.",
        ),
        note="to an odour filter",
    )
    motor = motor_of(
        book,
        "M-V-601",
        "V-601",
        "extraction fan",
        power,
        control="inverter",
        idle_share=odour / (room + odour),
    )
    line = line_of(
        "air.room",
        "Air drawn from the press room",
        "Q_a",
        "n_a V",
        (("n_a", book["room_air_changes"], "room_air_changes"), ("V", volume, "line_volume")),
        ("air_flow", room),
        book.source("room_air_changes"),
        marks=(book.mark("room_height"),),
        note="room as on the plot plan",
    )
    return Ventilation(
        volume, room, odour, power, Part(items=(item,), motors=(motor,), lines=(line,))
    )


def sound_sum(levels: Iterable[float]) -> float:
    """Level of several sources at one place: 10 log10 of the sum of 10^(L/10). [dB(A)]"""
    total = sum(10 ** (level / 10) for level in levels)
    return 10 * float(np.log10(total)) if total > 0 else 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Sound:
    """Sound levels at 1 m and their sum as if all stood together: an upper bound. [dB(A)]"""

    levels: tuple[tuple[str, int, float], ...]
    total: float
    part: Part


def sound(case: Case, items: Sequence[Item], streams: Balance) -> Sound:
    """Sum of the running sources against the action values."""
    book = case.book
    rules = {
        ItemKind.PUMP_DISPLACEMENT: "sound_pump",
        ItemKind.PUMP_CENTRIFUGAL: "sound_pump",
        ItemKind.PUMP_PLUNGER: "sound_pump",
        ItemKind.COMPRESSOR: "sound_pump",
        ItemKind.POWER_PACK: "sound_pump",
        ItemKind.MACERATOR: "sound_pump",
        ItemKind.MIXER: "sound_mixer",
        ItemKind.FAN: "sound_fan",
        ItemKind.CONVEYOR: "sound_conveyor",
    }
    levels = [
        (i.tag, i.duty, i.value("sound_level") if i.kind is ItemKind.PRESS else book[rules[i.kind]])
        for i in items
        if i.kind is ItemKind.PRESS or i.kind in rules
    ]
    total = sound_sum(level for _, n, level in levels for _ in range(n))
    low, high = book["sound_action_low"], book["sound_action_high"]
    findings: tuple[Finding, ...] = ()
    if total > low:
        findings = (
            Finding(
                key="sound.action_value",
                severity=Severity.CAUTION,
                item="press room",
                got=f"up to {total:.0f} dB(A) with everything side by side",
                allowed=f"{low:.0f} lower, {high:.0f} dB(A) upper action value (EU, 8 h)",
                why="hearing; the sum is an upper bound, sources are not all in one place",
                change="measure; enclose the loudest source, mark the zone, give ear protection; "
                "use the limits in force on site",
                source=book.source("sound_action_low"),
                margin=total / low,
            ),
        )
    line = line_of(
        "sound.total",
        "Sound of all running sources together",
        "L",
        f"10 log10({' + '.join(f'{n} 10^(L_{i + 1}/10)' for i, (_, n, _) in enumerate(levels))})",
        tuple((f"L_{i + 1}", level, "sound_level") for i, (_, _, level) in enumerate(levels)),
        ("sound_level", total),
        "OWN",
        marks=("judgement",),
        note="; ".join(f"L_{i + 1} {tag}" for i, (tag, _, _) in enumerate(levels)),
    )
    return Sound(tuple(levels), total, Part(findings=findings, lines=(line,)))
