"""The pass rule against the non-central t, Wald's own numbers and tests played by chance."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray
from cakewright.statistics.pass_rule import (
    PassRule,
    RuleKind,
    reach_of_runs,
    runs_to_decide,
    runs_to_prove,
    sample_size_known_deviation,
)

BAND = PassRule(RuleKind.GUARD_BAND, 3, 0, 0.05, 0.05)


def _runs(count: int, scatter: float, common: float = 0.0, tests: int = 200_000) -> FloatArray:
    rng = np.random.default_rng(4)
    own = scatter * rng.standard_normal((tests, count))
    return np.asarray(own + common * rng.standard_normal((tests, 1)))


@pytest.mark.parametrize(("runs", "better"), [(2, 0.0), (3, 1.0), (5, 0.7), (8, -0.5)])
def test_guard_band_passes_as_the_noncentral_t_says(runs: int, better: float) -> None:
    """Scatter found by the runs alone: chance to pass against the statistics library's law."""
    rule = PassRule(RuleKind.GUARD_BAND, runs, 0, 0.05, 0.05)
    passed = np.mean(reach_of_runs(rule, better + _runs(runs, 1.0)).passes >= 0.0)
    at = stats.t.isf(0.05, runs - 1)
    want = stats.nct.sf(at, runs - 1, np.sqrt(runs) * better) if better else 0.05
    assert passed == pytest.approx(float(want), abs=0.003)


@pytest.mark.parametrize(("scatter", "common"), [(1.0, 0.5), (2.0, 0.5), (3.0, 0.5), (0.3, 0.5)])
def test_wrong_verdicts_stay_near_the_agreed_risk(scatter: float, common: float) -> None:
    """On the promise: by the normal law 5 % became 6 to 12 %; by Student's law it stays near 5."""
    found = reach_of_runs(BAND, _runs(3, scatter, common), common)
    assert 0.035 < np.mean(found.passes >= 0.0) < 0.065
    assert 0.035 < np.mean(found.fails <= 0.0) < 0.065


def test_as_read_and_too_few() -> None:
    """As read the mean is both limits; on fewer runs than agreed nothing passes or fails."""
    read = reach_of_runs(PassRule(RuleKind.AS_READ, 3), np.array([1.0, 2.0, 6.0]))
    assert float(read.passes) == float(read.fails) == 3.0
    few = reach_of_runs(BAND, np.array([1.0, 2.0]))
    assert float(few.passes) == -np.inf
    assert float(few.fails) == np.inf


def test_a_single_run_takes_the_agreed_scatter() -> None:
    """Guidance on conformity: the band is the quantile times the standard uncertainty."""
    one = reach_of_runs(PassRule(RuleKind.GUARD_BAND, 1, 0, 0.05, 0.05), np.array([20.0]), 0.3, 0.4)
    assert float(one.deviation) == pytest.approx(0.5)
    assert 20.0 - float(one.passes) == pytest.approx(1.66 * 0.5, rel=0.02)


def _walked(x: FloatArray, guard: float, margin: float, rule: PassRule) -> int:
    """Wald's test done by hand on one row: +1 passes, -1 fails."""
    up = np.log((1 - rule.wrong_fail) / rule.wrong_pass) / margin
    down = np.log((1 - rule.wrong_pass) / rule.wrong_fail) / margin
    total = 0.0
    for n, value in enumerate(x, start=1):
        total += value - guard - margin / 2
        if n < rule.runs:
            continue
        if n == rule.longest:
            return 1 if total >= 0 else -1
        if total >= up or total <= -down:
            return 1 if total >= up else -1
    return 0


def test_sequential_lines_run_by_run() -> None:
    """The closed form over all runs gives the verdict that walking along the lines gives."""
    rule = PassRule(RuleKind.SEQUENTIAL, 2, 7, 0.1, 0.05)
    x = 0.4 + _runs(7, 1.0, tests=400)
    found = reach_of_runs(rule, x, 0.0, 1.0, 0.8, 0.1)
    for row, passes, fails in zip(x, found.passes, found.fails, strict=True):
        assert _walked(row, 0.1, 0.8, rule) == (1 if passes >= 0.0 else -1)
        assert (passes >= 0.0) != (fails <= 0.0)


def test_sequential_risks_are_no_larger_than_agreed() -> None:
    """Wald's bounds: at most the agreed risks, and about half the runs of a fixed test."""
    rule = PassRule(RuleKind.SEQUENTIAL, 1, 30, 0.05, 0.05)
    for true, wrong in ((0.0, 1), (1.0, -1)):
        found = reach_of_runs(rule, true + _runs(30, 1.0, tests=40_000), 0.0, 1.0, 1.0)
        verdict = np.where(found.passes >= 0.0, 1, -1)
        assert np.mean(verdict == wrong) < 0.05


def test_sequential_without_agreed_scatter_is_refused() -> None:
    """Lines need a scatter and a margin agreed beforehand."""
    with pytest.raises(OutOfRangeError, match="agreed"):
        reach_of_runs(PassRule(RuleKind.SEQUENTIAL, 2, 4), np.zeros(3))


@pytest.mark.parametrize(("margin", "common"), [(1.5, 0.0), (1.0, 0.2), (3.0, 0.0)])
def test_number_of_runs_proves_it_at_both_risks(margin: float, common: float) -> None:
    """Played: one better by the margin passes as often as agreed at that number, not at fewer."""
    runs = runs_to_prove(BAND, margin, 1.0, common)
    assert runs is not None
    shares = []
    for count in (runs, max(2, int(0.75 * runs))):
        rule = PassRule(RuleKind.GUARD_BAND, count, 0, 0.05, 0.05)
        x = margin + _runs(count, 1.0, common, 60_000)
        shares.append(np.mean(reach_of_runs(rule, x, common).passes >= 0.0))
    assert shares[0] > 0.945
    assert shares[1] < 0.95 or runs == 2
    assert runs_to_prove(BAND, 0.5, 1.0, 0.4) is None
    assert runs_to_prove(BAND, 0.0, 1.0, 0.0) is None


def test_further_runs_stop_at_the_common_error() -> None:
    """A mean within the common error of the promise is decided by no number of runs."""
    assert runs_to_decide(BAND, 0.5, 3, 1.0, 0.4) is None
    number = runs_to_decide(BAND, -1.0, 3, 1.0, 0.1)
    assert number is not None
    assert 3 < number < 10


@pytest.mark.parametrize("risks", [(0.0, 0.1), (0.1, 1.0)])
def test_impossible_risks_are_refused(risks: tuple[float, float]) -> None:
    """A risk of nothing or of all asks for no test."""
    with pytest.raises(OutOfRangeError, match="risk"):
        sample_size_known_deviation(*risks, 1.0, 1.0)
