"""Which pilot run is worth making before any was made, and what a promise gains by it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from cakewright.jobs.findings import Findings
from cakewright.jobs.next_trial import NextTrial, Target, ranked_trials
from cakewright.jobs.trial import Trial
from cakewright.machines import Frame, machine
from cakewright.machines.frames import frame_named
from cakewright.machines.registry import data_of
from cakewright.machines.screw.case import screw_geometry
from cakewright.quantities.constants import NORMAL_90
from cakewright.sludge.law import SludgeLaw
from cakewright.sludge.law_prior import prior_of_class
from cakewright.statistics.bayes import Laplace

__all__ = ["PilotWorth", "main_class_of", "pilot_worth_of", "target_of"]

_SHOWN = 5


@dataclass(frozen=True, slots=True)
class PilotWorth:
    """Candidate runs on the chosen frame, best first, and what the promised cake gains by each.

    ``gains`` are shares of dry solids: how much drier a cake could be promised at the same chance,
    the expected cake unchanged. They are empty where no law was tested: the promise then rests on
    published bands, not on the press physics.
    """

    target: Target
    trials: tuple[NextTrial, ...]
    gains: tuple[float, ...]

    @property
    def tested(self) -> bool:
        """Whether the promise rests on a tested law."""
        return bool(self.gains)


def pilot_worth_of(
    found: Findings, frames: Sequence[Frame], law: SludgeLaw | None
) -> PilotWorth | None:
    """Pilot runs ranked from the prior of machine and sludge; None where no screw press is chosen.

    For studies without parameters from trial runs: with them the calibration ranks the next run.
    """
    if found.decide is None or not found.decision.frame:
        return None
    frame = frame_named(found.decision.frame, frames)
    kind = machine(frame.machine)
    if not (kind.has_operating_map and kind.predictable(frame)):
        return None
    target = target_of(found, frame)
    trial = _untried(frame, law or prior_of_class(main_class_of(found)))
    size = trial.size + trial.law_size
    prior = Laplace(np.zeros(size), np.eye(size), 0.0)
    trials = ranked_trials(trial, prior, target, _SHOWN)
    return PilotWorth(target, trials, _gains(found, trials) if law else ())


def _untried(frame: Frame, law: SludgeLaw) -> Trial:
    """A trial on a frame of which no run was made yet."""
    window = data_of(frame.machine, "settings.toml")
    return Trial(
        kind=frame.machine,
        frame=frame.name,
        geometry=screw_geometry(frame),
        law=law,
        runs=(),
        plate_window=(window["back_pressure_low"], window["back_pressure_high"]),
    )


def _gains(found: Findings, trials: Sequence[NextTrial]) -> tuple[float, ...]:
    """Distance of the promise from the expected cake, before less after, all spreads normal.

    A run takes variance from the promise's own spread: as much as it takes from the press, and no
    greater share of it.
    """
    if found.decide is None:
        return ()
    guarantee = found.decide.guarantee
    cake = next(item for item in guarantee.promises if item.name == "cake_solids")
    far = float(ndtri(np.clip(cake.recommended.passed, 0.5, 0.999)))
    band, error = cake.expected.band, cake.measurement.deviation
    own = (band.p90 - band.p10) / (2.0 * NORMAL_90)
    return tuple(far * _shorter(own, error, trial) for trial in trials)


def _shorter(own: float, error: float, trial: NextTrial) -> float:
    taken = min(own, trial.spread_before) ** 2 * (1.0 - (1.0 - trial.narrowing) ** 2)
    after = float(np.sqrt(max(own**2 - taken, 0.0)))
    return float(np.hypot(own, error) - np.hypot(after, error))


def main_class_of(found: Findings) -> str:
    """Class of the sludge with the largest solids flow."""
    largest = max(found.sludges, key=lambda s: s.figures["dry_solids_flow"].point)
    return largest.sludge_class


def target_of(found: Findings, frame: Frame) -> Target:
    """The study's duty on the frame on trial: its setting, the load per drained area kept."""
    press = found.press
    feed = found.feed.figures
    if press is None or not press.figures:
        speed = 0.5 * ((frame.speed_low or 1 / 60) + (frame.speed_high or 5 / 60))
        window = data_of(frame.machine, "settings.toml")
        plate = float((window["back_pressure_low"] * window["back_pressure_high"]) ** 0.5)
        load = 0.7 * frame.solids_limit
        told = {figure.name: figure.point for figure in found.decision.headline}
        dose = told["polymer_dose"] if press is None else press.dose
        words = f"the middle of the window of frame {frame.name} at 70 % of its rated load"
    else:
        speed, plate, dose = press.speed, press.back_pressure, press.dose
        sizes = {f.frame: f for o in found.options for f in o.frames}
        rated = press.inputs["dry_solids_flow"]
        same = press.frame == frame.name or press.frame not in sizes
        load = rated if same else min(rated, 0.7 * frame.solids_limit)
        words = f"the study's operating point on frame {frame.name}"
    return Target(
        speed=speed,
        back_pressure=plate,
        dry_solids_flow=load,
        feed_solids=feed["total_solids"].point,
        dose=dose,
        temperature=feed["temperature"].point,
        words=words,
    )
