"""Belt, chamber, membrane presses and decanter on the same sludge law: one path per kind.

Sizes the catalogue does not give are judgement (``data/operating.toml`` of the machines room).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from cakewright.machines.belt.path import BeltGeometry, BeltOperation, BeltParameters, belt_path
from cakewright.machines.decanter.path import (
    DecanterGeometry,
    DecanterOperation,
    DecanterParameters,
    decanter_path,
    slowest_scroll,
)
from cakewright.machines.interface import Frame, Kind
from cakewright.machines.outcome import causes_of, filled_figures
from cakewright.machines.plates.cycle_figures import PlateCycle, plate_cycle
from cakewright.machines.plates.path import (
    ChamberGeometry,
    ChamberOperation,
    ChamberParameters,
    chamber_path,
)
from cakewright.machines.press_priors import record_from
from cakewright.machines.pressed import Pressed
from cakewright.machines.pressing_path import PathResult, PathStatus, PressedSludge, PressLoad
from cakewright.machines.registry import data_of
from cakewright.machines.sizing import Plan
from cakewright.quantities import Figure, FloatArray
from cakewright.sludge import Feed, RunLoad

__all__ = ["KindFindings", "kind_findings", "path_of_kind"]

_GRAVITY = 9.80665

# What stays envelope or judgement although the kind is predicted by its own path.
_ENVELOPE = {
    Kind.BELT_PRESS: "lengths, rollers and tension of the belt are judgement, not this frame's",
    Kind.CHAMBER_PRESS: "pressures, pump and technical times are judgement",
    Kind.MEMBRANE_PRESS: "pressures, pump and technical times are judgement",
    Kind.DECANTER: (
        "the part of the layer that leaves, the fines kept and the energy are envelope, not physics"
    ),
}

Parameters = Mapping[str, FloatArray]


@dataclass(frozen=True, slots=True, eq=False)
class KindFindings:
    """One kind on the law, tested or the prior of its class: figures, limits, what is envelope.

    ``figures`` is empty where the point case has no answer; ``words`` then says why.
    ``running`` is the share of a day the point case runs.
    """

    machine: str
    frame: str
    tested: bool
    running: float
    figures: Mapping[str, Figure]
    margins: Mapping[str, float]
    words: str
    answered: float
    causes: Mapping[str, float]
    envelope: str
    cycle: PlateCycle | None = None


def kind_findings(
    plan: Plan, pressed: Pressed, feed: Feed, load: RunLoad, parameters: Parameters
) -> KindFindings:
    """Prediction of one kind that is no screw press."""
    kind = plan.frame.machine
    result = path_of_kind(plan, pressed, feed, load, parameters)
    status = PathStatus(int(result.status[0]))
    margins = {name: float(values[0]) for name, values in result.margins.items()}
    figures: dict[str, Figure] = {}
    words = status.words
    if status is PathStatus.ANSWER:
        filled, told = filled_figures(result, feed.mix.total_solids)
        note = "; ".join(text for text in (told, _ENVELOPE[kind]) if text)
        figures = {name: pressed.figure(name, values, note) for name, values in filled.items()}
        nearest = min(margins, key=margins.__getitem__)
        words = f"nearest limit: {nearest}, {100 * margins[nearest]:.0f} % away"
    return KindFindings(
        machine=kind.value,
        frame=plan.frame.name,
        tested=pressed.tested,
        running=plan.figures["run_hours_per_day"].point,
        figures=figures,
        margins=margins,
        words=words,
        answered=float(np.mean(result.answered)),
        causes=causes_of(result),
        envelope=_ENVELOPE[kind],
        cycle=plate_cycle(result, pressed, plan.figures["run_hours_per_day"].samples),
    )


def path_of_kind(
    plan: Plan, pressed: Pressed, feed: Feed, load: RunLoad, parameters: Parameters
) -> PathResult:
    """Path of a kind at the best of the few settings its operator has, per sample."""
    running = plan.machines - plan.standby
    hours = plan.figures["run_hours_per_day"].samples
    fed = PressLoad(
        load.dry_solids_flow * load.hours_per_day / hours / running,
        feed.mix.total_solids,
        pressed.fines_share,
        np.minimum(feed.mix.oil, 1.0),
    )
    sludge = _wide(pressed.sludge, hours.size)
    make: Mapping[Kind, Callable[..., list[PathResult]]] = {
        Kind.BELT_PRESS: _belt,
        Kind.CHAMBER_PRESS: _chamber,
        Kind.MEMBRANE_PRESS: _chamber,
        Kind.DECANTER: _decanter,
    }
    settings = data_of(plan.frame.machine, "settings.toml")
    return _best(make[plan.frame.machine](plan.frame, sludge, fed, parameters, settings))


def _wide(sludge: PressedSludge, size: int) -> PressedSludge:
    names = PressedSludge.__dataclass_fields__
    rows = {n: np.array(np.broadcast_to(getattr(sludge, n), (size,)), dtype=float) for n in names}
    return PressedSludge(**rows)


def _belt(
    frame: Frame,
    sludge: PressedSludge,
    load: PressLoad,
    values: Parameters,
    settings: Mapping[str, Any],
) -> list[PathResult]:
    width = frame.belt_width or 1.0
    radii = tuple(settings["roller_radii"])
    geometry = BeltGeometry(
        width=width,
        gravity_length=settings["gravity_length"],
        wedge_length=settings["wedge_length"],
        roller_radii=radii,
        contact_lengths=tuple(2.0 * np.pi * r * settings["wrapped_share"] for r in radii),
        rest_lengths=(settings["rest_length"],) * len(radii),
    )
    machine = record_from(BeltParameters, values)
    found = []
    for speed in settings["belt_speeds"]:
        # washed on every turn: the cloth carries the solids of one turn
        since = load.dry_solids_flow / (speed * width)
        operation = BeltOperation(speed, settings["belt_tension"], since)
        found.append(belt_path(sludge, load, operation, machine, geometry))
    return found


def _chamber(
    frame: Frame,
    sludge: PressedSludge,
    load: PressLoad,
    values: Parameters,
    settings: Mapping[str, Any],
) -> list[PathResult]:
    area, volume = frame.filter_area or 1.0, frame.chamber_volume or 0.016
    geometry = ChamberGeometry(area, 2.0 * volume / area)
    operation = ChamberOperation(**{n: settings[n] for n in ChamberOperation.__dataclass_fields__})
    machine = record_from(ChamberParameters, values)
    return [chamber_path(sludge, load, operation, machine, geometry)]


def _decanter(
    frame: Frame,
    sludge: PressedSludge,
    load: PressLoad,
    values: Parameters,
    settings: Mapping[str, Any],
) -> list[PathResult]:
    bowl, length = frame.bowl_diameter or 0.3, frame.bowl_length or 1.2
    geometry = DecanterGeometry(
        bowl_diameter=bowl,
        clarifying_length=settings["clarifying_share"] * length,
        pond_depth=settings["pond_share"] * bowl,
        scroll_pitch=settings["pitch_share"] * bowl,
    )
    field = (frame.relative_force or 3000.0) * _GRAVITY
    bowl_speed = float(np.sqrt(field / (0.5 * bowl)) / (2.0 * np.pi))
    machine = record_from(DecanterParameters, values)
    fastest = DecanterOperation(bowl_speed, settings["differential_speeds"][-1])
    speeds = np.array(settings["differential_speeds"])
    speed = slowest_scroll(sludge, load, fastest, machine, geometry, speeds)
    operation = DecanterOperation(bowl_speed, speed)
    return [decanter_path(sludge, load, operation, machine, geometry)]


def _best(results: list[PathResult]) -> PathResult:
    """Per sample the setting with the driest cake that stands, else the first."""
    score = np.stack([np.where(r.answered, r.cake_solids, -1.0) for r in results])
    best = np.argmax(score, axis=0)

    def taken(rows: list[FloatArray]) -> FloatArray:
        return np.asarray(np.take_along_axis(np.stack(rows), best[None, :], axis=0)[0])

    def table(rows: list[Mapping[str, FloatArray]]) -> dict[str, FloatArray]:
        return {name: taken([row[name] for row in rows]) for name in rows[0]}

    return PathResult(
        status=taken([r.status.astype(float) for r in results]).astype(int),
        cake_solids=taken([r.cake_solids for r in results]),
        capture=taken([r.capture for r in results]),
        residence=taken([r.residence for r in results]),
        power=taken([r.power for r in results]),
        margins=table([r.margins for r in results]),
        details=table([r.details for r in results]),
    )
