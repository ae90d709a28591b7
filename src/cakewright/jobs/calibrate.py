"""Machine parameters from trial runs: posterior, check by a second method, contradictions.

Machine and law are unknown together and drawn together. Theory and limits:
``docs/theory/calibration.md``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from cakewright.errors import DataError, DisagreementError, Fault
from cakewright.jobs.calibration_density import Density, better, most_likely
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
from cakewright.jobs.first_look import Doubt, first_look, hard_runs, without_doubts
from cakewright.jobs.foreseen import foreseen_of, unforeseen_words
from cakewright.jobs.next_trial import Target, ranked_trials
from cakewright.jobs.trends import trends_missed
from cakewright.jobs.trial import Trial, calibration_table
from cakewright.quantities import Mark
from cakewright.statistics.bayes import Laplace, Posterior, check_agreement
from cakewright.statistics.population import chains_about, tempered_population

__all__ = [
    "CalibrationFindings",
    "Narrowed",
    "RunCheck",
    "calibrate",
    "checked_by_chains",
    "checked_trial",
    "settled",
    "widened",
]

Progress = Callable[[str], None]
# Two methods further apart than this are not pooled: shift in standard deviations, ratio of widths.
_APART = 1.0
_WIDER = 3.0
_LONGEST = 768  # steps of the chains at most: limits met make one posterior in ten slow to walk


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
    without_odd: bool = False,
    progress: Progress = lambda _: None,
) -> CalibrationFindings:
    """Posterior of the machine's parameters from trial runs.

    ``with_check`` False leaves out the second method (for studies over many made-up trials).
    ``without_odd`` goes on without readings that a first look finds to be no scatter; they are
    named either way.

    Raises
    ------
    DataError
        If the runs cannot carry it.
    DisagreementError
        If two methods give posteriors far apart: none is reported then.
    """
    checked_trial(trial)
    progress("looking for the most likely machine")
    density = Density(trial)
    mode = most_likely(density)
    progress("a first look at every reading")
    doubts = first_look(density, mode)
    if doubts and without_odd:
        trial = without_doubts(trial, doubts)
        density = Density(trial)
        mode = most_likely(density)
    progress("leading draws from the prior to the runs")
    agreement = "not checked by a second method"
    try:
        posterior = tempered_population(density.log_density, density.prior)
        if with_check:
            progress("checking by a second method")
            posterior, agreement = checked_by_chains(density, posterior)
    except DisagreementError as error:
        told = "; ".join(one.words for one in doubts) if not without_odd else ""
        raise DisagreementError(
            f"{error}. {told or hard_runs(density, mode)}. Leave them out (--without, or "
            "--without-odd for readings named here) and calibrate again"
        ) from None
    progress("looking for contradictions")
    foreseen = foreseen_of(trial, mode)
    mode = better(density, mode, posterior.draws)
    against = contradictions_of(density, mode, posterior.draws)
    posterior = widened(posterior)
    fitted = fitted_of(trial, posterior, date, mark)
    narrowed = narrowed_of(trial, posterior)
    spread = Laplace(mode.at, mode.laplace.covariance, 0.0)
    return CalibrationFindings(
        fitted=fitted,
        narrowed=narrowed,
        checks=checks_of(density, mode, posterior, against),
        chance=against.chance,
        effective=posterior.effective,
        agreement=agreement,
        contradictions=(
            *_told(doubts, left_out=without_odd),
            *against.words,
            *trends_missed(trial, density.answers(posterior.draws)[0]),
        ),
        words=(*words_of(trial, narrowed), *unforeseen_words(foreseen)),
        foreseen=foreseen,
        next_trials=ranked_trials(trial, spread, target) if target else (),
        target=target,
        trial=trial,
        draws=posterior.draws[:, : trial.size],
    )


def _told(doubts: Sequence[Doubt], *, left_out: bool) -> list[str]:
    end = "; left out" if left_out else "; check it, or go on without it (--without-odd)"
    return [one.words + end for one in doubts]


def widened(posterior: Posterior) -> Posterior:
    """The draws farther from their mean, so that bands hold as many hidden values as they state.

    No score gets wider than it was before the trial, where its deviation was 1.
    """
    import numpy as np

    most = float(calibration_table()["posterior"]["wider"])
    factor = np.clip(1.0 / posterior.deviation, 1.0, most)
    return replace(posterior, draws=posterior.mean + factor * (posterior.draws - posterior.mean))


def checked_by_chains(density: Density, posterior: Posterior) -> tuple[Posterior, str]:
    """Independent chains on the same density from dispersed starts, and what both give together.

    The first method lends the spread of the moves and, widened, of the starts; no draw of it.
    """
    import numpy as np

    about = Laplace(posterior.mean, 1.3 * np.cov(posterior.draws.T), 0.0)
    chains = chains_about(density.log_density, about, longest=_LONGEST)
    return settled(posterior, chains, density.names)


def settled(one: Posterior, other: Posterior, names: Sequence[str]) -> tuple[Posterior, str]:
    """The posterior two methods leave, and a word on how they agree.

    Where they differ a little, the draws of both are pooled, which widens the bands.

    Raises
    ------
    DisagreementError
        If they differ by more than a standard deviation, or one is three times as wide.
    """
    import numpy as np

    both = (
        f"{one.method} (about {one.effective:.0f} effective) and {other.method} "
        f"({other.effective:.0f} effective, r-hat {other.r_hat:.3f})"
    )
    try:
        check_agreement(one, other, names)
    except DisagreementError as error:
        check_agreement(one, other, names, most_shift=_APART, most_ratio=_WIDER)
        count = min(len(one.draws), len(other.draws))
        rows = [np.linspace(0, len(p.draws) - 1, count).astype(int) for p in (one, other)]
        draws = np.concatenate([one.draws[rows[0]], other.draws[rows[1]]])
        effective = min(one.effective, other.effective)
        pooled = Posterior(draws, effective, max(one.r_hat, other.r_hat), "two methods pooled")
        told = str(error).split("; neither")[0].removeprefix("posterior: two methods disagree on ")
        return pooled, f"{both} differ on {told}: their draws are pooled, which widens the bands"
    return one, f"{both} agree"
