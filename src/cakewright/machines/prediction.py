"""Prediction of one kind over a study's samples: figures, limits, what is envelope."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from cakewright.machines.outcome import causes_of, filled_figures
from cakewright.machines.plan import Plan
from cakewright.machines.pressed import Pressed
from cakewright.machines.pressing_path import PathResult, PathStatus, PressLoad
from cakewright.quantities import Figure
from cakewright.sludge import Feed, RunLoad

__all__ = ["Cycle", "KindFindings", "kind_findings", "load_of_one"]


@dataclass(frozen=True, slots=True, eq=False)
class Cycle:
    """Figures of the cycle; ``ended`` says what ended the point case and how far the others were.

    ``ends`` is the share of the answered samples that each end of the filling stopped.
    """

    figures: Mapping[str, Figure]
    ended: str
    ends: Mapping[str, float]


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
    cycle: Cycle | None = None


def kind_findings(
    plan: Plan,
    pressed: Pressed,
    feed: Feed,
    result: PathResult,
    envelope: str,
    cycle: Cycle | None,
) -> KindFindings:
    """What a path over samples says of a kind, sample 0 the point case."""
    status = PathStatus(int(result.status[0]))
    margins = {name: float(values[0]) for name, values in result.margins.items()}
    figures: dict[str, Figure] = {}
    words = status.words
    if status is PathStatus.ANSWER:
        filled, told = filled_figures(result, feed.mix.total_solids)
        note = "; ".join(text for text in (told, envelope) if text)
        figures = {name: pressed.figure(name, values, note) for name, values in filled.items()}
        nearest = min(margins, key=margins.__getitem__)
        words = f"nearest limit: {nearest}, {100 * margins[nearest]:.0f} % away"
    return KindFindings(
        machine=plan.frame.machine.value,
        frame=plan.frame.name,
        tested=pressed.tested,
        running=plan.figures["run_hours_per_day"].point,
        figures=figures,
        margins=margins,
        words=words,
        answered=float(np.mean(result.answered)),
        causes=causes_of(result),
        envelope=envelope,
        cycle=cycle,
    )


def load_of_one(plan: Plan, pressed: Pressed, feed: Feed, load: RunLoad) -> PressLoad:
    """What one of the running machines is fed."""
    running = plan.machines - plan.standby
    hours = plan.figures["run_hours_per_day"].samples
    return PressLoad(
        load.dry_solids_flow * load.hours_per_day / hours / running,
        feed.mix.total_solids,
        pressed.fines_share,
        np.minimum(feed.mix.oil, 1.0),
    )
