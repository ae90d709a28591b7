"""Which run to make next: settings ranked by how much they narrow the value to be guaranteed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from cakewright.jobs.path_error import covariance_of, error_table, field_between
from cakewright.jobs.trial import PilotRun, Trial, calibration_table
from cakewright.quantities import FloatArray
from cakewright.statistics.bayes import Laplace

__all__ = ["NextTrial", "Target", "ranked_trials"]

_STEP = 0.02
_SPEEDS = (0.6, 1.0, 1.6)
_PLATES = (0.5, 1.0, 2.0)
_LOADS = (0.7, 1.0)
_DOSES = (0.75, 1.0, 1.25)


@dataclass(frozen=True, slots=True)
class Target:
    """Duty whose cake is to be guaranteed: the study's operating point on the trial's machine."""

    speed: float
    back_pressure: float
    dry_solids_flow: float
    feed_solids: float
    dose: float
    temperature: float
    words: str

    def run(self) -> PilotRun:
        """The duty as a run without readings."""
        return PilotRun(
            "duty",
            self.speed,
            self.dry_solids_flow,
            self.feed_solids,
            self.dose,
            {"cake_solids": (0.2, 0.006)},
            back_pressure=self.back_pressure,
            temperature=self.temperature,
        )


@dataclass(frozen=True, slots=True)
class NextTrial:
    """One candidate: settings, and the spread of the guaranteed cake before and after (sd, SI)."""

    speed: float
    back_pressure: float
    dry_solids_flow: float
    dose: float
    spread_before: float
    spread_after: float
    cake_expected: float

    @property
    def narrowing(self) -> float:
        """Share of the spread it is expected to take away."""
        return 1.0 - self.spread_after / self.spread_before


def ranked_trials(
    trial: Trial, about: Laplace, target: Target, most: int = 5
) -> tuple[NextTrial, ...]:
    """Candidates by expected narrowing of the target's cake (linear design about a point).

    ``about`` holds the scores of the machine, of unread plates and of the law, and what is known of
    them: a posterior, or the prior. A candidate also teaches the path's own error about its
    settings; errors it shares with the runs made are known in part. Candidates the path cannot run
    are left out; each would read cake and capture once, with the usual spread of a reading.
    """
    candidates = _candidates(trial, target)
    duty = replace(trial, runs=(target.run(),))
    scores, law, covariance = _known(trial, about)
    aim = _slopes(duty, scores, law)[0]
    ready = replace(trial, runs=candidates)
    errors = _errors(trial, ready, duty)
    before = float(aim @ covariance @ aim) + errors.duty
    cake = float(np.exp(duty.predicted(scores[None, :], law[None, :])[0, 0]))
    rows, margins = ready.predicted_with_margin(scores[None, :], law[None, :])
    slopes = _slopes(ready, scores, law)
    found: list[NextTrial] = []
    for at, run in enumerate(candidates):
        if margins[0, at] < 0.0:
            continue
        mine = [i for i, (r, _) in enumerate(ready.observed) if r == at]
        cross = slopes[mine] @ covariance @ aim + errors.cross[mine]
        inner = slopes[mine] @ covariance @ slopes[mine].T + errors.own[np.ix_(mine, mine)]
        taken = float(cross @ np.linalg.solve(inner, cross))
        after = max(before - taken, 0.0)
        found.append(
            NextTrial(
                speed=run.speed,
                back_pressure=float(run.back_pressure or 0.0),
                dry_solids_flow=run.dry_solids_flow,
                dose=run.dose,
                spread_before=cake * float(np.sqrt(before)),
                spread_after=cake * float(np.sqrt(after)),
                cake_expected=float(np.exp(rows[0, mine[0]])),
            )
        )
    return tuple(sorted(found, key=lambda one: one.spread_after)[:most])


def _known(trial: Trial, about: Laplace) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Machine scores, law scores and their covariance, unread plates left out."""
    count, size = len(trial.names), trial.size
    kept = np.r_[0:count, size : about.mode.size]
    return about.mode[:count], about.mode[size:], about.covariance[np.ix_(kept, kept)]


class _Errors(NamedTuple):
    """Errors about the path, given the runs made: of candidates, with the duty's, of the duty."""

    own: FloatArray
    cross: FloatArray
    duty: float


def _errors(trial: Trial, ready: Trial, duty: Trial) -> _Errors:
    """What the runs made foretell of the errors of candidates and of the path at the duty."""
    made = len(trial.runs)
    places = np.concatenate([trial.places, ready.places])
    days = [run.day for run in trial.runs] + [f"next {i}" for i in range(len(ready.runs))]
    observed = [*trial.observed, *((made + run, name) for run, name in ready.observed)]
    noise = np.concatenate([trial.reading_noise, ready.reading_noise])
    whole = covariance_of(places, days, observed, noise)
    row = error_table()["cake_solids"]
    level, field = float(row["level"]) ** 2, float(row["field"]) ** 2
    near = level + field * field_between(places, duty.places)[:, 0]
    cross = np.array([near[run] if name == "cake_solids" else 0.0 for run, name in observed])
    old, new = slice(0, len(trial.observed)), slice(len(trial.observed), None)
    weight = np.linalg.solve(whole[old, old], np.column_stack([whole[old, new], cross[old]]))
    return _Errors(
        whole[new, new] - whole[new, old] @ weight[:, :-1],
        cross[new] - cross[old] @ weight[:, :-1],
        level + field - float(cross[old] @ weight[:, -1]),
    )


def _candidates(trial: Trial, target: Target) -> tuple[PilotRun, ...]:
    table = calibration_table()
    readings = {
        "cake_solids": (0.2, float(table["cake_solids"]["noise"])),
        "capture": (0.95, float(table["capture"]["noise"])),
    }
    low, high = trial.plate_window
    return tuple(
        PilotRun(
            name=f"{i}.{j}.{k}.{m}",
            speed=target.speed * speed,
            dry_solids_flow=target.dry_solids_flow * load,
            feed_solids=target.feed_solids,
            dose=target.dose * dose,
            readings=readings,
            back_pressure=float(np.clip(target.back_pressure * plate, low, high)),
            temperature=target.temperature,
        )
        for i, speed in enumerate(_SPEEDS)
        for j, plate in enumerate(_PLATES)
        for k, load in enumerate(_LOADS)
        for m, dose in enumerate(_DOSES)
    )


def _slopes(trial: Trial, scores: FloatArray, law: FloatArray) -> FloatArray:
    """Derivative of every reading by scores and law scores, shape (readings, both)."""
    joint = np.concatenate([scores, law])
    size, split = joint.size, scores.size
    steps = _STEP * np.concatenate([np.eye(size), -np.eye(size)])
    points = joint + steps
    rows = trial.predicted(points[:, :split], points[:, split:])
    return np.asarray((rows[:size] - rows[size:]).T / (2.0 * _STEP))
