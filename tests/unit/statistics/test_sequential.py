"""Wald's test: risks and numbers by simulation."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cakewright.errors import OutOfRangeError
from cakewright.statistics.sequential import sequential_test


@pytest.mark.parametrize(("mean", "second"), [(100.0, False), (110.0, True)])
def test_risks_and_numbers_hold_in_simulation(mean: float, second: bool) -> None:
    """Wrong verdicts stay under their risk; the number is the expected one and a little more."""
    test = sequential_test(60.0, 100.0, 110.0, 0.05, 0.20)
    generator = np.random.default_rng(5)
    total = np.cumsum(generator.normal(mean, 60.0, (1000, 1500)), axis=1)
    drift = total - test.slope * np.arange(1, 1501)
    over, under = drift > test.upper, drift < -test.lower
    first = np.argmax(over | under, axis=1)
    wrong = np.take_along_axis(under if second else over, first[:, None], axis=1)
    assert wrong.mean() <= (0.20 if second else 0.05)
    expected, numbers = (test.expected_second if second else test.expected_first), first + 1
    assert expected < np.mean(numbers) < 1.2 * expected


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: sequential_test(0.0, 1, 2), "deviation must be > 0"),
        (lambda: sequential_test(1.0, 2, 1), "the higher one"),
        (lambda: sequential_test(1.0, 1, 2, 0.6), "between 0 and 0.5"),
    ],
)
def test_impossible_tests_are_refused(call: Any, text: str) -> None:
    """Equal hypotheses, risks above one half and gaps are named."""
    with pytest.raises(OutOfRangeError, match=text):
        call()
