"""What a calibration found: parameters before and after, readings against the model, words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.jobs.calibration_density import Density, Mode
from cakewright.jobs.contradictions import Contradictions
from cakewright.jobs.fitted import BUILT_ON, FittedPress, from_line, to_line_all
from cakewright.jobs.foreseen import Foreseen
from cakewright.jobs.next_trial import NextTrial, Target
from cakewright.jobs.path_error import Seen
from cakewright.jobs.trial import Trial
from cakewright.machines.press_priors import parameter_priors
from cakewright.quantities import Basis, FloatArray, Mark
from cakewright.statistics.bayes import Posterior

__all__ = [
    "CalibrationFindings",
    "Narrowed",
    "RunCheck",
    "checks_of",
    "fitted_of",
    "narrowed_of",
    "words_of",
]

_ODD = 2.0
_LEARNT = 0.8
_BAND = (0.1, 0.5, 0.9)
_FAR = 5.0  # standard deviations: what lies farther is a limit met, no error of the path
_BEFORE = 4096  # draws that tell the bands earlier runs left


@dataclass(frozen=True, slots=True)
class Narrowed:
    """One parameter: 10, 50 and 90 % points before and after, SI, and the share of spread left."""

    name: str
    unit: str
    before: tuple[float, float, float]
    after: tuple[float, float, float]
    left: float


@dataclass(frozen=True, slots=True)
class RunCheck:
    """One reading against the model: bands before and after, and against the other runs alone.

    ``odd`` is how many standard deviations it lies from what all other runs foretell;
    ``contradicts`` when it is why its run is named as the one that does not fit.
    """

    run: str
    output: str
    measured: float
    sd: float
    before: tuple[float, float, float]
    after: tuple[float, float, float]
    odd: float
    contradicts: bool


@dataclass(frozen=True, slots=True, eq=False)
class CalibrationFindings:
    """Posterior of one machine on trial and everything said about it.

    ``draws`` are scores of the machine and of unread plates, equally weighted.
    """

    fitted: FittedPress
    narrowed: tuple[Narrowed, ...]
    checks: tuple[RunCheck, ...]
    chance: float
    effective: float
    agreement: str
    contradictions: tuple[str, ...]
    words: tuple[str, ...]
    foreseen: tuple[Foreseen, ...]
    next_trials: tuple[NextTrial, ...]
    target: Target | None
    trial: Trial
    draws: FloatArray


def fitted_of(trial: Trial, posterior: Posterior, date: str, mark: Mark) -> FittedPress:
    """Parameters on their lines with the law's scores: every draw, and their moments."""
    lines, law = _lines(trial, posterior.draws)
    joint = np.concatenate([lines, law], axis=1)
    earlier = trial.before
    notes = [f"{posterior.effective:.0f} effective draws"]
    if earlier is not None:
        notes.append(f"{BUILT_ON} {_earlier(earlier)}")
        mark = mark or earlier.mark
    return FittedPress(
        machine=trial.kind,
        frame=trial.frame,
        names=trial.names,
        mean=joint.mean(axis=0),
        covariance=np.cov(joint.T),
        runs=sum(run.ran for run in trial.runs) + (earlier.runs if earlier else 0),
        date=date,
        sludge=trial.law.sludge,
        law=trial.key,
        basis=Basis.MEASURED,
        mark=mark,
        notes=tuple(notes),
        draws=joint,
        seen=_seen(trial, posterior.draws),
    )


def _seen(trial: Trial, draws: FloatArray) -> Seen:
    """What the runs leave at every draw: the path's error is learnt from it."""
    split = trial.size
    rows = trial.predicted(draws[:, :split], draws[:, split:])
    left = np.clip(trial.data - rows, -_FAR * trial.noise, _FAR * trial.noise)
    days = tuple(run.day for run in trial.runs)
    return Seen(trial.places, days, trial.observed, trial.reading_noise, left)


