"""Machine parameters from trial runs: posterior, check by a second method, contradictions.

The law's uncertainty is shared by all runs; it enters by its slope at the most likely point, as a
covariance over all readings. Theory and limits: ``docs/theory/calibration.md``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from cakewright.errors import DataError, DisagreementError, Fault
from cakewright.jobs.fitted import FittedPress
from cakewright.jobs.next_trial import NextTrial, Target, ranked_trials
from cakewright.jobs.trial import PilotRun, Trial
from cakewright.machines.press_priors import parameter_priors
from cakewright.quantities import Basis, FloatArray, Mark
from cakewright.sludge.law import SludgeLaw
from cakewright.statistics.bayes import (
    Laplace,
    Posterior,
    check_agreement,
    importance_sampled,
    sample_posterior,
)

__all__ = [
    "CalibrationFindings",
    "Narrowed",
    "RunCheck",
    "calibrate",
    "checked_trial",
    "predictive",
]

_STARTS = 256
_DRAWS = 2048
_MOVED, _MOVES = 512, 12
_STEP = 0.02
_SUSPECT = 2.5
_ODD = 3.0  # standard deviations from what the other runs foretell
_LEAST_CHANCE, _DOUBTED = 1e-3, 0.05
_LEAST_EFFECTIVE = 8.0
_LEAST_WALKED = 60
Progress = Callable[[str], None]


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

    ``odd`` is how many standard deviations it lies from what all other runs foretell.
    """

    run: str
    output: str
    measured: float
    sd: float
    before: tuple[float, float, float]
    after: tuple[float, float, float]
    odd: float

    @property
    def contradicts(self) -> bool:
        """True when the other runs and the model say otherwise."""
        return abs(self.odd) > _ODD


@dataclass(frozen=True, slots=True, eq=False)
class CalibrationFindings:
    """Posterior of one machine on trial and everything said about it."""

    fitted: FittedPress
    narrowed: tuple[Narrowed, ...]
    checks: tuple[RunCheck, ...]
    chance: float
    effective: float
    agreement: str
    contradictions: tuple[str, ...]
    words: tuple[str, ...]
    next_trials: tuple[NextTrial, ...]
    target: Target | None
    trial: Trial
    draws: FloatArray


def checked_trial(trial: Trial) -> None:
    """Refuse a trial that cannot carry a calibration.

    Raises
    ------
    DataError
        With every fault: no run, no reading, one name twice.
    """
    faults: list[Fault] = []
    if not trial.runs:
        faults.append(Fault("runs", "none", "one run or more", "add the runs of the trial"))
    names = [run.name for run in trial.runs]
    for name in sorted({n for n in names if names.count(n) > 1}):
        faults.append(Fault(f"run {name}", "the name twice", "each name once", "rename one"))
    for run in trial.runs:
        if not run.readings:
            allowed = "cake solids, capture, power or torque"
            faults.append(Fault(f"run {run.name}", "no reading", allowed, "add one, or drop it"))
    if faults:
        raise DataError("trial runs", faults)


