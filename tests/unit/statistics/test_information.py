"""Value of information against the closed form for two options with a normal difference."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from cakewright.errors import OutOfRangeError
from cakewright.statistics.information import (
    chance_best,
    value_partial_information,
    value_perfect_information,
    value_sample_information,
)
from cakewright.statistics.marginals import normal_marginal
from cakewright.statistics.sampling import draw

MEAN, SX, SY = -30.0, 80.0, 60.0
DRAWN = draw({"x": normal_marginal(0, SX), "y": normal_marginal(0, SY)}, 8192)
X, Y = DRAWN["x"][1:], DRAWN["y"][1:]
BENEFIT = np.column_stack([np.full_like(X, 1000.0), 1000.0 + MEAN + X + Y])


def exact(spread: float) -> float:
    """Expected gain when the known part of the difference has this standard deviation."""
    z = abs(MEAN) / spread
    return float(spread * (norm.pdf(z) - z * norm.sf(z)))


def test_perfect_information() -> None:
    """Knowing all: the whole spread of the difference counts."""
    got = value_perfect_information(BENEFIT)
    assert got.value == pytest.approx(exact(np.hypot(SX, SY)), rel=0.01)
    assert 0 < got.standard_error < 1.0


@pytest.mark.parametrize(("known", "spread"), [(X, SX), (Y, SY), (np.c_[X, Y], np.hypot(SX, SY))])
def test_partial_information(known: Any, spread: float) -> None:
    """Knowing one input, or both: only its own spread counts."""
    got = value_partial_information(BENEFIT, known).value
    assert got == pytest.approx(exact(spread), rel=0.02)


def test_unrelated_input_is_worth_nothing() -> None:
    """An input that moves nothing has next to no value although every sample is noisy."""
    noise = np.random.default_rng(1).normal(size=X.size)
    assert value_partial_information(BENEFIT, noise).value < 0.02 * exact(SX)


def test_few_noisy_samples_do_not_invent_a_value() -> None:
    """Over 30 small sets an unrelated input stays near nothing where a stiff fit would not."""
    generator = np.random.default_rng(7)
    values = [
        value_partial_information(generator.normal(size=(256, 2)), generator.normal(size=256)).value
        for _ in range(30)
    ]
    assert np.mean(values) < 0.06


@pytest.mark.parametrize(("replicates", "bias"), [(1, 0.0), (4, 0.0), (4, 30.0), (400, 0.0)])
def test_sample_information(replicates: int, bias: float) -> None:
    """A measurement is worth what its share of the spread is worth."""
    error = bias**2 + 60.0**2 / replicates
    spread = SX**2 / np.sqrt(SX**2 + error)
    got = value_sample_information(BENEFIT, X, 60.0, replicates, bias)
    assert got.value == pytest.approx(exact(spread), rel=0.04)


def test_products_of_two_inputs_are_seen() -> None:
    """Two inputs that matter only together are worth something only together."""
    benefit = np.column_stack([np.zeros_like(X), X * Y / 50])
    assert value_partial_information(benefit, X).value < 1.0
    together = value_partial_information(benefit, np.c_[X, Y]).value
    assert together == pytest.approx(value_perfect_information(benefit).value, rel=0.1)


def test_chances_add_to_one_and_ties_are_shared() -> None:
    """Chance to be best matches the closed form; equal options split it."""
    got = chance_best(BENEFIT)
    assert got.sum() == pytest.approx(1)
    assert got[1] == pytest.approx(norm.sf(30 / 100), abs=0.01)
    assert chance_best(np.ones((5, 4))).tolist() == [0.25] * 4


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: value_perfect_information(np.ones(5)), r"\(samples, options\)"),
        (lambda: value_perfect_information(np.full((5, 2), np.nan)), "finite"),
        (lambda: value_partial_information(BENEFIT, X[:-1]), "lengths must agree"),
        (lambda: value_partial_information(BENEFIT[:50], X[:50]), "at least 64"),
        (lambda: value_sample_information(BENEFIT, X, -1.0), "errors must be >= 0"),
        (lambda: value_sample_information(BENEFIT, X, 1.0, 0), "readings >= 1"),
    ],
)
def test_unfit_input_is_refused(call: Any, text: str) -> None:
    """Shapes and errors without meaning are named."""
    with pytest.raises(OutOfRangeError, match=text):
        call()


def test_an_input_named_twice_is_worth_what_it_is_worth_once() -> None:
    """Columns that repeat one another add nothing and break nothing."""
    x = np.random.default_rng(4).standard_normal(1024)
    other = np.random.default_rng(5).standard_normal(1024)
    benefit = np.column_stack([x + other, np.zeros(1024)])
    once = value_partial_information(benefit, np.column_stack([x, other])).value
    twice = value_partial_information(benefit, np.column_stack([x, other, x])).value
    assert twice == pytest.approx(once, rel=0.02)
    assert once == pytest.approx(np.sqrt(2.0) / np.sqrt(2.0 * np.pi), rel=0.05)
