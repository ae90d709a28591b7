"""Machine parameters from trial runs: posterior, check by a second method, contradictions.

Machine and law are unknown together and drawn together. Theory and limits:
``docs/theory/calibration.md``.
"""

from __future__ import annotations

from collections.abc import Callable

from cakewright.errors import DataError, Fault
from cakewright.jobs.calibration_density import Density, most_likely
from cakewright.jobs.calibration_findings import (
    CalibrationFindings,
    Narrowed,
    RunCheck,
    checks_of,
    fitted_of,
    narrowed_of,
    words_of,
)
from cakewright.jobs.contradictions import contradictions_of
from cakewright.jobs.next_trial import Target, ranked_trials
from cakewright.jobs.trial import Trial
from cakewright.quantities import Mark
from cakewright.statistics.bayes import Laplace, Posterior, check_agreement
from cakewright.statistics.population import chains_about, moved_population

__all__ = ["CalibrationFindings", "Narrowed", "RunCheck", "calibrate", "checked_trial"]

Progress = Callable[[str], None]


def checked_trial(trial: Trial) -> None:
    """Refuse a trial that cannot carry a calibration.

    Raises
    ------
    DataError
        With every fault: no run, no reading, one name twice.
    """
    faults: list[Fault] = []
    if not any(run.ran for run in trial.runs):
        got = "none that ran" if trial.runs else "none"
        faults.append(Fault("runs", got, "one run or more", "add the runs of the trial"))
    names = [run.name for run in trial.runs]
    for name in sorted({n for n in names if names.count(n) > 1}):
        faults.append(Fault(f"run {name}", "the name twice", "each name once", "rename one"))
    for run in trial.runs:
        if run.ran and not run.readings:
            allowed = "cake solids, capture, power or torque"
            faults.append(Fault(f"run {run.name}", "no reading", allowed, "add one, or drop it"))
    if faults:
        raise DataError("trial runs", faults)


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
    density = Density(trial)
    mode = most_likely(density)
    progress("weighing and moving draws")
    posterior = moved_population(density.log_density, mode.laplace)
    agreement = "not checked by a second method"
    if with_check:
        progress("checking by a second method")
        agreement = _second_method(density, mode.laplace, posterior)
    progress("looking for contradictions")
    against = contradictions_of(density, mode)
    fitted = fitted_of(trial, posterior, date, mark)
    spread = Laplace(mode.at, mode.laplace.covariance, 0.0)
    return CalibrationFindings(
        fitted=fitted,
        narrowed=narrowed_of(trial, posterior),
        checks=checks_of(density, mode, posterior, against),
        chance=against.chance,
        effective=posterior.effective,
        agreement=agreement,
        contradictions=against.words,
        words=words_of(trial, posterior),
        next_trials=ranked_trials(trial, spread, target) if target else (),
        target=target,
        trial=trial,
        draws=posterior.draws[:, : trial.size],
    )


def _second_method(density: Density, mode: Laplace, posterior: Posterior) -> str:
    """Independent chains on the same density from dispersed starts; both must give one posterior.

    The first method lends the spread of the moves and, widened, of the starts; no draw of it.
    """
    import numpy as np

    about = Laplace(posterior.mean, 1.3 * np.cov(posterior.draws.T), mode.log_density)
    walked = chains_about(density.log_density, about)
    check_agreement(posterior, walked, density.names)
    return (
        f"{posterior.method} (about {posterior.effective:.0f} effective) and {walked.method} "
        f"({walked.effective:.0f} effective, r-hat {walked.r_hat:.3f}) agree"
    )