class _Model:
    """Log density of the scores: normal prior, normal readings with shared law error.

    ``law`` are the law's scores at the joint mode: the path is taken there and is linear about it.
    """

    def __init__(self, trial: Trial) -> None:
        self.trial = trial
        self.law = np.zeros(trial.law_size)
        self.slopes = np.zeros((trial.data.size, trial.law_size))
        self._factor()

    def _factor(self) -> None:
        self.covariance = np.diag(self.trial.noise**2) + self.slopes @ self.slopes.T
        self.root = np.linalg.inv(np.linalg.cholesky(self.covariance))
        self.gain = self.slopes.T @ np.linalg.inv(self.covariance)
        left = np.eye(self.law.size) - self.gain @ self.slopes
        self.law_left = (left + left.T) / 2.0

    def set_law(self, at: FloatArray, law: FloatArray) -> None:
        """Take the path at these law scores, with its slopes there by central differences."""
        size = self.law.size
        steps = law + _STEP * np.concatenate([np.eye(size), -np.eye(size)])
        rows = self.trial.predicted(np.repeat(at[None, :], 2 * size, axis=0), steps)
        self.law, self.slopes = law, (rows[:size] - rows[size:]).T / (2.0 * _STEP)
        self._factor()

    def away(self, rows: FloatArray) -> FloatArray:
        """Readings less prediction, the law's scores taken back to their prior mean."""
        return self.trial.data - rows + self.slopes @ self.law

    def _told(self, away: FloatArray, missed: FloatArray) -> FloatArray:
        """Beyond a limit the path gives no cake: what counts there is how far beyond."""
        beyond = missed[:, [run for run, _ in self.trial.observed]] > 0.0
        return np.where(beyond | ~np.isfinite(away), 0.0, away)

    def rows(self, points: FloatArray) -> FloatArray:
        """Readings the path gives at these scores and the law's mode."""
        return self.trial.predicted(points, self.law[None, :])

    def residuals(self, points: FloatArray) -> FloatArray:
        """Whitened residuals of readings, limits and prior; squares sum to -2 log density."""
        points = np.atleast_2d(points)
        rows, missed = self.trial.predicted_with_reach(points, self.law[None, :])
        away = self._told(self.away(rows), missed)
        return np.concatenate([away @ self.root.T, missed, points], axis=1)

    def joint_residuals(self, both: FloatArray) -> FloatArray:
        """The same with scores and law scores both free, one row each."""
        both = np.atleast_2d(both)
        split = self.trial.size
        rows, missed = self.trial.predicted_with_reach(both[:, :split], both[:, split:])
        away = self._told(self.trial.data - rows, missed)
        return np.concatenate([away / self.trial.noise, missed, both], axis=1)

    def log_density(self, points: FloatArray) -> FloatArray:
        """Log density of rows of scores, a constant left out."""
        return np.asarray(-0.5 * np.sum(self.residuals(points) ** 2, axis=1))


def _slopes(function: Callable[[FloatArray], FloatArray], point: FloatArray) -> FloatArray:
    """Derivatives of a row of residuals by central differences, all in one batch."""
    size = point.size
    rows = function(point + _STEP * np.concatenate([np.eye(size), -np.eye(size)]))
    return np.asarray((rows[:size] - rows[size:]).T / (2.0 * _STEP))


def calibrate(
    trial: Trial,
    date: str,
    *,
    target: Target | None = None,
    mark: Mark = Mark.NONE,
    with_check: bool = True,
    progress: Progress = lambda _: None,
) -> CalibrationFindings:
    """Posterior of the machine's parameters from trial runs.

    ``with_check`` False leaves out the second method (for studies over many made-up trials).

    Raises
    ------
    DataError
        If the runs cannot carry it.
    DisagreementError
        If two methods do not give the same posterior: none is reported then.
    """
    checked_trial(trial)
    progress("looking for the most likely machine")
    model = _Model(trial)
    starts, prior_rows = _prior_rows(trial)
    joint = _mode(model, starts)
    model.set_law(joint[: trial.size], joint[trial.size :])
    mode = _descended(model.residuals, joint[: trial.size])
    approximation = _laplace(model, mode)
    progress("weighing draws")
    posterior = _population(model, approximation)
    agreement = "not checked by a second method"
    if with_check:
        progress("checking by a second method")
        agreement = _second_method(model, posterior)
    fitted = _fitted(model, posterior, date, mark)
    progress("looking for contradictions")
    rows = model.rows(posterior.draws)
    marginal = _marginal(model, posterior.draws)
    chance, after = _chance(*marginal), _after(model, rows)
    checks = _checks(model, _left_out(model, joint, after, marginal), prior_rows, after)
    contradictions = _contradictions(checks, chance, trial)
    return CalibrationFindings(
        fitted=fitted,
        narrowed=_narrowed(trial, posterior),
        checks=checks,
        chance=chance,
        effective=posterior.effective,
        agreement=agreement,
        contradictions=contradictions,
        words=_words(trial, posterior),
        next_trials=ranked_trials(trial, mode, fitted, target) if target else (),
        target=target,
        trial=trial,
        draws=posterior.draws,
    )


