"""Wald's test: risks and numbers by simulation."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.statistics.sequential import Verdict, sequential_test, sequential_verdicts


@pytest.mark.parametrize(("mean", "right"), [(100.0, Verdict.FIRST), (110.0, Verdict.SECOND)])
def test_risks_and_numbers_hold_in_simulation(mean: float, right: Verdict) -> None:
    """Wrong verdicts stay under their risk; the number is the expected one and a little more."""
    test = sequential_test(60.0, 100.0, 110.0, 0.05, 0.20)
    generator = np.random.default_rng(5)
    numbers, wrong = [], 0
    for _ in range(1000):
        verdicts = sequential_verdicts(test, generator.normal(mean, 60.0, 1500))
        numbers.append(verdicts.index(verdicts[-1]) + 1)
        wrong += verdicts[-1] is not right
    assert wrong / 1000 <= (0.05 if right is Verdict.FIRST else 0.20)
    expected = test.expected_first if right is Verdict.FIRST else test.expected_second
    assert expected < np.mean(numbers) < 1.2 * expected


def test_verdict_stands_once_reached() -> None:
    """Later samples do not change a verdict."""
    test = sequential_test(1.0, 0.0, 2.0)
    got = sequential_verdicts(test, np.array([0.9, -1.0, -1.0, 50.0]))
    assert got == [Verdict.OPEN, Verdict.FIRST, Verdict.FIRST, Verdict.FIRST]


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: sequential_test(0.0, 1, 2), "deviation must be > 0"),
        (lambda: sequential_test(1.0, 2, 1), "the higher one"),
        (lambda: sequential_test(1.0, 1, 2, 0.6), "between 0 and 0.5"),
        (lambda: sequential_verdicts(sequential_test(1, 0, 1), np.array([np.nan])), "finite"),
    ],
)
def test_impossible_tests_are_refused(call: Any, text: str) -> None:
    """Equal hypotheses, risks above one half and gaps are named."""
    with pytest.raises(OutOfRangeError, match=text):
        call()