def _lines(trial: Trial, draws: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Fitted parameters on their lines and the law's normals at rows of scores."""
    priors = parameter_priors(trial.kind)
    found = trial.believed(draws, draws[:, trial.size :])
    lines = [to_line_all(found.machine[n], priors[n].line) for n in trial.names]
    return np.stack(lines, axis=1), found.law


def _earlier(before: FittedPress) -> str:
    when = f" of {before.date}" if before.date else ""
    return f"{before.runs} earlier runs{when} on frame {before.frame}"


def narrowed_of(trial: Trial, posterior: Posterior) -> tuple[Narrowed, ...]:
    """Every fitted parameter before and after."""
    priors, found = parameter_priors(trial.kind), []
    unit = np.random.default_rng(0).standard_normal((_BEFORE, posterior.draws.shape[1]))
    start, end = _lines(trial, unit)[0], _lines(trial, posterior.draws)[0]
    for i, name in enumerate(trial.names):
        prior = priors[name]
        band = (prior.low, prior.typical, prior.high)
        left = float(np.std(posterior.draws[:, i]))
        if trial.before is not None:
            band = _points(prior.line, start[:, i])
            left = float(np.std(end[:, i]) / np.std(start[:, i]))
        found.append(Narrowed(name, prior.unit, band, _points(prior.line, end[:, i]), left))
    return tuple(found)


def _points(line: str, places: FloatArray) -> tuple[float, float, float]:
    low, middle, high = (float(from_line(v, line)) for v in np.quantile(places, _BAND))
    return low, middle, high


def checks_of(
    density: Density, mode: Mode, posterior: Posterior, against: Contradictions
) -> tuple[RunCheck, ...]:
    """Every reading with its bands before (draws of the prior that could run it) and after."""
    trial = density.trial
    rows = density.answers(posterior.draws)[0] + _errors(trial, posterior.draws)
    found = []
    for at, (run, name) in enumerate(trial.observed):
        could = mode.prior_margins[:, run] >= 0.0
        prior = mode.prior_rows[could if np.any(could) else slice(None), at]
        one = trial.runs[run]
        odd = float(against.odd[at])
        named = one.name == against.accused and abs(odd) > _ODD
        bands = _band(name, prior), _band(name, rows[:, at])
        found.append(RunCheck(one.name, name, *one.readings[name], *bands, odd, named))
    return tuple(found)


def _errors(trial: Trial, draws: FloatArray) -> FloatArray:
    """Draws of the path's error at every reading, as the runs have taught it."""
    seen, rng = _seen(trial, draws), np.random.default_rng(0)
    pick = np.arange(len(draws))
    found = np.empty((len(draws), len(trial.observed)))
    for at, (run, name) in enumerate(trial.observed):
        place = np.repeat(trial.places[run : run + 1], len(draws), axis=0)
        mean, sd = seen.error_at(name, place, pick)
        found[:, at] = mean + sd * rng.standard_normal(len(draws))
    return found


def _band(name: str, line: FloatArray) -> tuple[float, float, float]:
    points = np.quantile(line, _BAND)
    low, middle, high = (float(v) for v in (points if name == "capture" else np.exp(points)))
    return low, middle, high


def words_of(trial: Trial, narrowed: Sequence[Narrowed]) -> tuple[str, ...]:
    """What the runs could tell and what not."""
    left = {one.name: one.left for one in narrowed}
    learnt = [n.replace("_", " ") for n, share in left.items() if share < _LEARNT]
    kept = [n.replace("_", " ") for n, share in left.items() if share >= _LEARNT]
    words = [f"narrowed by a fifth or more: {', '.join(learnt) or 'none'}"]
    if kept:
        words.append(f"still as in the prior: {', '.join(kept)}")
    return (*words, *_before(trial), *_few(trial), *_doses(trial))


def _before(trial: Trial) -> list[str]:
    if trial.before is None:
        return []
    words = [
        f"the prior is what {_earlier(trial.before)} left; a run that is among both counts twice"
    ]
    if trial.before.frame != trial.frame:
        words.append("that is another frame than the one on trial: taken over with care")
    return words


def _few(trial: Trial) -> list[str]:
    ran = [run for run in trial.runs if run.ran]
    failed = [run.name for run in trial.runs if not run.ran]
    words = []
    if len(ran) == 1:
        words.append(
            "one run only: it fixes one combination of the parameters (the level of cake and "
            "capture at this setting) and tells nothing about how they change with speed, plate, "
            "load or dose, nor whether the run was odd; run two more settings at least"
        )
    if len(ran) > 1 and len({(r.speed, r.back_pressure, r.plate) for r in ran}) == 1:
        words.append(
            "all runs at one speed and plate: they repeat each other; change the settings between "
            "runs"
        )
    if failed:
        words.append(f"could not be run, and taken as a limit met: {', '.join(failed)}")
    else:
        words.append(
            "settings that were tried and could not be held belong in the sheet with ran = no: "
            "left out, they make the press look stronger than it is"
        )
    return words


def _doses(trial: Trial) -> list[str]:
    outside = [run.name for run in trial.runs if trial.law.untried(run.dose)]
    if not outside:
        return []
    return [
        f"dose outside the tested ones in {', '.join(outside)}: the law is extrapolated there, "
        "and whatever it is wrong by goes into the machine's parameters"
    ]
