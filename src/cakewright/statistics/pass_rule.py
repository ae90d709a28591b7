"""The pass rule of a test: one function that plans it, prints it and judges by it.

A rule turns the results of runs into two limits. A promise ("at least") easier than the first is
passed, one harder than the second is failed; between the two the test does not decide. For "at
most" change the sign of values and limits.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy import special

from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray
from cakewright.statistics.sequential import sequential_test

__all__ = [
    "PassRule",
    "Reach",
    "RuleKind",
    "reach_of_runs",
    "runs_to_decide",
    "runs_to_prove",
    "sample_size_known_deviation",
]

#: Degrees of freedom of errors common to all runs, stated and not found by the test.
COMMON_FREEDOM = 50.0


class RuleKind(StrEnum):
    """How the mean of the runs is held against the promise."""

    AS_READ = "as read"
    GUARD_BAND = "guard band"
    SEQUENTIAL = "sequential"


@dataclass(frozen=True, slots=True)
class PassRule:
    """What both parties agree on: kind, fewest and most runs, and the two risks.

    ``wrong_pass`` is the chance that a value just short of the promise passes (buyer's risk),
    ``wrong_fail`` that one that keeps it fails (supplier's risk). Only a sequential test makes
    more than the fewest runs.
    """

    kind: RuleKind
    runs: int
    most_runs: int = 0
    wrong_pass: float = 0.05
    wrong_fail: float = 0.05

    @property
    def longest(self) -> int:
        """Runs at most."""
        return max(self.runs, self.most_runs if self.kind is RuleKind.SEQUENTIAL else 0)


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """What tests have shown: hardest promise passed, easiest promise failed, budget of the mean.

    ``passes`` is minus and ``fails`` plus infinity where too few runs were made for a verdict.
    """

    passes: FloatArray
    fails: FloatArray
    mean: FloatArray
    deviation: FloatArray
    freedom: FloatArray


def reach_of_runs(
    rule: PassRule,
    values: FloatArray,
    common: FloatArray | float = 0.0,
    scatter: float = 0.0,
    margin: float = 0.0,
    guard: float = 0.0,
) -> Reach:
    r"""Hardest promise that the runs pass, easiest that they fail, by the rule.

    .. math:: u^2 = s^2/n + u_c^2, \qquad
        \nu = \frac{u^4}{(s^2/n)^2/(n-1) + u_c^4/50}

    As read: both are the mean. Guard band: :math:`\bar x - t_{1-\beta,\nu} u` and
    :math:`\bar x + t_{1-\alpha,\nu} u`. Sequential: the lines of Wald's test between the promise
    and the promise plus a margin, run by run; after the last run its middle line decides.

    Parameters
    ----------
    rule : PassRule
        The rule. [object]
    values : ndarray, shape (..., n)
        Result of each run, in their order. [1]
    common : float or ndarray
        Standard uncertainty common to all runs; :math:`u_c`; >= 0. [1]
    scatter : float
        Standard deviation of a run agreed beforehand; used by a sequential test, and where a
        single run has none of its own. [1]
    margin : float
        Sequential: how much better than the promise a machine is that must not fail. [1]
    guard : float
        Sequential: distance added to the promise for what is common to all runs. [1]

    Returns
    -------
    reach_of_runs : Reach
        One value per test. [object]

    Raises
    ------
    OutOfRangeError
        If a sequential rule comes without scatter and margin.

    References
    ----------
    .. [1] L93 (combined uncertainty and its degrees of freedom)
    .. [2] L100 (Wald's test)
    .. [3] MEM, guarded acceptance of the guide to conformity assessment (JCGM 106), with the
       quantile of Student's law in place of the normal one.

    Examples
    --------
    >>> read = reach_of_runs(PassRule(RuleKind.AS_READ, 3), np.array([19.0, 20.0, 21.0]))
    >>> float(read.passes), float(read.fails)
    (20.0, 20.0)
    """
    x = np.asarray(values, dtype=float)
    mean, deviation, freedom = _budget(x, np.asarray(common, dtype=float), scatter)
    if x.shape[-1] < rule.runs:
        open_ended = np.full(mean.shape, np.inf)
        return Reach(-open_ended, open_ended, mean, deviation, freedom)
    if rule.kind is RuleKind.AS_READ:
        return Reach(mean, mean, mean, deviation, freedom)
    if rule.kind is RuleKind.GUARD_BAND:
        passes = mean - special.stdtrit(freedom, 1.0 - rule.wrong_pass) * deviation
        fails = mean + special.stdtrit(freedom, 1.0 - rule.wrong_fail) * deviation
        return Reach(np.asarray(passes), np.asarray(fails), mean, deviation, freedom)
    passes, fails = _lines(rule, x, scatter, margin, guard)
    return Reach(passes, fails, mean, deviation, freedom)


def _budget(
    x: FloatArray, common: FloatArray, scatter: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean, its standard uncertainty and degrees of freedom."""
    count = x.shape[-1]
    mean = np.asarray(x.mean(axis=-1))
    own = np.asarray(x.std(axis=-1, ddof=1) ** 2 / count) if count > 1 else mean * 0 + scatter**2
    # A single run has no scatter of its own: the one agreed on stands for it, as well known.
    degrees = count - 1.0 if count > 1 else COMMON_FREEDOM
    both = own + common**2
    below = own**2 / degrees + common**4 / COMMON_FREEDOM
    safe = np.where(below > 0, below, 1.0)
    freedom = np.where(below > 0, both**2 / safe, COMMON_FREEDOM)
    return mean, np.asarray(np.sqrt(both)), np.asarray(np.maximum(freedom, 1.0))


def _lines(
    rule: PassRule, x: FloatArray, scatter: float, margin: float, guard: float
) -> tuple[FloatArray, FloatArray]:
    """Hardest promise passed and easiest failed by the lines, whichever is met first."""
    if not scatter > 0 or not margin > 0:
        raise OutOfRangeError(
            f"sequential rule: got scatter {scatter:g} and margin {margin:g}; both must be agreed "
            "beforehand and be > 0: take the protocol that `guarantee` wrote"
        )
    test = sequential_test(scatter, guard, guard + margin, rule.wrong_pass, rule.wrong_fail)
    number = np.arange(1, x.shape[-1] + 1)
    middle = np.cumsum(x, axis=-1) / number - test.slope
    up, down = middle - test.upper / number, middle + test.lower / number
    last = x.shape[-1] >= rule.longest
    if last:
        at = rule.longest - 1
        up, down = up[..., : at + 1].copy(), down[..., : at + 1].copy()
        up[..., at] = down[..., at] = middle[..., at]
    judged = slice(rule.runs - 1, None)
    up, down = up[..., judged], down[..., judged]
    lead = np.full((*up.shape[:-1], 1), np.inf)
    before_down = np.concatenate([lead, np.minimum.accumulate(down, axis=-1)[..., :-1]], axis=-1)
    before_up = np.concatenate([-lead, np.maximum.accumulate(up, axis=-1)[..., :-1]], axis=-1)
    passes = np.max(np.minimum(up, before_down), axis=-1)
    fails = np.min(np.maximum(down, before_up), axis=-1)
    return np.asarray(passes), np.asarray(fails)


def runs_to_decide(
    rule: PassRule, away: float, made: int, scatter: float, common: float, most: int = 200
) -> int | None:
    r"""Runs in all at which a mean this far from the promise would decide; None where none can.

    Only the scatter between runs averages out: what is common to all runs stays.

    Parameters
    ----------
    rule : PassRule
        A rule with a guard band. [object]
    away : float
        Mean less promise; above 0 on the side of a pass. [1]
    made : int
        Runs made so far. [1]
    scatter : float
        Standard deviation of one run. [1]
    common : float
        Standard uncertainty common to all runs. [1]
    most : int
        Runs considered. [1]

    Returns
    -------
    runs_to_decide : int or None
        Runs in all. [1]

    References
    ----------
    .. [1] L93 (combined uncertainty and its degrees of freedom)

    Examples
    --------
    >>> runs_to_decide(PassRule(RuleKind.GUARD_BAND, 3), 1.0, 3, 1.0, 0.0)
    5
    >>> runs_to_decide(PassRule(RuleKind.GUARD_BAND, 3), 1.0, 3, 1.0, 0.7) is None
    True
    """
    counts = np.arange(max(made + 1, rule.runs, 2), most + 1)
    own = scatter**2 / counts
    both = own + common**2
    freedom = both**2 / (own**2 / (counts - 1.0) + common**4 / COMMON_FREEDOM + 1e-300)
    risk = rule.wrong_pass if away >= 0 else rule.wrong_fail
    enough = abs(away) >= special.stdtrit(freedom, 1.0 - risk) * np.sqrt(both)
    return int(counts[np.argmax(enough)]) if enough.any() else None


def runs_to_prove(
    rule: PassRule, margin: float, scatter: float, common: float, most: int = 400
) -> int | None:
    r"""Fewest runs that tell a machine better by a margin from one just on the promise.

    .. math:: \delta \ge (t_{1-\beta,\nu} + t_{1-\alpha,\nu})\, u(n)

    Parameters
    ----------
    rule : PassRule
        The two risks. [object]
    margin : float
        How much better; :math:`\delta`. [1]
    scatter : float
        Standard deviation of one run; >= 0. [1]
    common : float
        Standard uncertainty common to all runs; it does not shrink. [1]
    most : int
        Runs considered. [1]

    Returns
    -------
    runs_to_prove : int or None
        Runs, two at least; None where no number can. [1]

    References
    ----------
    .. [1] OWN, one-sided t tests at both risks, their sum in place of the non-central law.

    Examples
    --------
    >>> runs_to_prove(PassRule(RuleKind.GUARD_BAND, 3), 10.0, 15.0, 0.0)
    27
    """
    if margin <= 0.0:
        return None
    start = 2
    if scatter > 0.0:
        known = sample_size_known_deviation(rule.wrong_fail, rule.wrong_pass, scatter, margin)
        start = max(start, int(min(known, most)))
    counts = np.arange(start, most + 1)
    own = scatter**2 / counts
    both = own + common**2
    freedom = both**2 / (own**2 / (counts - 1.0) + common**4 / COMMON_FREEDOM + 1e-300)
    width = sum(special.stdtrit(freedom, 1.0 - r) for r in (rule.wrong_pass, rule.wrong_fail))
    enough = margin >= width * np.sqrt(both)
    return int(counts[np.argmax(enough)]) if enough.any() else None


def sample_size_known_deviation(
    producer_risk: float, consumer_risk: float, deviation: float, difference: float
) -> float:
    r"""Samples that tell two means apart, one-sided, with a known deviation.

    .. math:: n = \left(\frac{(z_\alpha + z_\beta)\,\sigma}{\delta}\right)^2

    Parameters
    ----------
    producer_risk : float
        Chance that the good one fails; :math:`\alpha`; 0 to 1. [1]
    consumer_risk : float
        Chance that the poor one passes; :math:`\beta`; 0 to 1. [1]
    deviation : float
        Standard deviation of a single sample; :math:`\sigma`; > 0. [1]
    difference : float
        Difference of good and poor mean; :math:`\delta`; > 0. [1]

    Returns
    -------
    sample_size_known_deviation : float
        Samples, not rounded; take the next whole number. [1]

    References
    ----------
    .. [1] OWN, two normal tails.

    Examples
    --------
    >>> round(sample_size_known_deviation(0.05, 0.05, 15.0, 10.0), 1)
    24.3
    """
    for name, value in (("producer's", producer_risk), ("consumer's", consumer_risk)):
        if not 0 < value < 1:
            raise OutOfRangeError(
                f"{name} risk: got {value:g}; it must lie strictly between 0 and 1"
            )
    if not deviation > 0 or not difference > 0:
        raise OutOfRangeError(
            f"sample size: got deviation {deviation:g}, difference {difference:g}; both must be "
            "> 0: a promise equal to the true value cannot be proved by any number of samples"
        )
    z = special.ndtri(1 - producer_risk) + special.ndtri(1 - consumer_risk)
    if z <= 0:
        raise OutOfRangeError("sample size: the two risks must add to less than one")
    return float((z * deviation / difference) ** 2)