def _prior_rows(trial: Trial) -> tuple[FloatArray, FloatArray]:
    """Prior draws of scores and law scores, the middle first, and the readings they give."""
    from scipy.special import ndtri
    from scipy.stats import qmc

    cube = qmc.Sobol(trial.size + trial.law_size, seed=1).random(_STARTS)
    points = ndtri(np.clip(cube, 1e-3, 1 - 1e-3))
    points[0] = 0.0
    return points, trial.predicted(points[:, : trial.size], points[:, trial.size :])


def _mode(model: _Model, starts: FloatArray) -> FloatArray:
    """Most likely scores and law scores.

    Limits make cliffs that no slope shows, so a population goes first: draws weighted by a
    tempered density renew their own normal until the whole density counts.
    """

    def density(points: FloatArray) -> FloatArray:
        return np.asarray(-0.5 * np.sum(model.joint_residuals(points) ** 2, axis=1))

    size = starts.shape[1]
    first = Laplace(np.zeros(size), np.eye(size), 0.0)
    _, best = _tempered(density, first, count=512, rounds=8, kept=starts)
    return _descended(model.joint_residuals, best)


def _tempered(
    density: Callable[[FloatArray], FloatArray],
    first: Laplace,
    *,
    count: int,
    rounds: int,
    least: float = 0.12,
    kept: FloatArray | None = None,
) -> tuple[Laplace, FloatArray]:
    """Normal that follows a density, and the best point met; weights tempered to stay many."""
    mean, covariance = first.mode, first.covariance
    size, rng = mean.size, np.random.default_rng(1)
    top, best = -np.inf, mean
    points = kept
    for _ in range(rounds):
        root = np.linalg.cholesky(covariance)
        if points is None:
            points = mean + rng.standard_normal((count, size)) @ root.T
        unit = np.linalg.solve(root, (points - mean).T)
        worth = density(points)
        if worth.max() > top:
            top, best = float(worth.max()), points[int(np.argmax(worth))]
        logs = worth + 0.5 * np.sum(unit**2, axis=0)
        power, weights = _softened(logs, least)
        mean = weights @ points
        apart = points - mean
        seen = (weights[:, None] * apart).T @ apart
        share = min(1.0, 1.0 / np.sum(weights**2) / (4.0 * size))
        wide = 1.05 * (share * seen + (1.0 - share) * np.diag(np.diag(seen)))
        covariance = wide + 2e-3 * np.eye(size)
        points = None
        if power >= 1.0:
            break
    return Laplace(mean, covariance, top), best


def _softened(logs: FloatArray, least: float) -> tuple[float, FloatArray]:
    """Largest power up to 1 at which a share of the draws still counts, and the weights there."""

    def weights_at(power: float) -> FloatArray:
        found = np.exp(power * (logs - logs.max()))
        return np.asarray(found / found.sum())

    def share(power: float) -> float:
        return float(1.0 / np.sum(weights_at(power) ** 2) / logs.size)

    if share(1.0) >= least:
        return 1.0, weights_at(1.0)
    low, high = 0.0, 1.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if share(middle) >= least else (low, middle)
    return low, weights_at(low)


def _descended(function: Callable[[FloatArray], FloatArray], start: FloatArray) -> FloatArray:
    from scipy.optimize import least_squares

    find: Any = least_squares  # its overloads cannot tell what a short function takes
    found = find(
        lambda z: function(z[None, :])[0],
        start,
        jac=lambda z: _slopes(function, z),
        bounds=(-5.0, 5.0),
        max_nfev=20,
        xtol=1e-5,
        ftol=1e-6,
    )
    return np.asarray(found.x)


def _laplace(model: _Model, mode: FloatArray) -> Laplace:
    slopes = _slopes(model.residuals, mode)
    covariance = np.linalg.inv(slopes.T @ slopes)
    return Laplace(mode, (covariance + covariance.T) / 2, float(model.log_density(mode)[0]))


