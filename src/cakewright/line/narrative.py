"""Control narrative and interlocks as words made from the design; this controls nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cakewright.line.cake import Conveyor, Skips
from cakewright.line.case import Case
from cakewright.line.conditioning import ProductLine
from cakewright.line.feeding import FeedTank
from cakewright.line.flocculating import StirredTank
from cakewright.line.inputs import HOUR, point
from cakewright.line.items import Interlock, NarrativeSection, Signal
from cakewright.line.measuring import MeasuringTank
from cakewright.line.pressing import FiltrateSystem, WashWater

__all__ = ["CAUTIONS", "Told", "interlocks", "narrative"]

CAUTIONS = (
    "This description is an aid for writing the control specification. It controls nothing. "
    "Applicable law, permit conditions, adopted codes and the instructions of the equipment "
    "supplier take precedence wherever they differ.",
    "Guarding, isolation, pressure relief, area classification and entry procedures must be set by "
    "a competent person for the actual installation.",
    "Safety functions (emergency stop, guards, gas alarm) are hard-wired and independent of the "
    "sequence; their level follows the risk assessment of the machine.",
    "Exposure limits change: use the limit in force where the plant stands.",
    "Interlocks never replace isolating and locking off before anybody reaches in.",
)


@dataclass(frozen=True, slots=True)
class Told:
    """Parts of the design the narrative speaks of."""

    case: Case
    tank: FeedTank
    measure: MeasuringTank
    products: tuple[ProductLine, ...]
    stirred: tuple[StirredTank, ...]
    wash: WashWater
    filtrate: FiltrateSystem
    conveyor: Conveyor
    skips: Skips


def _flow(value: float) -> str:
    return f"{3600 * value:.2f} m3/h"


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
        steps.append(f"Wash water stands at {told.wash.pressure / 1e5:.1f} bar or more.")
    return tuple(steps)


def _start(told: Told) -> tuple[str, ...]:
    steps = ["Start warning sounds 10 s before anything turns; the same after every power failure."]
    steps += [
        f"Conveyor H-501 starts and proves motion ({60 * told.conveyor.speed:.0f} 1/min).",
        "Press shafts start one after the other at their lowest speed, plate open.",
        f"Mixers start: flocculation at {60 * told.stirred[-1].speed:.0f} 1/min "
        f"(tip {told.stirred[-1].tip_speed:.1f} m/s).",
        f"Feed pump P-101 runs up to {_flow(told.case.lowest_flow)} over the measuring device plus "
        "the surplus; overflow is seen before dosing is released.",
    ]
    for k, p in enumerate(told.products, start=1):
        steps.append(
            f"Dosing P-20{k} ({p.product.name}) follows the measured flow in ratio: "
            f"{1000 * float(p.dose[0]):.1f} kg active per tonne of dry solids."
        )
    steps.append(
        "When cake arrives at the plate, close the plate in small steps towards its set "
        "position and raise the feed to its set flow."
    )
    return tuple(steps)


def _run(told: Told) -> tuple[str, ...]:
    m = told.measure
    steps = [
        f"Feed is set to {_flow(told.case.design_flow)}; the pump delivers "
        f"{100 * m.surplus_share:.0f} % more, which returns to T-101 by gravity.",
        f"The flow over the {m.measure.kind} (head {1000 * m.measure.head_low:.0f} to "
        f"{1000 * m.measure.head_high:.0f} mm) leads every dosing pump; the flow meter is the "
        "reference and both are compared, alarm at 10 % difference.",
        "A rise of drive power opens the plate or lowers the feed before it stops a shaft.",
        f"Filtrate pump P-402 works on the level of T-402, at most "
        f"{told.filtrate.starts_per_hour:.0f} starts per hour.",
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


def _rinse(told: Told) -> tuple[str, ...]:
    presses = [p for p in told.case.inputs.presses if p.wash_flow > 0]
    steps = []
    for n, p in enumerate(presses, start=1):
        if p.burst is None:
            steps.append(
                f"D-30{n} is washed all the time with {6e4 * p.wash_flow * p.shafts:.0f} L/min."
            )
        else:
            steps.append(
                f"D-30{n} is rinsed for {p.burst:.0f} s every {p.interval / 60:.0f} min with "
                f"{6e4 * p.wash_flow * p.shafts:.0f} L/min, one machine after the other."
            )
    steps.append(
        "Rinsing goes on while the press runs; feed is not stopped for it."
        if presses
        else "This machine needs no wash water while it runs."
    )
    return tuple(steps)


def _stop(told: Told) -> tuple[str, ...]:
    flush = max(
        (
            pipe.length * 0.785 * pipe.bore**2
            for pipe in [x for p in told.products for x in p.pump.part.pipes]
        ),
        default=0.0,
    )
    return (
        "Feed pump stops, dosing stops with it; the measuring tank drains to flocculation.",
        "Press shafts run on until no more cake falls, then rinse with the plate open and stop.",
        "Conveyor runs on until empty, then stops.",
        "Flocculation tank is emptied through the press, never left with flocs over a weekend.",
        f"Dosing lines are flushed (about {1000 * flush:.1f} L each) and sludge lines after them.",
        "Solution tanks are drawn down before a long stop; what is too old is not used.",
        "Feed tank mixer, extraction, level and gas alarms stay in service while the line stands.",
    )


def _faults(told: Told) -> tuple[str, ...]:
    service = told.tank.spare_covers
    room = max(told.tank.volume - float(told.tank.course.content.mean()), 0.0)
    free = room / point(told.case.inputs.feed.volume_flow)
    return (
        "One shaft out: isolate and lock it; the others take the load "
        + ("within the same run hours." if service else "in longer hours; watch the tank level."),
        "Power failure: everything stops and stays stopped until somebody resets it on site; "
        "no automatic restart of rotating parts.",
        "Signal lost or stale: hold dosing at the last ratio for 60 s, then stop the feed.",
        "Feed tank at high level: run longer hours, stop production or tanker away; from its mean "
        f"content the tank takes {free / HOUR:.0f} h of production without a run.",
        "Gas alarm: everybody leaves, extraction at full speed, line stops by itself only where "
        "the risk assessment says so.",
    )


def narrative(told: Told) -> tuple[NarrativeSection, ...]:
    """Functional description: before start, start, run, rinse, stop, faults."""
    return (
        NarrativeSection("Before start", _before(told)),
        NarrativeSection("Start", _start(told)),
        NarrativeSection("Run", _run(told)),
        NarrativeSection("Rinse", _rinse(told)),
        NarrativeSection("Stop", _stop(told)),
        NarrativeSection("Faults and standstill", _faults(told)),
    )


_ACTIONS: Mapping[int, tuple[str, str, str]] = {
    102: ("stop everything that fills T-101; call", "by hand, after the level has fallen", "spill"),
    103: ("stop P-101, hold dosing", "by hand, after the cause is found", "pipe and people"),
    104: ("stop P-101 and hold dosing", "by hand", "stator"),
    106: ("hold dosing, stop feed after 60 s", "by itself when the head is back", "over-dosing"),
    109: ("stop P-101", "by itself below the level", "spill"),
    201: ("stop feed after 30 s", "by hand", "loss of capture"),
    211: ("stop feed after 30 s", "by hand", "loss of capture"),
    302: ("stop feed and dosing", "by hand, after the press takes sludge again", "spill"),
    312: ("open the plate, lower the feed; at high-high stop the shaft", "by hand", "drive"),
    314: ("stop shafts, conveyor and wash at once", "by hand, on the spot", "people"),
    402: ("stop P-401", "by itself above the level", "pump"),
    403: ("stop feed and wash at high level", "by itself below the level", "flooding"),
    501: ("stop conveyor and shafts at once", "by hand, on the spot", "people"),
    502: (
        "warn, then stop the line after the set delay",
        "by hand, with the next skip in place",
        "cake beside the skip, truck overweight",
    ),
    601: (
        "sound and light alarm, extraction at full speed, no entry",
        "by hand, after clear air",
        "people",
    ),
    602: ("warn; no entry to the press room", "by itself when air flows", "people"),
}


def interlocks(signals: Sequence[Signal]) -> tuple[Interlock, ...]:
    """Interlocks that belong to the signals present, numbered in order of the loops."""
    found: list[Interlock] = []
    for signal in signals:
        loop = int(signal.tag.rsplit("-", 1)[1])
        if loop not in _ACTIONS:
            continue
        action, reset, protects = _ACTIONS[loop]
        found.append(
            Interlock(
                number=len(found) + 1,
                cause=f"{signal.meaning}: {'; '.join(signal.alarms)}",
                signal=signal.tag,
                action=action,
                reset=reset,
                protects=protects,
            )
        )
    return tuple(found)
