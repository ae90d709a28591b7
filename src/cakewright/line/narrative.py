"""How the line is run, in words made from the design; this controls nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cakewright.line.cake import Conveyor, Skips
from cakewright.line.case import Case
from cakewright.line.conditioning import ProductLine
from cakewright.line.duty_numbers import programme_times
from cakewright.line.feeding import FeedTank
from cakewright.line.flocculating import StirredTank
from cakewright.line.inputs import Press, point
from cakewright.line.items import NarrativeSection
from cakewright.line.measuring import MeasuringTank
from cakewright.line.practice import mark_of
from cakewright.line.pressing import FiltrateSystem, WashWater
from cakewright.machines.piece import PieceStep, applies
from cakewright.quantities.constants import HOUR

__all__ = ["CAUTIONS", "Told", "narrative"]

CAUTIONS = (
    "This description is an aid for writing the control specification. It controls nothing. "
    "Applicable law, permit conditions, adopted codes and the instructions of the equipment "
    "supplier take precedence wherever they differ.",
    "Set points, times and limits are starting values, most of them from memory, made without "
    "seeing the site: they are never safe limits. The supplier's values replace them.",
    "Guarding, isolation, pressure relief, area classification and entry procedures must be set by "
    "a competent person for the actual installation.",
    "Safety functions (emergency stop, guards, gas alarm) are hard-wired and independent of the "
    "sequence; their level follows the risk assessment of the machine.",
    "Exposure limits change: use the limit in force where the plant stands.",
    "Interlocks never replace isolating and locking off before anybody reaches in.",
)

# Modes in the order in which they are told.
_MODES = (
    *("start", "cycle", "run", "clean", "stop", "emergency stop", "power failure", "restart"),
    "one shaft out",
)


@dataclass(frozen=True, slots=True)
class Told:
    """Parts of the design the narrative speaks of."""

    case: Case
    tank: FeedTank
    measure: MeasuringTank | None
    products: tuple[ProductLine, ...]
    stirred: tuple[StirredTank, ...]
    wash: WashWater
    filtrate: FiltrateSystem
    conveyor: Conveyor
    skips: Skips
    numbers: Mapping[str, float]


def _flow(value: float) -> str:
    return f"{3600 * value:.2f} m3/h"


def _bar(value: float) -> str:
    return f"{value / 1e5:.1f} bar"


def _before(told: Told) -> tuple[str, ...]:
    steps = [
        "Nobody works on the line: permits closed, isolators on, covers shut, emergency stops out.",
        "Extraction V-601 runs; the gas monitor shows clear.",
        "Feed tank T-101 holds more than the low level; below it the mixer stays off.",
        "Skip S-501 stands in place and is not full; conveyor trough clear.",
    ]
    for p in told.products:
        ready = f"aged {p.ageing / 60:.0f} min" if p.ageing else "ready"
        steps.append(
            f"Solution of {p.product.name} is {ready} at {100 * p.stock:.2f} % active and younger "
            f"than {p.life / HOUR:.0f} h."
        )
    if told.wash.pump is not None:
        label = told.case.chosen.piece.cleaning.label
        steps.append(f"Water for the {label} stands at {_bar(told.wash.pressure)} or more.")
    steps.append("Start warning sounds 10 s before anything turns; the same after a power failure.")
    return tuple(steps)


def _way(told: Told) -> tuple[str, ...]:
    chosen = told.case.chosen
    label = chosen.way.label
    return (f"{label[:1].upper()}{label[1:]}.", *(f"{r[:1].upper()}{r[1:]}." for r in _why(told)))


def _why(told: Told) -> tuple[str, ...]:
    return told.case.chosen.reasons


def _washed(press: Press) -> str:
    """Wash water of one machine in words."""
    flow = f"{6e4 * press.wash_flow * press.shafts:.0f} L/min"
    stop = f"{1000 * press.wash_per_stop * press.shafts:.0f} L at each stop"
    if press.wash_flow <= 0:
        return stop if press.wash_per_stop > 0 else "no water"
    if press.burst is None:
        return f"{flow} all the time" + (f" and {stop}" if press.wash_per_stop > 0 else "")
    return (
        f"{press.burst:.0f} s every {press.interval / 60:.0f} min with {flow}, one machine after "
        f"the other, and {stop}"
    )


def _programme(told: Told) -> tuple[str, str]:
    """The pressure programme of a cycle, filling and the steps after it."""
    case, steps = told.case, told.case.chosen.piece.programme
    press, first = case.inputs.presses[0], told.numbers.get("first_flow", 0.0)
    if not steps or not first:
        return "", ""
    times = programme_times(steps, press.cycle_time, press.kind)
    words = [
        f"{s.label} {t / 60:.0f} min to {_bar(s.pressure)} at {_flow(first * s.flow_start)}"
        + (f" falling to {_flow(first * s.flow_end)}" if s.flow_end < s.flow_start else "")
        for s, t in zip(steps, times, strict=True)
    ]
    last = told.numbers["feed_pressure"]
    fill = f"{_flow(told.numbers['fill_flow'])} at up to 1.4 bar"
    return fill, f"{'; '.join(words)}; the pumps are sized for {_bar(last)}"


def _fields(told: Told) -> dict[str, str]:
    case = told.case
    fill, programme = _programme(told)
    return {
        "feed": _flow(case.design_flow),
        "feed_low": _flow(case.lowest_flow),
        "feed_half": _flow(0.5 * case.design_flow),
        "wash": _washed(case.inputs.presses[0]),
        "fill": fill,
        "programme": programme,
        "squeeze": _bar(told.numbers.get("squeeze_pressure", 0.0)),
    }


def _step(step: PieceStep, fields: Mapping[str, str]) -> str:
    text = step.text.format(**fields)
    if step.minutes is not None:
        low, usual, high = step.minutes
        text += f" Usually {usual:g} min ({low:g} to {high:g})."
    if step.until:
        text += f" Go on when: {step.until}."
    mark = next((m for s in reversed(step.source.split()) if (m := mark_of(s))), "")
    return f"{text} ({mark})" if mark else text


def _starting(told: Told, own: tuple[str, ...]) -> tuple[str, ...]:
    """The conveyor first, then the machine, with the dosing that follows the feed told last."""
    speed = f"{60 * told.conveyor.speed:.0f} 1/min"
    follows = [
        f"Dosing P-20{k} ({p.product.name}) follows the measured flow in ratio: "
        f"{1000 * float(p.dose[0]):.1f} kg active per tonne of dry solids."
        for k, p in enumerate(told.products, start=1)
    ]
    return (f"Conveyor H-501 starts and proves motion ({speed}).", *own, *follows)


def _running(told: Told) -> tuple[str, ...]:
    case, steps = told.case, []
    if told.measure is not None:
        m = told.measure
        steps += [
            f"Feed is set to {_flow(case.design_flow)}; the pump delivers "
            f"{100 * m.surplus_share:.0f} % more, which returns to T-101 by gravity.",
            f"The flow over the {m.measure.kind} (head {1000 * m.measure.head_low:.0f} to "
            f"{1000 * m.measure.head_high:.0f} mm) leads every dosing pump; the flow meter is the "
            "reference and both are compared, alarm at 10 % difference.",
        ]
    elif case.chosen.piece.cake == "continuous":
        steps.append(
            f"Feed pump P-101 holds {_flow(case.design_flow)} by its flow meter, which leads every "
            "dosing pump."
        )
    steps += [
        f"Pump P-402 works on the level of T-402, at most {told.filtrate.starts_per_hour:.0f} "
        "starts per hour.",
        f"Skip is full after about {told.skips.time_to_fill / HOUR:.1f} h of running at "
        f"{told.skips.load / 1000:.1f} t.",
    ]
    for k, p in enumerate(told.products, start=1):
        if p.tanks:
            steps.append(
                f"Tanks of M-20{k} work turn about: when one is empty the other must be aged; a "
                f"batch of {1000 * p.tank_volume:.0f} L is made in the meantime."
            )
    return tuple(steps)


def _stopping(told: Told, own: tuple[str, ...]) -> tuple[str, ...]:
    """Feed and dosing first, then the machine, then what is flushed and what stays on."""
    pipes = [x for p in told.products for x in p.pump.part.pipes]
    flush = max((pipe.length * 0.785 * pipe.bore**2 for pipe in pipes), default=0.0)
    return (
        "Feed pumps stop, dosing stops with them.",
        *own,
        "Conveyor runs on until empty, then stops.",
        f"Dosing lines are flushed (about {1000 * flush:.1f} L each) and sludge lines after them.",
        "Solution tanks are drawn down before a long stop; what is too old is not used.",
        "Feed tank mixer, extraction, level and gas alarms stay in service while the line stands.",
    )


def _faults(told: Told) -> tuple[str, ...]:
    case, word = told.case, told.case.shaft_word
    room = max(told.tank.volume - float(told.tank.course.content.mean()), 0.0)
    free = room / point(case.inputs.feed.volume_flow)
    return (
        f"One {word} out of service: isolate and lock it; what is left takes the load "
        + (
            "within the same run hours."
            if told.tank.spare_covers
            else "in longer hours, if at all; watch the tank level."
        ),
        "No automatic restart of rotating parts after a power failure.",
        "Signal lost or stale: hold dosing at the last ratio for 60 s, then stop the feed.",
        "Feed tank at high level: run longer hours, stop production or tanker away; from its mean "
        f"content the tank takes {free / HOUR:.0f} h of production without a run.",
        "Gas alarm: everybody leaves, extraction at full speed, line stops by itself only where "
        "the risk assessment says so.",
    )


def _mode(told: Told, mode: str, fields: Mapping[str, str]) -> tuple[str, ...]:
    chosen = told.case.chosen
    own = tuple(
        _step(step, fields)
        for step in chosen.piece.steps
        if step.mode == mode and applies(step.when, chosen.present)
    )
    if mode == "start" and chosen.piece.cake == "continuous":
        return _starting(told, own)
    if mode == "cycle" and own:
        return _starting(told, own)
    if mode == "run":
        return (*_running(told), *own)
    return _stopping(told, own) if mode == "stop" else own


def narrative(told: Told) -> tuple[NarrativeSection, ...]:
    """Functional description: the way of the feed, before start, every mode, faults."""
    fields = _fields(told)
    modes: Sequence[tuple[str, tuple[str, ...]]] = [(m, _mode(told, m, fields)) for m in _MODES]
    return (
        NarrativeSection("How the feed is brought, and why so", _way(told)),
        NarrativeSection("Before start", _before(told)),
        *(NarrativeSection(m[:1].upper() + m[1:], steps) for m, steps in modes if steps),
        NarrativeSection("Faults and standstill", _faults(told)),
    )