def _second_method(model: _Model, posterior: Posterior) -> str:
    """Ensemble of walkers on the same exact path; both methods must give one posterior."""
    about = Laplace(posterior.mean, np.cov(posterior.draws.T), 0.0)
    walked = sample_posterior(
        model.log_density,
        about,
        draws=_LEAST_WALKED,
        walkers=5 * model.trial.size,
        most_r_hat=1.05,
        longest=1000,
    )
    names = [*model.trial.names, *(f"plate {name}" for name in model.trial.plates)]
    check_agreement(posterior, walked, names)
    return (
        f"{posterior.method} (about {posterior.effective:.0f} effective) and {walked.method} "
        f"({walked.effective:.0f} effective, r-hat {walked.r_hat:.3f}) agree"
    )


def _population(model: _Model, approximation: Laplace) -> Posterior:
    """Draws about the normal approximation, weighted, then moved until they have mixed.

    Limits cut and bend the posterior, so weights alone would leave few draws: every draw is moved
    by Metropolis steps of the exact density afterwards.
    """
    # a slope taken across a limit makes a spread far too narrow: start no narrower than a third
    wide = approximation.covariance + 0.1 * np.eye(model.trial.size)
    first = Laplace(approximation.mode, wide, approximation.log_density)
    proposal, _ = _tempered(model.log_density, first, count=1024, rounds=6, least=0.06)
    weighted = importance_sampled(model.log_density, proposal, _DRAWS)
    if weighted.effective < _LEAST_EFFECTIVE:
        raise DisagreementError(
            f"posterior: only {weighted.effective:.0f} of {_DRAWS} draws carry weight (allowed: "
            f"{_LEAST_EFFECTIVE:.0f} or more): the normal approximation and the exact density "
            "disagree; take the runs apart by sludge or frame, or add runs"
        )
    return _moved(model, weighted)


def _moved(model: _Model, weighted: Posterior) -> Posterior:
    rng = np.random.default_rng(2)
    points = weighted.draws[:_MOVED].copy()
    worth, size = model.log_density(points), points.shape[1]
    root = np.linalg.cholesky(np.cov(weighted.draws.T) + 1e-6 * np.eye(size))
    scale, accepted = 1.6 / np.sqrt(size), 0.0
    for _ in range(_MOVES):
        tried = points + scale * rng.standard_normal(points.shape) @ root.T
        new = model.log_density(tried)
        taken = np.log(rng.random(len(points))) < new - worth
        points[taken], worth[taken] = tried[taken], new[taken]
        share = float(np.mean(taken))
        accepted += share
        scale *= float(np.clip(np.exp(share - 0.25), 0.7, 1.4))
    # a draw moved m times by accepted steps of a third of the spread counts like 1 + m/4 fresh ones
    effective = min(float(_MOVED), weighted.effective * (1.0 + 0.25 * accepted))
    return Posterior(points, effective, 1.0, "weighted and moved draws")


def _fitted(model: _Model, posterior: Posterior, date: str, mark: Mark) -> FittedPress:
    """Parameters on their lines with the law's scores, jointly normal."""
    trial = model.trial
    priors = parameter_priors(trial.kind)
    count = len(trial.names)
    lines = np.stack(
        [
            _line_of(priors[n].at(posterior.draws[:, i]), priors[n].line)
            for i, n in enumerate(trial.names)
        ],
        axis=1,
    )
    law = model.away(model.rows(posterior.draws)) @ model.gain.T
    covariance = np.cov(np.concatenate([lines, law], axis=1).T)
    covariance[count:, count:] += model.law_left
    return FittedPress(
        machine=trial.kind,
        frame=trial.frame,
        names=trial.names,
        mean=np.concatenate([lines.mean(axis=0), law.mean(axis=0)]),
        covariance=covariance,
        runs=len(trial.runs),
        date=date,
        sludge=trial.law.sludge,
        law=trial.key,
        basis=Basis.MEASURED,
        mark=mark,
        notes=(f"{posterior.effective:.0f} effective draws",),
    )


