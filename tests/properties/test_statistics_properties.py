"""What holds for any distribution, balance, chart or plan."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from cakewright.statistics import (
    PassRule,
    RuleKind,
    chance_best,
    cusum_chart,
    draw,
    normal_marginal,
    quantile,
    reach_of_runs,
    reconcile,
    two_piece_marginal,
    value_partial_information,
    value_perfect_information,
)

FEW = settings(max_examples=25, deadline=None)
number = st.floats(0.01, 100.0)


@FEW
@given(st.lists(number, min_size=3, max_size=3), st.sampled_from([0.0, -np.inf]))
def test_quantiles_rise_and_keep_bounds(three: list[float], lower: float) -> None:
    """Any low/typical/high gives rising quantiles that hit the three and keep the bound."""
    low, typical, high = sorted(three)
    marginal = two_piece_marginal(low, typical, high, lower=lower)
    got = quantile(marginal, np.linspace(0.001, 0.999, 41))
    assert np.all(np.diff(got) >= 0)
    assert got[0] >= lower
    np.testing.assert_allclose(
        quantile(marginal, np.array([0.1, 0.5, 0.9])), [low, typical, high], rtol=1e-9
    )


@FEW
@given(st.floats(-0.95, 0.95), st.integers(0, 10_000))
def test_draws_have_the_correlation_asked_for(r: float, seed: int) -> None:
    """Any correlation and seed: sample correlation within 0.03, point case in front."""
    two = {"a": normal_marginal(1.0, 2.0), "b": normal_marginal(-3.0, 0.1)}
    got = draw(two, 2048, {("a", "b"): r}, seed)
    assert abs(np.corrcoef(got["a"][1:], got["b"][1:])[0, 1] - r) < 0.03
    assert (got["a"][0], got["b"][0]) == (1.0, -3.0)


@FEW
@given(
    st.lists(number, min_size=4, max_size=4), st.lists(st.floats(0.01, 2.0), min_size=4, max_size=4)
)
def test_reconciled_values_close_and_know_more(y: list[float], spread: list[float]) -> None:
    """Any readings: balances close, no value gets less certain, misfit is not negative."""
    matrix = np.array([[1.0, -1.0, -1.0, 0.0], [0.0, 1.0, 0.0, -1.0]])
    covariance = np.diag(spread) ** 2
    got = reconcile(np.array(y), covariance, lambda x: x @ matrix.T)
    np.testing.assert_allclose(matrix @ got.values, 0, atol=1e-7)
    assert np.all(got.standard_errors <= np.array(spread) * (1 + 1e-9))
    assert got.misfit >= 0


@FEW
@given(st.integers(0, 10_000), st.integers(1, 4))
def test_value_of_information_is_ordered(seed: int, options: int) -> None:
    """Any benefits: 0 <= partial <= perfect within sampling error; chances add to one."""
    generator = np.random.default_rng(seed)
    known = generator.normal(size=600)
    benefit = generator.normal(size=(600, options)) + known[:, None] * np.arange(options)
    partial, perfect = value_partial_information(benefit, known), value_perfect_information(benefit)
    assert 0 <= partial.value <= perfect.value + 3 * perfect.standard_error
    assert abs(chance_best(benefit).sum() - 1) < 1e-9


@FEW
@given(st.lists(st.floats(-5, 5), min_size=2, max_size=40), st.floats(0, 2))
def test_cusum_sides_mirror(x: list[float], reference: float) -> None:
    """Any readings: sums are not negative, and turning the sign swaps the sides."""
    values = cusum_chart(np.array(x), 0.0, 1.0, reference).values
    mirrored = cusum_chart(-np.array(x), 0.0, 1.0, reference).values
    assert np.all(values >= 0)
    np.testing.assert_allclose(values, mirrored[::-1], atol=1e-9)


@FEW
@given(st.integers(1, 12), st.sampled_from(RuleKind), st.floats(0.0, 2.0))
def test_a_shifted_test_shifts_its_verdict(n: int, kind: RuleKind, common: float) -> None:
    """Any rule: results that are all better by a step pass promises harder by that step."""
    rule = PassRule(kind, 1, n, 0.1, 0.05)
    x = np.random.default_rng(n).standard_normal((20, n))
    one, two = (reach_of_runs(rule, x + step, common, 1.0, 0.7, 0.1) for step in (0.0, 1.5))
    np.testing.assert_allclose(two.passes - one.passes, 1.5)
    np.testing.assert_allclose(two.fails - one.fails, 1.5)
    assert np.all(one.passes <= one.fails + 1e-12)