def _line_of(values: FloatArray, line: str) -> FloatArray:
    return np.asarray(np.log(values) if line == "log" else np.log(values / (1.0 - values)))


def _narrowed(trial: Trial, posterior: Posterior) -> tuple[Narrowed, ...]:
    priors, found = parameter_priors(trial.kind), []
    for i, name in enumerate(trial.names):
        prior = priors[name]
        low, middle, high = np.quantile(prior.at(posterior.draws[:, i]), (0.1, 0.5, 0.9))
        left = float(np.std(posterior.draws[:, i]))
        before = (prior.low, prior.typical, prior.high)
        after = (float(low), float(middle), float(high))
        found.append(Narrowed(name, prior.unit, before, after, left))
    return tuple(found)


def predictive(trial: Trial, rows: FloatArray) -> FloatArray:
    """10, 50 and 90 % points of every reading, in its own unit, from rows of predictions."""
    found = np.quantile(rows, (0.1, 0.5, 0.9), axis=0)
    plain = [on_value(name, found[:, at]) for at, (_, name) in enumerate(trial.observed)]
    return np.stack(plain, axis=1)


def on_value(name: str, line: FloatArray) -> FloatArray:
    """A reading back from its line."""
    return line if name == "capture" else np.exp(line)


def _after(model: _Model, rows: FloatArray) -> FloatArray:
    """Predictions with the law's scores as the readings leave them, drawn."""
    values, vectors = np.linalg.eigh(model.law_left)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    normals = np.random.default_rng(1).standard_normal((len(rows), model.law.size))
    law = model.away(rows) @ model.gain.T + normals @ root.T
    return np.asarray(rows + (law - model.law) @ model.slopes.T)


def _checks(
    model: _Model, odd: FloatArray, prior_rows: FloatArray, after_rows: FloatArray
) -> tuple[RunCheck, ...]:
    trial = model.trial
    before, after = predictive(trial, prior_rows), predictive(trial, after_rows)

    def band(table: FloatArray, at: int) -> tuple[float, float, float]:
        low, middle, high = (float(v) for v in table[:, at])
        return low, middle, high

    return tuple(
        RunCheck(
            trial.runs[run].name,
            name,
            *trial.runs[run].readings[name],
            band(before, at),
            band(after, at),
            float(odd[at]),
        )
        for at, (run, name) in enumerate(trial.observed)
    )


def _marginal(model: _Model, draws: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Residual and covariance of the readings with the scores integrated out.

    Linear in the scores, by regression over the posterior's draws: a slope taken at one point
    may cross a limit.
    """
    rows, missed = model.trial.predicted_with_reach(draws, model.law[None, :])
    within = ~np.any(missed > 0.0, axis=1)
    if np.sum(within) > 3 * draws.shape[1]:
        draws, rows = draws[within], rows[within]
    centre, level = draws.mean(axis=0), rows.mean(axis=0)
    ridge = 1e-6 * np.eye(centre.size)
    apart = draws - centre
    slopes = np.linalg.solve(apart.T @ apart + ridge, apart.T @ (rows - level)).T
    away = model.away(level[None, :])[0] + slopes @ centre
    return away, model.covariance + slopes @ slopes.T


def _left_out(
    model: _Model, joint: FloatArray, after: FloatArray, marginal: tuple[FloatArray, FloatArray]
) -> FloatArray:
    """Standardised residual of every reading from what the other runs foretell, run by run.

    ``after`` are predictions over the posterior. Where the runs do not sit well together the
    others are fitted anew without the run in question: an odd run bends the fit towards itself.
    """
    away, covariance = marginal
    runs = np.array([run for run, _ in model.trial.observed])
    found = np.zeros(away.size)
    for run in np.unique(runs):
        mine, others = np.flatnonzero(runs == run), np.flatnonzero(runs != run)
        cross = covariance[np.ix_(mine, others)]
        gain = cross @ np.linalg.pinv(covariance[np.ix_(others, others)])
        left = np.diag(covariance[np.ix_(mine, mine)] - gain @ cross.T)
        found[mine] = (away[mine] - gain @ away[others]) / np.sqrt(np.maximum(left, 1e-300))
    noise = model.trial.noise
    outside = (model.trial.data - np.median(after, axis=0)) / np.hypot(noise, after.std(axis=0))
    doubted = _chance(away, covariance) < _DOUBTED or np.any(np.abs(outside) > _SUSPECT)
    if len(np.unique(runs)) > 1 and doubted:
        # without a run the others tell less than with it: twice the spread left
        found = _refitted(model, joint, runs) / np.hypot(noise, 2.0 * after.std(axis=0))
    return found


def _refitted(model: _Model, joint: FloatArray, runs: FloatArray) -> FloatArray:
    """Residual of every reading from the fit without the run that the others miss least.

    That run is the one whose leaving lets the rest sit best; its own residual is a foretelling.
    """
    split = model.trial.size
    best, found = np.inf, np.zeros(runs.size)
    for run in np.unique(runs):
        others = np.concatenate([runs != run, np.arange(len(model.trial.runs)) != run])
        kept = np.concatenate([others, np.ones(joint.size, dtype=bool)]).astype(float)

        def rest(z: FloatArray, kept: FloatArray = kept) -> FloatArray:
            return model.joint_residuals(z) * kept

        fit = _descended(rest, joint)
        left = float(np.sum(rest(fit[None, :]) ** 2))
        if left < best:
            rows = model.trial.predicted(fit[None, :split], fit[None, split:])[0]
            best, found = left, model.trial.data - rows
    return found


def _chance(away: FloatArray, covariance: FloatArray) -> float:
    """Chance of readings this far from the model if the model holds."""
    from scipy.stats import chi2

    return float(chi2.sf(away @ np.linalg.solve(covariance, away), away.size))


def _contradictions(checks: tuple[RunCheck, ...], chance: float, trial: Trial) -> tuple[str, ...]:
    found: list[str] = []
    worst = max(checks, key=lambda check: abs(check.odd))
    if worst.contradicts and len(trial.runs) > 1:
        side = "above" if worst.odd > 0 else "below"
        found.append(
            f"run {worst.run}: {worst.output.replace('_', ' ')} lies {abs(worst.odd):.1f} standard "
            f"deviations {side} what the other runs foretell; check its sampling and settings, or "
            "leave it out and calibrate again: the others are bent by it until then"
        )
    if chance < _LEAST_CHANCE:
        found.append(
            f"the runs as a whole lie beyond what the model allows (chance {chance:.1g}): the "
            "sludge changed between runs, a unit is wrong, or the law is not of this sludge"
        )
    return tuple(found)


def _words(trial: Trial, posterior: Posterior) -> tuple[str, ...]:
    learnt = [
        name.replace("_", " ")
        for i, name in enumerate(trial.names)
        if np.std(posterior.draws[:, i]) < 0.8
    ]
    kept = [
        name.replace("_", " ")
        for i, name in enumerate(trial.names)
        if np.std(posterior.draws[:, i]) >= 0.8
    ]
    words = [f"narrowed by a fifth or more: {', '.join(learnt) or 'none'}"]
    if kept:
        words.append(f"still as in the prior: {', '.join(kept)}")
    if len(trial.runs) == 1:
        words.append(
            "one run only: it fixes one combination of the parameters (the level of cake and "
            "capture at this setting) and tells nothing about how they change with speed, plate, "
            "load or dose, nor whether the run was odd; run two more settings at least"
        )
    distinct = {(r.speed, r.back_pressure, r.plate) for r in trial.runs}
    if len(trial.runs) > 1 and len(distinct) == 1:
        words.append(
            "all runs at one speed and plate: they repeat each other; change the settings between "
            "runs"
        )
    if any(_outside(trial.law, run) for run in trial.runs):
        words.append("some runs use a dose outside the tested ones: the law is extrapolated there")
    return tuple(words)


def _outside(law: SludgeLaw, run: PilotRun) -> bool:
    return law.dose_high > law.dose_low and not law.dose_low <= run.dose <= law.dose_high
